"""Brings the catalogues up to date with the texts of the code. Run it as `python manual/catalogues.py`.

A language that has none yet gets one. New texts are added without a translation (they are shown in English until they
have one), texts that are gone are taken out. The files are sorted by text and have no places of the code in them, so
that two changes seldom meet on a line.
"""

from __future__ import annotations

import contextlib
import io
import sys
from functools import cache
from pathlib import Path
from typing import get_args

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from hatch_build import CATALOGUES, compile_catalogues
from reelcare.core import people, units
from reelcare.core.checks import sheet
from reelcare.core.drawing.signs import STATES
from reelcare.core.entries import KINDS
from reelcare.core.evidence import signals
from reelcare.core.hydraulics import lane
from reelcare.core.parts import PARTS
from reelcare.core.state import counters, standing
from reelcare.languages import LANGUAGES

ROOT = Path(__file__).resolve().parent.parent
KEYWORDS = {"_": None, "mark": None, "plural": (1, 2)}
HEADER = """\
# Texts of Reelcare in another language: the English ones are the keys.
# `python manual/catalogues.py` brings this file up to date with the code; an empty msgstr is shown in English."""
UNREAD = {"fr"}
"""Languages whose texts nobody who grew up with them has read yet; the head of their catalogue says so."""


@cache
def texts_of_the_code() -> Catalog:
    """Every text that the code shows to people, without translations."""
    found = Catalog()
    with contextlib.redirect_stderr(io.StringIO()):  # warnings of f-strings, also where one is no text but a value
        extracted = list(extract_from_dir(ROOT / "reelcare", keywords=KEYWORDS))
    for _place, _line, message, _comments, _context in extracted:
        if message and (isinstance(message, tuple) or message.strip()):
            found.add(message)
    for name in sorted(names_shown()):
        if name not in found:
            found.add(name)
    return found


def names_shown() -> set[str]:
    """Names of the code that are shown as words: kinds of entries, roles, standings, counters, quantities, parts."""
    words = (people.Role, standing.Word, units.Quantity, counters.CounterName, sheet.Owner, signals.Name, lane.Where)
    return {*KINDS, *PARTS, *STATES, *(name for one in words for name in get_args(one))}


def header(language: str) -> str:
    """The comment at the head of the catalogue of a language."""
    unread = "\n# No native speaker has read these texts yet: they need one." if language in UNREAD else ""
    return HEADER + unread


def renewed(path: Path, language: str) -> Catalog:
    """A catalogue with exactly the texts of the code, and those translations that it had of them, if it is there."""
    before = Catalog(locale=language)
    if path.is_file():
        with path.open("rb") as file:
            before = read_po(file, locale=language, abort_invalid=True)
    now = Catalog(locale=language, header_comment=header(language), fuzzy=False)
    now.mime_headers = [("Plural-Forms", before.plural_forms)]
    for message in texts_of_the_code():
        if message.id:
            had = before.get(message.id if isinstance(message.id, str) else message.id[0])
            translated = had.string if had is not None and had.pluralizable == message.pluralizable else ""
            now.add(message.id, translated, flags=() if had is None else had.flags & {"fuzzy"})
    return now


def write(path: Path, catalogue: Catalog) -> None:
    """Write a catalogue so that the same texts always give the same file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_po(file, catalogue, width=None, no_location=True, sort_output=True, omit_header=True)  # type: ignore[arg-type]
    body = path.read_text("utf-8")
    head = (
        f'{header(str(catalogue.locale))}\nmsgid ""\nmsgstr ""\n"Language: {catalogue.locale}\\n"\n'
        '"Content-Type: text/plain; charset=utf-8\\n"\n'
        f'"Plural-Forms: {catalogue.plural_forms}\\n"\n\n'
    )
    path.write_text(head + body, "utf-8")


def main() -> None:
    """Renew, write and compile all catalogues, and say how much of each is translated."""
    for language in sorted({*LANGUAGES} - {"en"}):
        path = ROOT / CATALOGUES.replace("*", language, 1).replace("*", "reelcare")
        catalogue = renewed(path, language)
        write(path, catalogue)
        done = sum(bool(one.id and one.string and all(one.string)) for one in catalogue)
        print(f"{path.relative_to(ROOT)}: {done} of {len(catalogue)} texts are translated")
    compile_catalogues(ROOT)


if __name__ == "__main__":
    main()

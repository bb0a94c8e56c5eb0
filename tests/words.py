"""Which words of a text shown in the pseudo language went through no catalogue, and which need none."""

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from reelcare.core.canonical_json import canonical
from reelcare.core.entries import to_body
from reelcare.core.spreadsheet.columns import MACHINES
from reelcare.core.units import UNITS
from reelcare.register.reading import states
from reelcare.register.reading.reader import Reader
from tests.pseudo import CLOSES, OPENS, outside

ROOT = Path(__file__).parents[1]
OF_A_CARD = re.compile("|".join(rf"\b{re.escape(key)}\b" for key in MACHINES if "." in key))
"""The keys of a card, which are the same in every language: `cart.mass`."""


def words(text: str) -> Iterator[str]:
    """The words of a text that are long enough to be told from units, and no part of a code such as a digest."""
    yield from re.findall(r"(?<![^\W_])[^\W\d_]{3,}(?![^\W_])", text)


@cache
def of_tables() -> frozenset[str]:
    """The words that sheets, plans and tables say, which carry their languages themselves, and units."""
    tables = [tomllib.loads(path.read_text("utf-8")) for path in (ROOT / "checklists").glob("*.toml")]
    return frozenset(word for table in tables for text in _texts(table) for word in words(text)) | {*UNITS, "kWh"}


def _texts(value: Any) -> Iterator[str]:
    """What a table says, without the names of its keys."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, (dict, list)):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _texts(one)


def of_the_register(register: Reader) -> Iterator[str]:
    """The words that somebody typed or that entries keep."""
    for machine in states.machines(register):
        for entry in register.of_machine(machine, None):
            yield from words(f"{entry.by} {canonical(to_body(entry.what))}")
    yield from words(" ".join(register.roles()))


ENDS = re.compile(f"{OPENS}(?:[^ {OPENS}{CLOSES}\n]| (?! ))*")
"""The beginning of a text whose bracket is closed in another line, or cut off: up to two blanks, where a cell ends."""
BEGINS = re.compile(f"(?:[^ {OPENS}{CLOSES}\n]| (?! ))*{CLOSES}")
"""The rest of a text whose bracket opens in the line before."""


def untranslated(shown: str, known: frozenset[str] | set[str]) -> list[str]:
    """The words outside the brackets that nothing explains.

    A cell that was cut ends in `…`: a word before it is the beginning of one. A text that is broken over two lines
    stands in two cells, with a bracket in each.
    """

    def begun(found: re.Match[str]) -> str:
        return " " if any(word.startswith(found[1]) for word in known) else found[0]

    left = BEGINS.sub(" ", ENDS.sub(" ", "\n".join(map(outside, shown.splitlines()))))
    left = re.sub(r"([^\W\d_]{3,})…", begun, OF_A_CARD.sub(" ", left))
    return sorted({word for word in words(left) if word not in known})


class _Page(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.inside: list[str] = []
        self.lines: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.inside and self.inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not {"style", "script"} & set(self.inside):
            self.lines.append(data)


def read_on(page: str) -> str:
    """What somebody reads on an HTML page, a line for each piece; neither its style nor its scripts."""
    return "\n".join(_Page(page).lines)

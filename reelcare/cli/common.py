"""What several commands share: opening the register, times, people, and printing."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, date, datetime, time, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from reelcare import files, languages
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn, fitted, in_lines, plain
from reelcare.cli.terminal import columns, is_utf8, shortened, width_of_tables
from reelcare.core import units
from reelcare.core.clean import clean, escaped
from reelcare.core.text import _, mark
from reelcare.core.typed_time import TimeError, check_year, read_time
from reelcare.core.wording import Title
from reelcare.installation import command

if TYPE_CHECKING:
    from reelcare.core.entries import Entry, Kind
    from reelcare.register.writing.writer import Writer


SYSTEMS = get_args(units.System)
"""The units that a person can choose from."""


def now() -> datetime:
    """The moment of the command: the one place where the command line asks the clock."""
    return datetime.now(UTC)


def where(asked: argparse.Namespace) -> Path | str:
    """The register: a file or a postgresql:// URL as asked, else from the environment; else a file in the user's
    data folder."""
    said = getattr(asked, "register", None)
    if said == "":
        raise Problem(_("--register: empty; give a file or a postgresql:// URL, or leave it out"))
    named = said or os.environ.get("REELCARE_REGISTER")
    if named and "://" in named and not named.startswith(files.SERVERS):
        raise Problem(_("{named}: give a file or a postgresql:// URL", named=clean(named)), 3)
    if named and named.startswith(files.SERVERS):
        return named
    return Path(named).expanduser() if named else files.data_folder() / "register.db"


def stop_without_folder(named: Path | str) -> None:
    """Raise Problem where a file is to be made in a folder that is not there; the program's own it makes itself."""
    folder = Path(named).expanduser().parent
    if "://" not in str(named) and folder != files.data_folder() and not folder.is_dir():
        raise Problem(
            _("{folder}: not a folder; name another", folder=folder)
            if folder.exists()
            else _("{folder}: no such folder; make it, or name another", folder=folder)
        )


def stop_without_register(named: Path | str) -> None:
    """Raise Problem where the file of a register that is to be there is not."""
    if isinstance(named, Path) and not named.exists():
        says = mark("{path}: no such register; name the right one with --register, or make one: {command}")
        raise Problem(_(says, path=named, command=f"{command()} begin"), 3)


def open_register(asked: argparse.Namespace, *, create: bool = True) -> Writer:
    """The register that was asked for; for a command that only reads, and with `--view`, one that refuses writes.

    Only a command that writes makes one that is not there, and only with `create`.
    """
    from reelcare.register.opening import open_writer

    named = where(asked)
    is_new = isinstance(named, Path) and not named.exists()
    looks, worked_out = asked.view or asked.only_reads, False
    if looks or not create:
        stop_without_register(named)
    elif is_new:
        stop_without_folder(named)
    told = mark("an older version kept the totals differently: worked out again")
    tell = tell_how_far(_(told if looks else mark("brought up to date: an older version kept the totals differently")))

    def progress(done: int, of: int) -> None:
        nonlocal worked_out
        worked_out = looks and of > 0
        tell(done, of)

    register = open_writer(named, create=create and not asked.only_reads, progress=progress, read_only=looks)
    register.ask_pin = ask_pin
    register.clock_is_right = getattr(asked, "clock_is_right", False)
    if is_new:
        # a name that is mistyped must not read as an empty yard
        say(_("{register}: a new register was made", register=named))
    if worked_out:
        say(_("an older version kept the totals differently: worked out for this time only; "
              "`reelcare rebuild` keeps them"))  # fmt: skip
    if register.warning:
        say(_("warning: {warning}", warning=register.warning))
    return register


def ask_pin(name: str) -> str:
    """A person's PIN: from the environment, else asked for where somebody can answer."""
    given = os.environ.get("REELCARE_PIN")
    if given is not None:
        return given
    if not sys.stdin.isatty():
        raise Problem(_("{name} signs with a PIN: put it in REELCARE_PIN, or run this in a terminal", name=name), 6)
    import getpass

    return getpass.getpass(_("PIN of {name}: ", name=clean(name)), stream=sys.stderr)


def moment_of(text: str, zone: tzinfo, *, ends: bool = False) -> datetime:
    """A time as typed: ISO 8601; without an offset in the register's zone; a day alone is its beginning (or end)."""
    try:
        try:
            day = date.fromisoformat(text.strip())
        except ValueError:
            return read_time(text, zone, _("2026-05-01T06:30 or 2026-05-01T06:30+02:00"))
        check_year(day, text)
    except TimeError as why:
        raise Problem(str(why)) from None
    return datetime.combine(day, time(23, 59, 59) if ends else time(), zone)


def day_said(option: str, text: str | None) -> date | None:
    """A day as an option says it; None where it is left out. Raises Problem."""
    try:
        return date.fromisoformat(text.strip()) if text is not None else None
    except ValueError:
        raise Problem(_("{option}: {text!r} is not a day such as 2026-05-31", option=option, text=text)) from None


def happened(asked: argparse.Namespace, register: Writer, at: datetime) -> datetime:
    """When it happened: `--at`, else now. An empty one is refused: a script has left its variable empty."""
    return at if asked.at is None else moment_of(asked.at, register.zone)


def refuse_wrong_times(asked: argparse.Namespace) -> None:
    """Raise Problem for an `--at` that nobody can read, and for an `--as-of` where something is written: it would be of
    now. An `--at` by which nothing will be dated is told."""
    if hasattr(asked, "by") and asked.at is not None:
        moment_of(asked.at, UTC)
        if not asked.dated:
            say(_("--at changes nothing here: runs have their own time, and all else is written as of now"))
    if not asked.only_reads and getattr(asked, "as_of", None) is not None:
        raise Problem(_("--as-of: for reading only; when you write, --at says when it happened"))


def add(asked: argparse.Namespace, register: Writer, what: Kind, machine: str | None = None) -> Entry:
    """Write what a command says of a machine (None: of all), by who says so, as of when it happened."""
    at = now()
    return register.add(what, machine=machine, by=by(asked), now=at, happened=happened(asked, register, at))


def as_of(asked: argparse.Namespace, register: Writer, at: datetime) -> tuple[datetime, bool]:
    """The moment asked about, and whether it was named."""
    if getattr(asked, "as_of", None) is None:
        return at, False
    return moment_of(asked.as_of, register.zone, ends=True), True


def by(asked: argparse.Namespace) -> str:
    """Who says so."""
    name = os.environ.get("REELCARE_BY", "") if asked.by is None else asked.by
    if not name:
        raise Problem(_("say who: --by NAME"), 2)
    return clean(name)


def can_ask() -> bool:
    """Whether somebody is there to answer: a question goes to standard error, so that output can go to a file."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask(question: str) -> str:
    """What is typed at a question."""
    sys.stderr.write(question)
    sys.stderr.flush()
    return sys.stdin.readline().strip()


def print_json(value: Any) -> None:
    """Data for other programs: what steers a terminal or hides stands as its number, and so does every character that
    the output cannot carry."""
    print(escaped(json.dumps(value, ensure_ascii=not is_utf8(), indent=2)))


def print_table(heads: Sequence[str | TextColumn], lines: Iterable[Sequence[str]], *, empty: str = "") -> None:
    """Data for people: a table fitted to the terminal, or whole in a pipe; where it is `empty`, what to do next.

    A head that is a text stands for a column that is never left out. Heads are marked texts, and translated here.
    """
    columns = [one._replace(head=_(one.head)) if isinstance(one, TextColumn) else TextColumn(_(one)) for one in heads]
    rows = [[_writable_cell(text) for text in line] for line in lines]
    width = width_of_tables()
    # one text, written at once: a call for each of ten thousand lines takes longer than the lines do
    sys.stdout.write(plain(columns, rows) if width is None else fitted(columns, rows, width))
    if empty and not rows:
        sys.stdout.flush()
        say(empty)


def print_text(text: str, *, gap: bool = False) -> None:
    """A line of data for people, broken between words where it is longer than the terminal is wide; with a `gap`, an
    empty one before it."""
    if gap:
        print()
    print(broken(text))


def broken(text: str) -> str:
    """A line as it is printed: whole where a file or another program reads, else in lines as wide as the terminal."""
    indent = " " * (len(text) - len(text.lstrip(" ")))
    shown, width = indent + _writable(clean(text)), width_of_tables()
    return shown if width is None else "\n".join(in_lines(shown, width))


def _writable_cell(text: str) -> str:
    return Title(_writable(text), _writable(text.short)) if isinstance(text, Title) else _writable(text)


def _writable(text: str) -> str:
    """The text as standard output will write it: a character that a locale has not becomes its number, and is wider."""
    if text.isascii() or is_utf8():
        return text
    return clean(text).encode(sys.stdout.encoding, "backslashreplace").decode(sys.stdout.encoding)


def say_not_read(path: str, headings: Sequence[str]) -> None:
    """Tell which columns of a spreadsheet were not read."""
    if headings:
        told = ", ".join(headings)
        say(_("{path}: columns that were not read: {headings}; --as says what they are", path=path, headings=told))


def say_brought(told: str, skipped: int) -> None:
    """Tell what was brought in, and how much was here already."""
    say(_("{told}, {skipped} were here already", told=told, skipped=skipped))


def say(text: str) -> None:
    """A word to the person, on standard error; it steers no terminal, whatever a file is called."""
    shown = shortened(clean(text))
    print("\n".join(in_lines(shown, columns())) if sys.stderr.isatty() else shown, file=sys.stderr)


def answer(asked: argparse.Namespace, data: Any, *words: str) -> int:
    """Tell what a command did: the data of it, where JSON is asked for, else these lines. Returns its exit code."""
    if asked.json:
        print_json(data)
    else:
        for line in words:
            say(line)
    return 0


def tell_how_far(what: str) -> Callable[[int, int], None]:
    """Says on a terminal how far long work is; nothing is said of work that is done at once, or where nobody looks."""

    def told(done: int, of: int) -> None:
        if sys.stderr.isatty():
            how_far = f": {done * 100 // max(of, 1)} %"
            # a line that is longer than the terminal could not be written over
            line = what[: max(columns() - 1 - len(how_far), 0)] + how_far
            print(f"\r{line}", end="\n" if done >= of else "", file=sys.stderr, flush=True)

    return told


def system(asked: argparse.Namespace) -> Any:
    """The units to show: those that the person has chosen, and metric ones in texts of JSON."""
    chosen = chosen_system(asked)
    return "metric" if getattr(asked, "json", False) else chosen


def chosen_system(asked: argparse.Namespace) -> Any:
    """The units that the person has chosen: as asked, else from the environment, else metric ones."""
    named = getattr(asked, "units", None) or os.environ.get("REELCARE_UNITS") or "metric"
    if named not in SYSTEMS:
        known = ", ".join(SYSTEMS)
        raise Problem(_("REELCARE_UNITS: {named}: no such units; choose from {known}", named=clean(named), known=known))
    return named


def language(asked: argparse.Namespace) -> str:
    """The language of texts, sheets and plans: as asked, else from the environment, else English; that of JSON, too."""
    if getattr(asked, "json", False):
        return "en"
    return languages.wished(getattr(asked, "language", None) or "")

"""Which commands there are and what they take: one table for the parser, the README and the tests."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Callable, Sequence
from typing import Any, NoReturn

from reelcare import __version__


class Problem(Exception):
    """Something that the person has to put right: one line, and the exit code."""

    def __init__(self, says: str, exit_code: int = 2) -> None:
        super().__init__(says)
        self.exit_code = exit_code


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are one line, and whose help is as wide as the terminal."""

    def __init__(self, **how: Any) -> None:
        super().__init__(**how, formatter_class=_formatter)

    def error(self, message: str) -> NoReturn:
        raise Problem(f"{message}; `{self.prog} --help` says how")


def _formatter(prog: str) -> argparse.HelpFormatter:
    """What writes help; it is told the width, since it is made for every option and would load much to find it."""
    return argparse.HelpFormatter(prog, width=_columns() - 2)


def _columns() -> int:
    """The columns of the terminal: as the variable COLUMNS says, else as the terminal does, else 80."""
    with contextlib.suppress(ValueError):
        said = int(os.environ.get("COLUMNS", ""))
        if said > 0:
            return said
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or 80  # type: ignore[union-attr]  # None is caught
    except (AttributeError, ValueError, OSError):
        return 80


Run = Callable[[argparse.Namespace], int | None]


def _later(module: str, name: str) -> Run:
    """The function that does a command, imported when it is run."""

    def run(asked: argparse.Namespace) -> int | None:
        from importlib import import_module

        done: int | None = getattr(import_module(f"reelcare.cli.{module}"), name)(asked)
        return done

    return run


def build_parser(words: Sequence[str] | None = None) -> argparse.ArgumentParser:
    """The whole command line; for words that name a command, only that command and its neighbours."""
    parser = _Parser(
        prog="reelcare",
        description="Checks, settings and upkeep of hose-reel irrigating machines. Without a command, opens the app.",
        epilog="The machine's own manual, local codes and licensed practice come first.",
    )
    parser.add_argument("--version", action="version", version=f"reelcare {__version__}")
    _common(parser, top=True)
    parser.set_defaults(run=_later("open_app", "open_app"))
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=_Parser)
    named = command_of(words) if words is not None else ""
    for names, add in _GROUPS:
        if named in names or not any(named in others for others, _ in _GROUPS):
            add(commands)
    return parser


def command_of(words: Sequence[str]) -> str:
    """The first word that is neither an option nor an option's value.

    >>> command_of(["--units", "us", "due", "--overdue"]), command_of(["--help"])
    ('due', '')
    """
    takes_a_value = ("--register", "--units", "--language", "--machine")
    for place, word in enumerate(words):
        if not word.startswith("-") and (place == 0 or words[place - 1] not in takes_a_value):
            return word
    return ""


def _common(parser: argparse.ArgumentParser, *, top: bool = False) -> None:
    parser.add_argument(
        "--register", metavar="WHERE", default=None if top else argparse.SUPPRESS,
        help="the register: a file, or postgresql://USER@HOST/DATABASE (or the variable REELCARE_REGISTER)",
    )  # fmt: skip
    if top:
        parser.add_argument("--units", choices=("metric", "us"), default=None, help="units shown")
        parser.add_argument("--language", choices=("en", "es"), default=None, help="language of sheets and plans")
        parser.add_argument("--machine", metavar="TAG", dest="open_on", default="", help="open the app on a machine")
        parser.add_argument("--view", action="store_true", help="to look only: nothing is written")
        parser.add_argument("--slow", action="store_true", help="for thin lines: few colours, page by page")
        parser.add_argument("--ascii", action="store_true", help="for terminals that have nothing but ASCII")


def _command(
    commands: Any, name: str, says: str, run: Run, *, json: bool = False, past: bool = False, by: bool = False
) -> _Parser:
    parser: _Parser = commands.add_parser(name, help=says, description=says)
    _common(parser)
    if json:
        parser.add_argument("--json", action="store_true", help="print the data as JSON")
    if past:
        parser.add_argument("--as-of", metavar="TIME", help="the register as it stood then")
    if by:
        parser.add_argument("--by", metavar="NAME", help="who says so (an enrolled person)")
        parser.add_argument("--at", metavar="TIME", help="when it happened; now if absent")
    parser.set_defaults(run=run)
    return parser


def _word(text: str) -> str:
    """A word that something is looked for by: as it was meant, whatever the locale, and composed as what is kept."""
    from reelcare.core.clean import clean

    return clean(text)


def _people_and_machines(commands: Any) -> None:
    people = _command(
        commands, "people", "list people, or enrol one", _later("people", "people"), json=True, past=True, by=True
    )
    people.add_argument(
        "words", nargs="*", metavar="[add NAME | pin NAME | unlock NAME]",
        help="enrol somebody, give them a PIN, let them try again; without, the list",
    )  # fmt: skip
    people.add_argument("--role", choices=("operator", "mechanic", "supervisor"))
    machine = _command(
        commands, "machine", "show cards, add a machine, or revise its card", _later("machines", "machine"),
        json=True, past=True, by=True,
    )  # fmt: skip
    machine.add_argument(
        "words",
        nargs="*",
        metavar="[TAG | add CARD.toml | revise TAG CARD.toml]",
        help="what to show or write",
    )
    plan = _command(
        commands, "plan", "show the service plan, or put one in force", _later("machines", "plan"), json=True,
        past=True, by=True,
    )  # fmt: skip
    plan.add_argument("tag", nargs="?", metavar="TAG", help="for one machine; without, for all")
    plan.add_argument("--use", metavar="PLAN.toml", help="put this plan in force")


def _reading(commands: Any) -> None:
    yard = _command(
        commands, "yard", "every machine, its standing and why", _later("show", "yard"), json=True, past=True
    )
    yard.add_argument("--exit-code", action="store_true", help="end with 1 where a machine is held")
    due = _command(commands, "due", "what is due, worst first", _later("overdue", "due"), json=True, past=True)
    due.add_argument("--machine", metavar="TAG", help="of one machine")
    due.add_argument("--place", metavar="PLACE", type=_word, help="of the machines at one place")
    due.add_argument("--part", metavar="PART", type=_word, help="of one part")
    due.add_argument("--overdue", action="store_true", help="only what is past its grace")
    due.add_argument(
        "--within", metavar="DAYS", type=_days, help="only what is due, or likely to be within so many days"
    )
    due.add_argument("--most", metavar="N", type=_most, default=None, help="only the N that are furthest")
    due.add_argument("--exit-code", action="store_true", help="end with 1 where anything listed is due or overdue")
    workload = _command(
        commands,
        "workload",
        "what falls due in the coming weeks, by week, place and machine",
        _later("workload", "workload"),
        json=True,
        past=True,
    )
    workload.add_argument("--weeks", metavar="N", type=_weeks, default=6, help="how many weeks; 6 if not said")
    workload.add_argument("--place", metavar="PLACE", type=_word, help="of the machines at one place")
    signals = _command(
        commands, "signals", "what the run log tells: speed, pressures, flow", _later("evidence", "signals"), json=True,
        past=True,
    )  # fmt: skip
    signals.add_argument(
        "tag", nargs="?", default="", metavar="TAG", help="of one machine; without, what drifts anywhere"
    )
    signals.add_argument(
        "--run-length", type=_run_length, default=400.0, metavar="RUNS",
        help="one false alarm for each machine and signal in so many runs; 400 if not said",
    )  # fmt: skip
    failures = _command(
        commands, "failures", "what the faults tell of a part", _later("evidence", "failures"), json=True, past=True
    )
    failures.add_argument(
        "part", nargs="?", default="", metavar="PART", type=_word, help="one part; without, all that failed"
    )
    failures.add_argument(
        "--planned", type=_cost, default=1.0, metavar="COST", help="cost of a planned renewal; 1 if not said"
    )
    failures.add_argument(
        "--unplanned", type=_cost, default=5.0, metavar="COST", help="cost of an unplanned one; 5 if not said"
    )
    failures.add_argument("--by-counter", choices=("hours", "metres"), default="hours", help="what ages the part")
    marks = _command(
        commands,
        "marks",
        "how checks were answered, beside what is usual",
        _later("marks", "marks"),
        json=True,
        past=True,
    )
    marks.add_argument("--weeks", metavar="N", type=_weeks, default=13, help="how many weeks back; 13 if not said")
    corrections = _command(
        commands, "corrections", "what was taken back, by whom and how late", _later("corrections", "corrections"),
        json=True, past=True,
    )  # fmt: skip
    corrections.add_argument(
        "--weeks", metavar="N", type=_weeks, default=13, help="how many weeks back; 13 if not said"
    )
    book = _command(
        commands,
        "book",
        "everything that happened to a machine, newest first",
        _later("show", "book"),
        json=True,
        past=True,
    )
    book.add_argument("tag", metavar="TAG")
    book.add_argument(
        "--kind",
        action="append",
        default=[],
        metavar="KIND",
        help="only entries of this kind (repeat for more)",
    )
    book.add_argument("--most", type=_most, default=-1, metavar="N", help="at most so many lines")


def _set_up(commands: Any) -> None:
    from reelcare.core.machine.fields import FIELDS

    parser = _command(
        commands, "set-up", "the settings sheet of one set", _later("set_up", "set_up"), json=True, past=True, by=True
    )
    parser.add_argument("tag", metavar="TAG")
    for one in FIELDS:
        parser.add_argument(
            f"--{one.key.replace('_', '-')}", metavar="TIME" if one.quantity is None else one.quantity.upper(),
            help=f"{one.label}, as in {one.example}".replace("%", "%%"), required=one.key in ("spacing", "out"),
        )  # fmt: skip
    parser.add_argument(
        "--curve", action="append", default=[], metavar="BEGINS,LENGTH,DEGREES",
        help="a curve of the path, from the machine, as in `60 m, 100 m, 45` (repeat for more)",
    )  # fmt: skip
    parser.add_argument("--timing-check", action="store_true", help="the only full pull-out: no coils need stay")
    parser.add_argument("--keep", action="store_true", help="walk-rounds are held to it")
    parser.add_argument("--exit-code", action="store_true", help="end with 1 where anything is warned of")


def _measure(commands: Any) -> None:
    parser: _Parser = commands.add_parser(
        "measure", help="figures of a machine's own", description="Figures of a machine's own, from readings on it."
    )
    kinds = parser.add_subparsers(metavar="WHAT", parser_class=_Parser, required=True)
    one = _command(kinds, "figures", "what was measured so far", _later("measure", "figures"), json=True, past=True)
    one.add_argument("tag", metavar="TAG")
    drum = _command(kinds, "drum", "core and packing of the drum", _later("measure", "drum"), json=True, by=True)
    drum.add_argument("tag", metavar="TAG")
    drum.add_argument(
        "turns", nargs="+", metavar="TURNS=LEN", help="turns on the drum and the hose in them, as in `24=118.9 m`"
    )
    gun = _command(kinds, "gun", "discharge coefficient of the gun", _later("measure", "gun"), json=True, by=True)
    gun.add_argument("tag", metavar="TAG")
    gun.add_argument("reading", nargs="+", metavar="FLOW@PRESSURE", help="as in `43 m3/h @ 4.5 bar`")
    gun.add_argument("--nozzle", metavar="LEN", help="the bore; the card's if not said")
    cans = _command(kinds, "cans", "how even the water falls", _later("measure", "cans"), json=True, by=True)
    cans.add_argument("tag", metavar="TAG")
    cans.add_argument("--spacing", required=True, metavar="LEN", help="lane spacing")
    cans.add_argument("--step", required=True, metavar="LEN", help="from can to can")
    cans.add_argument("--first", metavar="LEN", help="from the hose to the first can; half a step if not said")
    cans.add_argument("--left", required=True, metavar="CATCHES", help="nearest first, in any one unit: `9.4 8 5.9`")
    cans.add_argument("--right", required=True, metavar="CATCHES")
    for kept in (drum, gun, cans):
        kept.add_argument("--keep", action="store_true", help="keep it on the machine; sets are worked out from it")
        kept.add_argument("--note", default="", metavar="TEXT", help="wind, weather, who held the tape")


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 5 and int(text) <= 65535):
        raise argparse.ArgumentTypeError(f"{text!r}; a number from 1 to 65535 is right, or 0 for any that is free")
    return int(text)


def _days(text: str) -> int:
    try:
        days = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of days") from None
    if not 0 <= days <= 3660:
        raise argparse.ArgumentTypeError(f"{days} days; 0 to 3660 is right")
    return days


def _run_length(text: str) -> float:
    if not (text.isascii() and text.isdigit()) or not 20 <= int(text) <= 100_000:
        raise argparse.ArgumentTypeError(f"{text!r}; a number of runs from 20 to 100000 is right")
    return float(text)


def _cost(text: str) -> float:
    try:
        cost = float(text)
    except ValueError:
        cost = -1.0
    if not 0 < cost < 1e12:
        raise argparse.ArgumentTypeError(f"{text!r}; a cost above nothing is right")
    return cost


def _most(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{text!r}; a number from 1 on is right")
    return int(text)


def _weeks(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 60:
        raise argparse.ArgumentTypeError(f"{text!r}; a number of weeks from 1 to 60 is right")
    return int(text)


def _log(commands: Any) -> None:
    log: _Parser = commands.add_parser("log", help="write down what happened", description="Write down what happened.")
    kinds = log.add_subparsers(metavar="WHAT", parser_class=_Parser, required=True)

    run = _command(kinds, "run", "one run", _later("log", "run"), json=True, by=True)
    run.add_argument("tag", metavar="TAG")
    run.add_argument("--started", required=True, metavar="TIME")
    run.add_argument("--ended", required=True, metavar="TIME")
    run.add_argument("--metres", required=True, metavar="LEN", help="hose reeled in, with its unit")
    run.add_argument("--planned-speed", metavar="SPEED")
    run.add_argument("--inlet", metavar="PRESSURE")
    run.add_argument("--gun", metavar="PRESSURE")
    run.add_argument("--drive-loss", metavar="PRESSURE")
    run.add_argument("--operator", metavar="NAME", default="")
    run.add_argument("--place", metavar="TEXT", default="")
    run.add_argument("--stopped-by", metavar="WHAT", default="", help="end stop, operator or fault")
    run.add_argument("--notes", metavar="TEXT", default="")

    reading = _command(kinds, "reading", "a counter's reading", _later("log", "reading"), json=True, by=True)
    reading.add_argument("tag", metavar="TAG")
    reading.add_argument("counter", choices=("hours", "metres"))
    reading.add_argument("value", metavar="VALUE", help="what it shows, with or without its unit (h, m)")
    reading.add_argument(
        "--new-counter", action="store_true", help="the old counter was replaced; this is the new one's"
    )
    reading.add_argument(
        "--rolls-at", metavar="VALUE", help="the counter passed its last digit; it rolls over at this value"
    )

    service = _command(kinds, "service", "a service done", _later("log", "service"), json=True, by=True)
    service.add_argument("tag", metavar="TAG")
    service.add_argument("item", metavar="ITEM", help="the plan's item")
    service.add_argument("--hours", metavar="H", help="what the hour counter shows")
    service.add_argument("--metres", metavar="M", help="what the metre counter shows")
    service.add_argument("--note", default="", metavar="TEXT")

    fault = _command(kinds, "fault", "a fault", _later("log", "fault"), json=True, by=True)
    fault.add_argument("tag", metavar="TAG")
    fault.add_argument("part", metavar="PART")
    fault.add_argument("--says", required=True, metavar="TEXT", help="what is wrong")
    which = fault.add_mutually_exclusive_group()
    which.add_argument(
        "--hold",
        nargs="?",
        const="both",
        choices=("both", "run", "road"),
        help="it holds the machine (both, if not said for which)",
    )
    which.add_argument(
        "--fix-by",
        metavar="WHEN",
        help="a day (2026-05-31), or so much more (`20 h`, `5000 m`, `3 runs`, `14 days`)",
    )
    fault.add_argument("--retest", default="", metavar="TEXT", help="what must be tried again before the release")

    for name, says in (
        ("repair", "work done on a fault"),
        ("retest", "a repaired fault tried again"),
        ("release", "the end of a fault"),
    ):
        one = _command(kinds, name, says, _later("log", name), json=True, by=True)
        one.add_argument("fault", metavar="FAULT", help="the fault's id (or its end), or the machine's tag")
        one.add_argument(
            "part", nargs="?", metavar="PART", help="with a tag: the part, where more than one fault is open"
        )
        one.add_argument("--says", "--seen", default="", metavar="TEXT", help="what was done or seen")
        if name == "retest":
            one.add_argument("--failed", action="store_true", help="it did not pass")

    correct = _command(
        kinds, "correct", "take an entry back; it stays visible", _later("log", "correct"), json=True, by=True
    )
    correct.add_argument("entry", metavar="ENTRY")
    correct.add_argument("--why", required=True, metavar="TEXT")


def _care(commands: Any) -> None:
    check = _command(commands, "check", "a walk-round, line by line", _later("check", "check"), by=True)
    check.add_argument("tag", metavar="TAG")
    check.add_argument("sheet", nargs="?", default="pre-start", metavar="SHEET")
    check.add_argument(
        "--again", action="store_true", help="a second run on the same hydrant: only what can have changed"
    )
    may = _command(
        commands, "may", "what may be done, and what stands in the way", _later("may", "may"), json=True, past=True
    )
    may.add_argument("tag", metavar="TAG")
    may.add_argument("doing", nargs="?", default="", metavar="STEP", help="as in `pull out`, `put the drive in`, `tow`")
    may.add_argument(
        "--to", default="", metavar="GOAL", help="the safe way to irrigating, road, opposite or working on it"
    )
    may.add_argument("--all", action="store_true", help="also what may not be done now, each with what is in the way")
    may.add_argument(
        "--seen", action="append", default=[], metavar="PART=POSITION", help="what is seen, as in pawl=down (repeat)"
    )
    bring = _command(
        commands, "bring", "read run logs in from a CSV file", _later("bring", "bring"), json=True, by=True
    )
    bring.add_argument("file", metavar="RUNS.csv")
    bring.add_argument(
        "--keep-good", action="store_true", help="take the good lines and write the others beside the file"
    )
    carry: _Parser = commands.add_parser(
        "carry", help="a file between terminals that are apart", description="A file between terminals that are apart."
    )
    ways = carry.add_subparsers(metavar="WAY", parser_class=_Parser, required=True)
    out = _command(ways, "out", "write everything into a carry file", _later("carry", "out"), json=True)
    out.add_argument("file", metavar="FILE")
    in_ = _command(ways, "in", "bring a carry file in, all or nothing", _later("carry", "in_"), json=True)
    in_.add_argument("file", metavar="FILE")
    in_.add_argument("--look", action="store_true", help="only say what it would bring")
    copy = _command(commands, "copy", "a verified copy while it is in use", _later("carry", "copy"), json=True)
    copy.add_argument("path", metavar="PATH")
    _report(commands)
    demo = _command(commands, "demo", "open the app on a fresh demo register", _later("open_app", "demo"))
    demo.add_argument("--at", metavar="PATH", help="keep the demo register here (refuses an existing file)")
    demo.add_argument("--no-app", action="store_true", help="only make it")
    _command(
        commands,
        "rebuild",
        "work the totals out anew and say what changed",
        _later("care", "rebuild"),
        json=True,
    )
    serve = _command(commands, "serve", "the app in a browser, for a tablet in the yard", _later("serve", "serve"))
    serve.add_argument("--port", type=_port, default=8765, metavar="N", help="8765 if not said; 0 for any that is free")
    serve.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help="this computer alone, if not said")
    serve.add_argument("--write", action="store_true", help="allow writing; without, it is to look only")
    doctor = "what could be wrong with this computer, terminal and register, and what to do"
    _command(commands, "doctor", doctor, _later("doctor", "doctor"), json=True)
    completion = _command(commands, "completion", "a script by which a shell completes", _later("shell", "completion"))
    completion.add_argument("what", choices=("bash", "zsh", "fish", "tcsh", "powershell", "tags", "people", "sheets"))
    _command(commands, "prove", "prove the register whole; changes nothing", _later("care", "prove"), json=True)
    _command(
        commands,
        "sheets",
        "the sheets, and what is wrong with any of them",
        _later("care", "sheets"),
        json=True,
    )
    _command(commands, "paths", "where things are kept", _later("care", "paths"), json=True)


def _report(commands: Any) -> None:
    report: _Parser = commands.add_parser(
        "report", help="records, lists and calendars as files", description="Records, lists and calendars as files."
    )
    kinds = report.add_subparsers(metavar="WHAT", parser_class=_Parser, required=True)
    machine = _command(kinds, "machine", "everything on one machine", _later("report", "machine"), past=True)
    machine.add_argument("tag", metavar="TAG")
    check = _command(kinds, "check", "one check as it was answered", _later("report", "check"))
    check.add_argument("check", metavar="CHECK", help="its entry, or a machine's tag for the last one")
    due = _command(kinds, "due", "what is due: .html, .pdf, .csv or .ics", _later("report", "due"), past=True)
    workload = _command(
        kinds, "workload", "the coming weeks: .html, .pdf or .csv", _later("report", "workload"), past=True
    )
    workload.add_argument("--weeks", metavar="N", type=_weeks, default=6, help="how many weeks; 6 if not said")
    season = _command(kinds, "season", "a season in review", _later("report", "season_"))
    season.add_argument("--from", dest="since", default="", metavar="DAY", help="a year back, if not said")
    season.add_argument("--to", default="", metavar="DAY", help="today, if not said")
    label = _command(kinds, "tag", "a label with a code that names the machine", _later("report", "tag"))
    label.add_argument("tag", metavar="TAG")
    for one in (machine, check, due, workload, season, label):
        one.add_argument("file", metavar="FILE")
        one.add_argument("--replace", action="store_true", help="write over a file that exists")
    due.add_argument("--watch", action="store_true", help="FILE is a folder; its lists are renewed as things change")
    due.add_argument("--once", action="store_true", help="with --watch: renew them once")


def stop_if_not_a_terminal() -> None:
    """Refuse to draw where nothing can be drawn."""
    import os

    if os.environ.get("TEXTUAL_DRIVER"):
        return  # drawn somewhere else, as in a browser
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("TERM") == "dumb":
        raise Problem("the app needs a terminal; every task has a command too: `reelcare --help`")


_GROUPS: tuple[tuple[frozenset[str], Callable[[Any], None]], ...] = (
    (frozenset({"people", "machine", "plan"}), _people_and_machines),
    (frozenset({"yard", "due", "workload", "signals", "failures", "marks", "corrections", "book"}), _reading),
    (frozenset({"set-up"}), _set_up),
    (frozenset({"measure"}), _measure),
    (frozenset({"log"}), _log),
    (
        frozenset({
            "check", "may", "bring", "carry", "copy", "report", "demo", "rebuild", "prove", "sheets", "paths",
            "doctor", "completion", "serve",
        }),
        _care,
    ),
)  # fmt: skip
"""The commands, in the order of the help: a command line is made up of the group that its command stands in."""

"""Commands that look: what stands how, what is due, what happened, what the records show."""

from __future__ import annotations

from collections.abc import Callable

from reelcare.cli import values
from reelcare.cli.command import Command, Parser
from reelcare.cli.filters import add_filters
from reelcare.core.text import _, mark


def _yard(parser: Parser) -> None:
    parser.add_argument("--place", metavar="PLACE", type=values.word, help=_("of the machines at one place"))
    parser.add_argument("--exit-code", action="store_true", help=_("end with 1 where a machine is held"))


def _due(parser: Parser) -> None:
    add_filters(parser)
    parser.add_argument("--all", action="store_true", help=_("also what is ok, line by line"))
    parser.add_argument(
        "--most", metavar="N", type=values.most, help=_("at most this many lines, the most overdue first")
    )
    parser.add_argument(
        "--exit-code", action="store_true", help=_("end with 1 where anything listed is due or overdue")
    )


def _may(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("doing", nargs="?", default="", metavar="STEP", help=_("as in `pull out`, `put the drive in`"))
    parser.add_argument(
        "--to", metavar="GOAL", type=values.given, help=_("the safe way to irrigating, road, opposite or working on it")
    )
    parser.add_argument(
        "--all", action="store_true", help=_("also what may not be done now, each with what is in the way")
    )
    parser.add_argument(
        "--seen", action="append", default=[], metavar="PART=POSITION", help=_("what is seen, as in pawl=down (repeat)")
    )


def _book(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument(
        "--kind", action="append", default=[], metavar="KIND", help=_("only entries of this kind (repeat for more)")
    )
    parser.add_argument("--most", metavar="N", type=values.most, help=_("at most this many lines (default 50)"))
    parser.add_argument("--all", action="store_true", help=_("every line, from the first day on"))


def _signals(parser: Parser) -> None:
    parser.add_argument(
        "tag", nargs="?", default="", metavar="TAG", help=_("of one machine; else what drifts anywhere")
    )
    parser.add_argument(
        "--run-length", type=values.runs_between_alarms, default=400.0, metavar="RUNS",
        help=_("one false alarm for each machine and signal in this many runs (default 400)"),
    )  # fmt: skip


def _failures(parser: Parser) -> None:
    parser.add_argument("part", nargs="?", metavar="PART", type=values.word, help=_("one part; else all that failed"))
    parser.add_argument("--planned", metavar="COST", type=values.cost, help=_("of a planned renewal"))
    parser.add_argument(
        "--unplanned", metavar="COST", type=values.cost, help=_("of an unplanned one; both tell when renewal pays")
    )
    parser.add_argument("--by-counter", choices=("hours", "metres"), default="hours", help=_("what ages the part"))


def _weeks_back(parser: Parser) -> None:
    parser.add_argument(
        "--weeks", metavar="N", type=values.weeks, default=13, help=_("how many weeks back (default 13)")
    )


def _look(name: str, help: str, run: str, arguments: Callable[[Parser], None], *examples: str) -> Command:
    """A command that looks, by a function in a module of this folder."""
    return Command(name, help, f"look.{run}", arguments, json=True, past=True, examples=examples)


COMMANDS = (
    _look("yard", mark("every machine, its standing and why"), "show.yard", _yard,
          "yard --place 'North Field'", "yard --as-of 2026-05-01 --json"),
    _look("due", mark("what is due, worst first"), "show.due", _due,
          "due --overdue", "due --within 14 --place 'North Field'"),
    _look("may", mark("what may be done with a machine, and what stands in the way"), "may.may", _may,
          "may T01 'pull out'", "may T01 --to road --seen pawl=down"),
    _look("book", mark("everything that happened to a machine, newest first"), "show.book", _book,
          "book T01", "book T01 --kind fault --all"),
    _look("signals", mark("speed, pressures and flow of the runs, and what drifts"), "evidence.signals", _signals,
          "signals", "signals T01"),
    _look("failures", mark("how often parts fail, and when renewal pays"), "evidence.failures", _failures,
          "failures", "failures hose --planned 300 --unplanned 1200"),
    _look("marks", mark("how checks were answered, against what is usual"), "marks.marks", _weeks_back,
          "marks", "marks --weeks 26"),
    _look("corrections", mark("which entries were taken back, by whom and how late"), "corrections.corrections",
          _weeks_back, "corrections", "corrections --weeks 52 --json"),
)  # fmt: skip

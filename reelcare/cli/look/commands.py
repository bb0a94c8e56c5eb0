"""Commands that look: what stands how, what is due, what happened, what the records show."""

from __future__ import annotations

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


COMMANDS = (
    Command(
        name="yard", help=mark("every machine, its standing and why"), run="look.show.yard", json=True, past=True,
        arguments=_yard, examples=("yard --place North", "yard --as-of 2026-05-01 --json"),
    ),
    Command(
        name="due", help=mark("what is due, worst first"), run="look.show.due", json=True, past=True, arguments=_due,
        examples=("due --overdue", "due --within 14 --place North"),
    ),
    Command(
        name="may", help=mark("what may be done with a machine, and what stands in the way"), run="look.may.may",
        json=True, past=True, arguments=_may, examples=("may T01 'pull out'", "may T01 --to road --seen pawl=down"),
    ),
    Command(
        name="book", help=mark("everything that happened to a machine, newest first"), run="look.show.book", json=True,
        past=True, arguments=_book, examples=("book T01", "book T01 --kind fault --all"),
    ),
    Command(
        name="signals", help=mark("speed, pressures and flow of the runs, and what drifts"),
        run="look.evidence.signals", json=True, past=True, arguments=_signals, examples=("signals", "signals T01"),
    ),
    Command(
        name="failures", help=mark("how often parts fail, and when renewal pays"), run="look.evidence.failures",
        json=True, past=True, arguments=_failures,
        examples=("failures", "failures hose --planned 300 --unplanned 1200"),
    ),
    Command(
        name="marks", help=mark("how checks were answered, against what is usual"), run="look.marks.marks", json=True,
        past=True, arguments=_weeks_back, examples=("marks", "marks --weeks 26"),
    ),
    Command(
        name="corrections", help=mark("which entries were taken back, by whom and how late"),
        run="look.corrections.corrections", json=True, past=True, arguments=_weeks_back,
        examples=("corrections", "corrections --weeks 52 --json"),
    ),
)  # fmt: skip

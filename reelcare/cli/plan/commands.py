"""Commands that plan: machines, people, sheets and plans, the weeks to come, and what goes on paper."""

from __future__ import annotations

from collections.abc import Callable

from reelcare.cli import values
from reelcare.cli.command import Command, Parser, always
from reelcare.cli.filters import add_filters
from reelcare.core.text import _, mark

CHANGES = {"add": 2, "revise": 3, "move": 3, "retire": 2}
"""What is done to a machine, and how many words say it."""


def _machine(parser: Parser) -> None:
    parser.add_argument(
        "words", nargs="*", help=_("what to show or write"),
        metavar="[TAG | add CARD.toml | revise TAG CARD.toml | move TAG PLACE | retire TAG]",
    )  # fmt: skip
    parser.add_argument(
        "--as", dest="matching", metavar="MATCHING.toml",
        help=_("with add of a list (.csv, .xlsx): a file that matches its columns"),
    )  # fmt: skip
    parser.add_argument("--toml", action="store_true", help=_("print the card as it can be revised"))
    parser.add_argument("--why", metavar="TEXT", help=_("with retire: why the machine leaves the yard"))


def _people(parser: Parser) -> None:
    parser.add_argument(
        "words", nargs="*", metavar="[add NAME | pin NAME | unlock NAME | left NAME]",
        help=_(
            "enrol somebody, or give another role; give a PIN, let them try again, record that "
            "they have left; without, the list"
        ),
    )  # fmt: skip
    parser.add_argument("--role", choices=("operator", "mechanic", "supervisor"))
    parser.add_argument(
        "--recovery", action="store_true", help=_("with unlock: by the recovery code that was shown with the PIN")
    )


def _plan(parser: Parser) -> None:
    parser.add_argument("tag", nargs="?", metavar="TAG", help=_("for one machine; without, for all"))
    parser.add_argument("--use", metavar="PLAN.toml", type=values.given, help=_("use this plan from now on"))
    parser.add_argument(
        "--drop", metavar="ITEM", action="append", default=[],
        help=_("a stop item that the plan may drop; once for each"),
    )  # fmt: skip
    parser.add_argument("--general", action="store_true", help=_("give a machine back to the plan for all"))
    parser.add_argument("--all", action="store_true", help=_("also what each check does anyway"))


def _weeks_ahead(parser: Parser) -> None:
    parser.add_argument("--weeks", metavar="N", type=values.weeks, default=6, help=_("how many weeks (default 6)"))


def _workload(parser: Parser) -> None:
    _weeks_ahead(parser)
    add_filters(parser)
    parser.add_argument("--all", action="store_true", help=_("also weeks without work, and what is worth doing too"))


def _file(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE")
    parser.add_argument("--replace", action="store_true", help=_("write over a file that exists"))


def _of_a_machine(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    _file(parser)


def _of_a_blank(parser: Parser) -> None:
    _of_a_machine(parser)
    parser.add_argument("--sheet", default="pre-start", metavar="SHEET", help=_("another sheet (default: pre-start)"))
    parser.add_argument("--paper", choices=("a4", "letter"), help=_("size of a .pdf; letter with US units, else a4"))


def _of_a_check(parser: Parser) -> None:
    parser.add_argument("check", metavar="CHECK", help=_("its entry, or a machine's tag for the last one"))
    _file(parser)


def _of_what_is_due(parser: Parser) -> None:
    _file(parser)
    add_filters(parser)
    parser.add_argument("--all", action="store_true", help=_("on paper also what is ok, line by line"))
    parser.add_argument(
        "--watch", action="store_true", help=_("FILE is a folder; its lists are updated as things change")
    )
    parser.add_argument("--public", action="store_true", help=_("with --watch: files that a web server can read"))
    parser.add_argument("--once", action="store_true", help=_("with --watch: update them once"))


def _of_the_weeks(parser: Parser) -> None:
    _weeks_ahead(parser)
    add_filters(parser)
    _file(parser)


def _of_a_season(parser: Parser) -> None:
    parser.add_argument("--from", dest="since", metavar="DAY", help=_("default: a year back"))
    parser.add_argument("--until", dest="to", metavar="DAY", help=_("default: today"))
    _file(parser)


def _of_the_list(parser: Parser) -> None:
    parser.add_argument("--for", dest="name", metavar="NAME", help=_("of one person; without, everything"))
    parser.add_argument("--day", metavar="DAY", help=_("what is given for this day (2026-05-31); without, for any"))
    add_filters(parser)
    _file(parser)


def _give(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument(
        "line",
        metavar="ITEM|FAULT",
        nargs="+",
        help=_("items of the plan; faults by their id, its last characters, or the part"),
    )
    parser.add_argument("--to", required=True, metavar="NAME", help=_("an enrolled person, or nobody"))
    parser.add_argument("--day", metavar="DAY", help=_("the day for which it is given (2026-05-31)"))


def _of_water(parser: Parser) -> None:
    _of_a_season(parser)
    parser.add_argument("--licence", metavar="VOLUME", help=_("what may be taken in this time, as in 40000 m3"))


def _lanes(parser: Parser) -> None:
    parser.add_argument("words", nargs="*", metavar="[FIELD | add FIELD.toml]", help=_("what to show or add"))


def _of_a_night(parser: Parser) -> None:
    parser.add_argument("where", metavar="TAG|PLACE", help=_("a machine, or all at a place"))
    parser.add_argument("--from", dest="since", metavar="TIME", help=_("default: now"))
    parser.add_argument("--until", dest="to", metavar="TIME", help=_("default: the next noon"))
    parser.add_argument("--dark-moves", action="store_true", help=_("machines may be moved in the dark"))


def _night(parser: Parser) -> None:
    _of_a_night(parser)
    parser.add_argument(
        "--order", metavar="LANES", help=_("keep the lanes that TAG takes next, as in '4 6 5'; `rule` takes it back")
    )


def _night_on_paper(parser: Parser) -> None:
    _of_a_night(parser)
    _file(parser)


def _report(
    name: str, help: str, run: str, arguments: Callable[[Parser], None], *examples: str, past: bool = True
) -> Command:
    """A kind of `report`, by a function in a module of this folder."""
    return Command(name, help, f"plan.{run}", arguments, makes="file", past=past, examples=examples)


REPORT = (
    _report("machine", mark("everything on one machine: .html or .pdf"), "report.machine", _of_a_machine,
            "report machine T01 t01.pdf", "report machine T01 t01.html --as-of 2026-05-01"),
    _report("check", mark("one check as it was answered: .html or .pdf"), "report.check", _of_a_check,
            "report check T01 last.pdf", "report check T01 last.html --replace", past=False),
    _report("due", mark("what is due: .html, .pdf, .csv or .ics"), "report.due", _of_what_is_due,
            "report due due.pdf --replace", "report due lists --watch"),
    _report("workload", mark("the coming weeks: .html, .pdf or .csv"), "report.workload", _of_the_weeks,
            "report workload weeks.csv --weeks 12", "report workload north.pdf --place 'North Field'"),
    _report("list", mark("the work list of a person and a day: .html, .pdf, .csv"), "day_list.day_list", _of_the_list,
            "report list --for Tomas --day 2026-05-31 tomas.pdf", "report list all.html --place 'North Field'"),
    _report("season", mark("a season in review: .html or .pdf"), "report.season_", _of_a_season,
            "report season 2026.pdf --from 2026-04-01 --until 2026-09-30", "report season season.html"),
    _report("water", mark("water given, by place, machine and day: .html, .pdf, .csv"), "water.water", _of_water,
            "report water water.csv --from 2026-04-01", "report water water.html --licence '40000 m3'"),
    _report("night", mark("the sets of a night and who must be where: .html or .pdf"), "night.on_paper",
            _night_on_paper,
            "report night 'North Field' night.pdf --from 2026-06-30T18:00", "report night T01 night.html"),
    _report("blank", mark("a check to fill in at the machine, on one sheet: .pdf or .html"), "blank.blank", _of_a_blank,
            "report blank T01 t01.pdf", "report blank T01 road.html --sheet road", past=False),
    _report("tag", mark("a label with a code that names the machine: .svg, .png, .pdf, or - to show it here"),
            "report.tag", _of_a_machine, "report tag T01 label.svg", "report tag T01 -", past=False),
)  # fmt: skip

COMMANDS = (
    Command(
        name="machine", help=mark("show, add, revise, move or retire a machine"), run="plan.machines.machine",
        json=True, past=True, by=True, writes=lambda asked: bool(asked.words) and asked.words[0] in CHANGES,
        arguments=_machine,
        examples=(
            "machine add heron.toml --by Marta", "machine T01 --toml", "machine revise T01 heron.toml --by Marta",
            "machine move T01 'South Field' --by Ines", "machine retire T02 --why sold --by Marta",
        ),
    ),
    Command(
        name="people", help=mark("list people, enrol one, give one a PIN, or record that one has left"),
        run="plan.people.people", json=True, past=True, by=True, writes=lambda asked: bool(asked.words),
        arguments=_people,
        examples=(
            "people add Ines --role operator --by Marta", "people pin Ines --by Marta", "people unlock Ines --by Marta",
            "people left Aldo --by Marta",
        ),
    ),
    Command(
        name="plan", help=mark("show the service plan, or use another one"), run="plan.machines.plan", json=True,
        past=True, by=True, writes=lambda asked: asked.use is not None or asked.general, arguments=_plan,
        examples=("plan T01", "plan --use plan.toml --by Marta", "plan T08 --general --by Marta"),
    ),
    Command(
        name="night", help=mark("which lane comes next, from when to when, for a machine or a place"),
        run="plan.night.night", json=True, past=True, by=True, writes=lambda asked: bool(asked.order), arguments=_night,
        examples=("night 'North Field' --until 2026-07-01T08:00", "night T01 --order '4 6 5' --by Ines"),
    ),
    Command(
        name="lanes", help=mark("the lanes of the fields, or a field added from a file"), run="plan.lanes.lanes",
        json=True, past=True, by=True, writes=lambda asked: asked.words[:1] == ["add"], arguments=_lanes,
        examples=("lanes", "lanes add north-field.toml --by Marta"),
    ),
    Command(
        name="workload", help=mark("what falls due in the coming weeks, by week, place and machine"),
        run="plan.workload.workload", json=True, past=True, arguments=_workload,
        examples=("workload", "workload --weeks 12 --place 'North Field'"),
    ),
    Command(
        name="give", help=mark("give lines of the work list to a person and a day"), run="plan.day_list.give",
        json=True, by=True, writes=always, arguments=_give,
        examples=(
            "give T03 gearbox-oil-change --to Tomas --day 2026-05-31 --by Marta",
            "give B11 wheel-nuts --to nobody --by Marta",
        ),
    ),
    Command(
        name="sheets", help=mark("the sheets, and what is wrong with any of them"), run="keep.care.sheets", json=True,
        examples=("sheets", "sheets --json"),
    ),
    Command(
        name="report", help=mark("records, lists and calendars as files"), kinds=REPORT,
        examples=("report due due.pdf", "report machine T01 t01.html"),
    ),
)  # fmt: skip

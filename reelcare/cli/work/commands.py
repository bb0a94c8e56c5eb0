"""Commands for the day's work: the walk-round, the set, what happened, what was measured."""

from __future__ import annotations

from collections.abc import Callable

from reelcare.cli import values
from reelcare.cli.command import Command, Parser, always
from reelcare.core.text import _, mark


def _check(parser: Parser) -> None:
    from reelcare.core.checks.sheet import GATES

    parser.add_argument("tag", metavar="TAG")
    parser.add_argument(
        "sheet", nargs="?", metavar="SHEET", help=_("default: pre-start; after a stop half-way: goes-on")
    )
    parser.add_argument(
        "--gate", choices=GATES, help=_("only this gate, if it is next; without it, the next gate and those after it")
    )
    parser.add_argument(
        "--again", action="store_true", help=_("a second run on the same hydrant: what can have changed")
    )
    parser.add_argument(
        "--from-paper", action="store_true",
        help=_("enter a blank (`report blank`) that was filled in at the machine, with --at: as one form"),
    )  # fmt: skip


def _set_up(parser: Parser) -> None:
    from reelcare.core.settings.fields import FIELDS

    parser.add_argument("tag", metavar="TAG")
    for one in FIELDS:
        told = _("{label}, as in {example}", label=_(one.label), example=_(one.example))
        parser.add_argument(
            f"--{one.key.replace('_', '-')}", metavar=(one.quantity or ("text" if one.role else "time")).upper(),
            help=told.replace("%", "%%"), required=one.key in ("spacing", "out"),
        )  # fmt: skip
    parser.add_argument(
        "--curve", action="append", default=[], metavar="BEGINS,LENGTH,DEGREES",
        help=_("a curve of the path, from the machine, as in `60 m, 100 m, 45` (repeat for more)"),
    )  # fmt: skip
    parser.add_argument("--timing-check", action="store_true", help=_("the only full pull-out: no coils need stay"))
    parser.add_argument("--keep", action="store_true", help=_("keep it: walk-rounds are judged by it"))
    parser.add_argument("--exit-code", action="store_true", help=_("end with 1 where anything is warned of"))


def _run(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("--started", required=True, metavar="TIME")
    parser.add_argument("--ended", required=True, metavar="TIME")
    parser.add_argument("--metres", required=True, metavar="LENGTH", help=_("hose reeled in, as in 320 m"))
    parser.add_argument("--planned-speed", metavar="SPEED")
    parser.add_argument("--inlet", metavar="PRESSURE", help=_("pressure at the inlet, as in 7 bar"))
    parser.add_argument("--gun-pressure", metavar="PRESSURE", dest="gun", help=_("pressure at the gun, as in 4.5 bar"))
    parser.add_argument("--drive-loss", metavar="PRESSURE", help=_("loss in the drive, as in 0.5 bar"))
    parser.add_argument("--dwell", metavar="TIME", help=_("how long it stood still as planned, as in 60 min"))
    parser.add_argument("--operator", metavar="NAME", default="")
    parser.add_argument("--place", metavar="PLACE", default="")
    parser.add_argument("--lane", metavar="LANE", default="", help=_("the lane of its field, as in 4"))
    parser.add_argument("--stopped-by", metavar="WHAT", default="", help=_("end stop, operator or fault"))
    parser.add_argument(
        "--home", choices=("yes", "no"), default="", help=_("whether the hose came home, where the stop did not end it")
    )
    parser.add_argument("--volume", metavar="VOLUME", help=_("water given, as in 420 m3"))
    parser.add_argument("--meter", metavar="VOLUME", help=_("what the water meter shows at the end, as in 18250 m3"))
    parser.add_argument("--note", metavar="TEXT", default="", dest="notes")


def _reading(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("counter", choices=("hours", "metres"))
    parser.add_argument(
        "value",
        metavar="VALUE",
        help=_("what it shows, with or without its unit (h, m); of a length with it where US units are shown"),
    )
    parser.add_argument(
        "--new-counter", action="store_true", help=_("the counter was replaced; this is the reading of the new one")
    )
    parser.add_argument(
        "--rolls-at", metavar="VALUE", type=values.given, help=_("the counter rolled over at this value")
    )


def _service(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("item", metavar="ITEM", help=_("an item of the plan"))
    parser.add_argument("--hours", metavar="HOURS", help=_("what the hour counter shows"))
    parser.add_argument("--metres", metavar="LENGTH", help=_("what the metre counter shows"))
    parser.add_argument("--note", metavar="TEXT", default="")


def _fault(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("part", metavar="PART")
    parser.add_argument("--says", required=True, metavar="TEXT", help=_("what is wrong"))
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--hold", nargs="?", const="both", choices=("both", "run", "road"),
        help=_("it holds the machine (both, if not said for which)"),
    )  # fmt: skip
    which.add_argument(
        "--fix-by",
        metavar="WHEN",
        help=_("a day (2026-05-31), or how much longer it may run (`20 h`, `5000 m`, `3 runs`, `14 days`)"),
    )
    parser.add_argument("--retest", default="", metavar="TEXT", help=_("what must be tried again before the release"))


def _on_a_fault(parser: Parser) -> None:
    parser.add_argument(
        "fault", metavar="FAULT", help=_("the fault's id (or its last characters), or the machine's tag")
    )
    parser.add_argument(
        "part", nargs="?", metavar="PART", help=_("with a tag: the part, where several faults are open")
    )
    parser.add_argument("--says", default="", metavar="TEXT", help=_("what was done or seen"))


def _retest(parser: Parser) -> None:
    _on_a_fault(parser)
    parser.add_argument("--failed", action="store_true", help=_("it did not pass"))


def _correct(parser: Parser) -> None:
    parser.add_argument(
        "entries", metavar="ENTRY", nargs="+", type=values.given, help=_("as `book` shows it; of several all or none")
    )
    parser.add_argument("--why", required=True, metavar="TEXT")
    parser.add_argument(
        "--move-to", metavar="TAG", type=values.given, help=_("it belongs to this machine: write it there")
    )


def _note(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("--says", metavar="TEXT", default="", help=_("what the next person should know"))
    parser.add_argument("--until", metavar="DAY", help=_("the last day on which it is shown (2026-05-31)"))
    parser.add_argument("--near-miss", action="store_true", help=_("for the supervisor, without a name unless --by"))
    parser.add_argument("--read", action="store_true", help=_("the notes of this machine were read"))


def _instruction(parser: Parser) -> None:
    parser.add_argument("name", metavar="NAME", help=_("who was shown it"))
    parser.add_argument("tag", metavar="TAG|all")
    parser.add_argument(
        "--valid", metavar="MONTHS", type=values.months, default=12, help=_("for how long (default 12)")
    )


def _log(name: str, help: str, arguments: Callable[[Parser], None], *examples: str, signs: bool = False) -> Command:
    """A kind of `log`, whose function in `work.log` is called like it."""
    return Command(
        name, help, f"work.log.{name}", arguments, always, json=True, by=True, signs=signs, examples=examples
    )


LOG = (
    _log("run", mark("one run"), _run,
         "log run T01 --started 2026-05-01T06:30 --ended 2026-05-01T19:10 --metres '320 m' --by Ines",
         "log run T01 --started 2026-05-02T06:30 --ended 2026-05-02T12:00 --metres '590 ft' --by Ines --json"),
    _log("reading", mark("what a counter shows"), _reading,
         "log reading T01 hours 1908.5 --by Ines", "log reading T01 metres 52310 --by Ines"),
    _log("service", mark("a service that was done"), _service,
         "log service T01 gearbox-oil-change --hours 512 --by Tomas",
         "log service T03 grease --at 2026-05-28 --by Tomas"),
    _log("fault", mark("a fault"), _fault,
         "log fault T01 hose --says 'scuffed at 60 m' --fix-by '14 days' --by Ines",
         "log fault T01 pawl --says 'does not drop in' --hold --by Ines"),
    _log("repair", mark("work done on a fault"), _on_a_fault,
         "log repair T01 pawl --says 'new spring' --by Tomas", "log repair 0b1f22aa --says 'new belt' --by Tomas"),
    _log("retest", mark("a re-test of a repaired part"), _retest,
         "log retest T01 pawl --says 'drops in 5 times of 5' --by Tomas",
         "log retest 0b1f22aa --says 'holds at 6 bar' --by Tomas"),
    _log("release", mark("the end of a fault"), _on_a_fault,
         "log release T01 pawl --by Marta", "log release 0b1f22aa --by Marta", signs=True),
    _log("note", mark("a remark that is no fault, or a near miss"), _note,
         "log note T01 --says 'left running, stops 03:40' --until 2026-05-31 --by Ines",
         "log note T01 --says 'tractor touched the hose' --near-miss"),
    _log("instruction", mark("who was shown which machine"), _instruction,
         "log instruction Ines T01 --valid 12 --by Marta", "log instruction Aldo B04 --by Marta"),
    _log("correct", mark("take an entry back; it stays visible"), _correct,
         "log correct 0f3a9c21 --why 'wrong machine' --by Marta",
         "log correct 4c07d913 5a2b9e07 --why 'feet taken for metres' --by Marta"),
)  # fmt: skip


def _figures(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")


def _measured(parser: Parser) -> None:
    parser.add_argument("--keep", action="store_true", help=_("keep it on the machine; sets are worked out from it"))
    parser.add_argument("--note", default="", metavar="TEXT", help=_("wind, weather, who held the tape"))


def _drum(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument(
        "turns", nargs="+", metavar="TURNS=LENGTH", help=_("turns on the drum and the hose in them, as in `24=138 m`")
    )
    _measured(parser)


def _gun(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("reading", nargs="+", metavar="FLOW@PRESSURE", help=_("as in `43 m3/h @ 4.5 bar`"))
    parser.add_argument("--nozzle", metavar="LENGTH", help=_("nozzle bore (default: the card's)"))
    _measured(parser)


def _cans(parser: Parser) -> None:
    parser.add_argument("tag", metavar="TAG")
    parser.add_argument("--spacing", required=True, metavar="LENGTH", help=_("lane spacing"))
    parser.add_argument("--step", required=True, metavar="LENGTH", help=_("from can to can"))
    parser.add_argument("--first", metavar="LENGTH", help=_("from the hose to the first can (default: half a step)"))
    parser.add_argument(
        "--left", required=True, metavar="CATCHES", help=_("nearest first, in any one unit: `9.4 8 5.9`")
    )
    parser.add_argument("--right", required=True, metavar="CATCHES")
    _measured(parser)


def _measure(name: str, help: str, arguments: Callable[[Parser], None], *examples: str) -> Command:
    """A kind of `measure` that can be kept, whose function in `work.measure` is called like it."""
    return Command(
        name, help, f"work.measure.{name}", arguments, lambda asked: asked.keep, json=True, by=True, examples=examples
    )


MEASURE = (
    Command(
        name="figures", help=mark("what was measured so far"), run="work.measure.figures", json=True, past=True,
        arguments=_figures, examples=("measure figures T01", "measure figures T01 --json"),
    ),
    _measure("drum", mark("core and packing of the drum"), _drum,
             "measure drum T01 '24=138 m' '36=218 m' '48=306 m' --keep --by Tomas",
             "measure drum T01 '24=452 ft' '36=715 ft' '48=1003 ft'"),
    _measure("gun", mark("discharge coefficient of the gun"), _gun,
             "measure gun T01 '43 m3/h @ 4.5 bar' --nozzle '24 mm'",
             "measure gun T01 '190 gpm @ 65 psi' --keep --by Tomas"),
    _measure("cans", mark("how even the water falls"), _cans,
             "measure cans T01 --spacing '68 m' --step '12 m' --left '9.4 8 5.9' --right '9 8.2 5.5'",
             "measure cans T01 --spacing '220 ft' --step '40 ft' --left '9 8 6' --right '9 8 5' --keep --by Tomas"),
)  # fmt: skip


def _bring(parser: Parser) -> None:
    parser.add_argument("file", metavar="RUNS.csv")
    parser.add_argument(
        "--keep-good", action="store_true", help=_("take the good lines, write the others beside the file")
    )
    parser.add_argument(
        "--as", dest="matching", metavar="MATCHING.toml", help=_("a spreadsheet, whose columns this file matches")
    )
    parser.add_argument(
        "--last-done",
        action="store_true",
        help=_("no run log, but when services were last done, machine by item or one a row"),
    )


COMMANDS = (
    Command(
        name="check", help=mark("a walk-round, line by line"), run="work.check.check", by=True, signs=True,
        writes=always, arguments=_check,
        examples=(
            "check T01 --by Ines", "check T01 --gate water --by Ines", "check T01 road --by Ines",
            "check T01 --from-paper --at 2026-05-01T06:30 --by Ines",
        ),
    ),
    Command(
        name="set-up", help=mark("the settings sheet of one set"), run="work.set_up.set_up", json=True, past=True,
        by=True, writes=lambda asked: asked.keep, arguments=_set_up,
        examples=(
            "set-up T01 --spacing '68 m' --out '300 m' --depth '25 mm'",
            "set-up T01 --spacing '68 m' --out '300 m' --speed '22 m/h' --keep --by Ines",
        ),
    ),
    Command(
        name="log", help=mark("write down what happened"), kinds=LOG,
        examples=(
            "log run T01 --started 2026-05-01T06:30 --ended 2026-05-01T19:10 --metres '320 m' --by Ines",
            "log service T01 gearbox-oil-change --hours 512 --by Tomas",
        ),
    ),
    Command(
        name="bring", help=mark("bring in run logs from a CSV file"), run="keep.bring.bring", json=True, by=True,
        dated=False, writes=always, arguments=_bring,
        examples=("bring runs.csv --by Ines", "bring season.xlsx --as ours.toml --by Ines"),
    ),
    Command(
        name="measure", help=mark("figures of a machine's own, from readings on it"), kinds=MEASURE,
        examples=("measure figures T01", "measure gun T01 '43 m3/h @ 4.5 bar' --keep --by Tomas"),
    ),
)  # fmt: skip

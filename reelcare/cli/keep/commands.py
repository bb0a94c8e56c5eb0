"""Commands that keep a register whole and at hand: copies, carry files, proofs, the demo, the browser, the shell."""

from __future__ import annotations

from reelcare.cli import values
from reelcare.cli.command import Command, Parser, add_first_machine, always
from reelcare.core.text import _, mark


def _out(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE")


def _in(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE")
    parser.add_argument("--look", action="store_true", help=_("only say what it would bring"))


def _decision(parser: Parser) -> None:
    parser.add_argument(
        "ids", metavar="ID", nargs="+", help=_("of an entry that waits, or the last characters of its id")
    )
    parser.add_argument("--why", required=True, metavar="TEXT", help=_("why; it is recorded"))


def _decide(name: str, help: str, *examples: str) -> Command:
    """What a supervisor says of what waits, by the function of this name in `keep.waiting`."""
    return Command(
        name, help, f"keep.waiting.{name}", _decision, always, json=True, by=True, dated=False, signs=True,
        examples=examples,
    )  # fmt: skip


CARRY = (
    Command(
        name="out", help=mark("write everything into a carry file"), run="keep.carry.out", json=True, makes="file",
        arguments=_out, examples=("carry out monday.carry", "carry out monday.carry --json"),
    ),
    Command(
        name="in", help=mark("bring a carry file in, all or nothing"), run="keep.carry.in_", json=True, by=True,
        dated=False, signs=True, writes=lambda asked: not asked.look, arguments=_in,
        examples=("carry in monday.carry --look", "carry in monday.carry --by Marta"),
    ),
    Command(
        name="waiting", help=mark("what was carried in and waits to be accepted"), run="keep.waiting.waiting",
        json=True, examples=("carry waiting", "carry waiting --json"),
    ),
    _decide("accept", mark("accept what waits; an enrolment's ID accepts the person"),
            "carry accept 0b1f22aa --by Marta --why 'I was there'",
            "carry accept 4c07d913 --by Marta --why 'enrolled at the depot'"),
    _decide("refuse", mark("refuse what waits: it never counts"),
            "carry refuse 0b1f22aa --by Marta --why 'not our Olav'",
            "carry refuse 4c07d913 --by Marta --why 'not our machine'"),
)  # fmt: skip


def _copy(parser: Parser) -> None:
    parser.add_argument("path", metavar="PATH", help=_("a new file, or the postgresql:// URL of an empty database"))
    parser.add_argument(
        "--own", action="store_true", help=_("of a demo: keep it as a register of your own, no longer a demo")
    )


def _restore(parser: Parser) -> None:
    parser.add_argument("copy", metavar="COPY", help=_("a file that `copy` made, or a daily copy"))
    parser.add_argument("--why", required=True, metavar="TEXT", help=_("why the register goes back; it is recorded"))


def _demo(parser: Parser) -> None:
    parser.add_argument("--at", metavar="PATH", help=_("keep the demo register here (refuses an existing file)"))
    parser.add_argument("--no-app", action="store_true", help=_("only make it"))
    parser.add_argument(
        "--if-none", action="store_true", help=_("only where there is no register of your own; else open that")
    )


def _serve(parser: Parser) -> None:
    add_first_machine(parser)
    parser.add_argument("--port", type=values.port, default=8765, metavar="N", help=_("8765; 0 for any that is free"))
    parser.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help=_("default: this computer alone"))
    parser.add_argument("--write", action="store_true", help=_("allow writing; without, it is view only"))


def _completion(parser: Parser) -> None:
    parser.add_argument("what", choices=("bash", "zsh", "fish", "tcsh", "powershell", "tags", "people", "sheets"))


def _formats(parser: Parser) -> None:
    parser.add_argument(
        "form", nargs="?", default="", metavar="FORM",
        help=_("card, sheet, plan, lanes, runs, matching, csv or json; all of them if absent"),
    )  # fmt: skip


def _begin(parser: Parser) -> None:
    parser.add_argument("--supervisor", metavar="NAME", help=_("the first supervisor: you"))
    parser.add_argument("--machines", metavar="FILE", help=_("a list of machines: .csv or .xlsx"))
    parser.add_argument("--runs", metavar="FILE", help=_("the runs of the season: .csv or .xlsx"))
    parser.add_argument(
        "--last-done",
        metavar="FILE",
        help=_("when services were last done, machine by item or one a row: .csv or .xlsx"),
    )
    parser.add_argument(
        "--as", dest="matching", metavar="MATCHING.toml", help=_("a file that matches their columns to Reelcare's")
    )


COMMANDS = (
    Command(
        name="begin", help=mark("the first day: first supervisor, machines, runs"), run="keep.begin.begin", json=True,
        writes=always, arguments=_begin,
        examples=("begin", "begin --supervisor Marta --machines machines.xlsx --runs runs.csv --as ours.toml"),
    ),
    Command(
        name="demo", help=mark("open the app on a fresh demo register"), run="open_app.demo", writes=always, app=True,
        makes="at", arguments=_demo, examples=("demo", "demo --no-app --at demo.db"),
    ),
    Command(
        name="carry", help=mark("a file between terminals that are apart"), kinds=CARRY,
        examples=("carry out monday.carry", "carry in monday.carry --by Marta", "carry waiting"),
    ),
    Command(
        name="copy", help=mark("a verified copy while the register is in use"), run="keep.carry.copy", json=True,
        makes="path", arguments=_copy, examples=("copy monday.db", "copy postgresql://reels@depot/copy"),
    ),
    Command(
        name="restore", help=mark("go back to a copy; what the register still has is kept"), run="keep.carry.restore",
        json=True, by=True, dated=False, writes=always, arguments=_restore,
        examples=(
            "restore monday.db --by Marta --why 'the disk failed'",
            "restore tuesday.db --by Marta --why 'the tablet was lost'",
        ),
    ),
    Command(
        name="prove", help=mark("prove that the register is intact; changes nothing"), run="keep.care.prove", json=True,
        examples=("prove", "prove --json"),
    ),
    Command(
        name="rebuild", help=mark("compute the totals again and say what changed"), run="keep.care.rebuild", json=True,
        writes=always, examples=("rebuild", "rebuild --json"),
    ),
    Command(
        name="health", help=mark("what could be wrong with this computer, terminal and register, and what to do"),
        run="keep.health.health", json=True, examples=("health", "health --json"),
    ),
    Command(
        name="paths", help=mark("where things are kept"), run="keep.care.paths", json=True,
        examples=("paths", "paths --json"),
    ),
    Command(
        name="serve", help=mark("the app in a browser, for a tablet in the yard"), run="keep.serve.serve", app=True,
        writes=lambda asked: asked.write, arguments=_serve, examples=("serve", "serve --port 9000 --write"),
    ),
    Command(
        name="formats", help=mark("what the files that are read may contain, and what JSON keys and CSV columns mean"),
        run="keep.formats.formats", json=True, arguments=_formats, examples=("formats card", "formats json"),
    ),
    Command(
        name="completion", help=mark("a script by which a shell completes what is typed"), run="keep.shell.completion",
        arguments=_completion, examples=("completion bash", "completion zsh", "completion fish"),
    ),
)  # fmt: skip

"""One row of the table of commands, and the parser that is made of it.

The tables stand in `look/commands.py`, `work/commands.py`, `plan/commands.py` and `keep/commands.py`, one for each
group of the help. A command names its function by `folder.module.function`; it is imported when it is run.
"""

from __future__ import annotations

import argparse
import re
import textwrap
from collections.abc import Callable
from importlib import import_module
from typing import Any, NamedTuple, NoReturn

from reelcare.cli.common import SYSTEMS
from reelcare.cli.problem import Problem
from reelcare.cli.table import in_lines
from reelcare.cli.terminal import columns
from reelcare.core.text import _, mark, plural
from reelcare.languages import LANGUAGES

Asked = argparse.Namespace

LIBRARY = (
    mark("usage: "), mark("positional arguments"), mark("options"), mark("show this help message and exit"),
    mark("%(prog)s: error: %(message)s\n"),
    mark("the following arguments are required: %s"), mark("one of the arguments %s is required"),
    mark("argument %(argument_name)s: %(message)s"), mark("unrecognized arguments: %s"), mark("expected one argument"),
    mark("expected at most one argument"), mark("expected at least one argument"),
    mark("not allowed with argument %s"), mark("ignored explicit argument %r"),
    mark("invalid %(type)s value: %(value)r"), mark("invalid choice: %(value)r (choose from %(choices)s)"),
)  # fmt: skip
"""The texts of argparse that somebody can see: it asks its own `_` for them, which stands for ours here."""
argparse._ = _  # type: ignore[attr-defined]
argparse.ngettext = plural  # type: ignore[attr-defined]


def never(asked: Asked) -> bool:
    """A command that only reads: it makes no register and changes none."""
    return False


def always(asked: Asked) -> bool:
    """A command that writes, whatever is asked of it."""
    return True


def nothing(parser: Parser) -> None:
    """Takes no arguments of its own."""


class Command(NamedTuple):
    """A command, or a kind of it (as `run` of `log`): what it is called, what it does, what it takes."""

    name: str
    help: str
    run: str = ""
    """Its function, as `show.yard`; empty where there are `kinds`."""
    arguments: Callable[[Parser], None] = nothing
    writes: Callable[[Asked], bool] = never
    """Whether it writes, by what is asked of it. What does not write opens no register that is not there yet."""
    makes: str = ""
    """The argument that names a file to be made, whose folder must be there."""
    json: bool = False
    past: bool = False
    """Takes `--as-of`."""
    by: bool = False
    """Takes `--by` and `--at`."""
    dated: bool = True
    """Whether `--at` says when it happened: not where runs say it, and what is carried in or gone back to is of now."""
    signs: bool = False
    """Takes `--clock-is-right`."""
    app: bool = False
    """Opens the app, and takes what the app takes."""
    kinds: tuple[Command, ...] = ()
    examples: tuple[str, ...] = ()
    """Command lines without the first word, as they stand in the help."""


def in_width(told: str) -> str:
    """A text of many lines, none of them longer than the terminal is wide."""
    width = columns()
    lines = (in_lines(line, width) if len(line) > width else [line] for line in told.split("\n"))
    return "\n".join(part for parts in lines for part in parts)


class Formatter(argparse.HelpFormatter):
    """Help as wide as the terminal, whose lines stay lines."""

    def __init__(self, prog: str) -> None:
        # it is made again for every option: the library would load much, and each time, to find the width
        super().__init__(prog, width=columns() - 2)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        # a command line that goes on stands further in
        goes_on = {line: indent + " " * 8 if line.startswith(" ") else indent for line in text.splitlines()}
        return "\n".join(
            textwrap.fill(line, width, initial_indent=indent, subsequent_indent=further)
            for line, further in goes_on.items()
        )


SLOTS = frozenset((
    mark("ADDRESS"), mark("BEGINS"), mark("CARD"), mark("CATCHES"), mark("CHECK"), mark("COMMAND"), mark("COPY"),
    mark("COST"), mark("COUNT"), mark("DAY"), mark("DAYS"), mark("DEGREES"), mark("DURATION"), mark("ENTRY"),
    mark("FAULT"), mark("FIELD"), mark("FILE"), mark("FLOW"), mark("FORM"), mark("GOAL"), mark("HOURS"), mark("ID"),
    mark("ITEM"), mark("KIND"), mark("LANE"), mark("LANES"), mark("LENGTH"), mark("MATCHING"), mark("MONTHS"),
    mark("NAME"), mark("PART"), mark("PATH"), mark("PLACE"), mark("PLAN"), mark("POSITION"), mark("PRESSURE"),
    mark("RUNS"), mark("SHEET"), mark("SPEED"), mark("STEP"), mark("TAG"), mark("TEMPERATURE"), mark("TEXT"),
    mark("TIME"), mark("TURNS"), mark("VALUE"), mark("VOLUME"), mark("WHAT"), mark("WHEN"), mark("WHERE"),
))  # fmt: skip
"""What values are called by, alone or put together (`PART=POSITION`, `CARD.toml`): each word is translated alone."""
_WORD = re.compile("[A-Z]{2,}")


def slot(name: str) -> str:
    """What a value is called in the person's language.

    >>> slot("PART=POSITION")
    'PART=POSITION'
    """
    return _WORD.sub(lambda word: _(word[0]), name)


def name_slots(parser: argparse.ArgumentParser) -> None:
    """Call all values that a parser takes by their names in the person's language."""
    for action in parser._actions:
        if isinstance(action.metavar, str):
            action.metavar = slot(action.metavar)


class Parser(argparse.ArgumentParser):
    """A parser that takes no abbreviations, and whose errors are one line."""

    def __init__(self, **how: Any) -> None:
        super().__init__(**how, formatter_class=Formatter, allow_abbrev=False)

    def format_help(self) -> str:
        """The help, with the lines broken that the library leaves longer than a narrow terminal is wide."""
        return in_width(super().format_help())

    def error(self, message: str) -> NoReturn:
        """Raise Problem with what is wrong and where help is."""
        message = message.replace(": -- ", ": ")  # the dashes before the arguments were not typed
        raise Problem(_("{message}; `{prog} --help` says how", message=message, prog=self.prog))


def later(name: str) -> Callable[[Asked], int | None]:
    """The function `folder.module.function` below `reelcare.cli`, imported when it is called."""
    module, _dot, function = name.rpartition(".")

    def run(asked: Asked) -> int | None:
        done: int | None = getattr(import_module(f"reelcare.cli.{module}"), function)(asked)
        return done

    return run


def add_command(commands: Any, command: Command) -> None:
    """Add a command to the subparsers of a parser, with all its kinds."""
    about = _(command.help)
    told = f"{about[0].upper()}{about[1:]}."
    examples = "\n".join((_("Examples:"), *(f"  reelcare {one}" for one in command.examples)))
    parser: Parser = commands.add_parser(
        command.name, help=about, description=told, epilog=examples if command.examples else None
    )
    if command.kinds:
        kinds = parser.add_subparsers(metavar=slot("WHAT"), parser_class=Parser, required=True)
        for kind in command.kinds:
            add_command(kinds, kind)
        return
    command.arguments(parser)
    options = parser.add_argument_group(_("shared options"))
    if command.json:
        options.add_argument("--json", action="store_true", help=_("print the data as JSON"))
    if command.past:
        options.add_argument("--as-of", metavar="TIME", help=_("the register as it stood then"))
    if command.by:
        options.add_argument("--by", metavar="NAME", help=_("who does it: an enrolled person"))
        when = _("when it happened; now if absent") if command.dated else _("changes nothing: its time is its own")
        options.add_argument("--at", metavar="TIME", help=when)
    if command.signs:
        options.add_argument(
            "--clock-is-right", action="store_true", help=_("sign, even though the last entry has a later time")
        )
    add_shared_options(options, app=command.app)
    name_slots(parser)
    parser.set_defaults(run=later(command.run), writes=command.writes, makes=command.makes, dated=command.dated)


def add_first_machine(parser: argparse.ArgumentParser) -> None:
    """On which machine the app opens."""
    parser.add_argument("--machine", metavar="TAG", dest="open_on", default="", help=_("open the app on a machine"))


def add_shared_options(options: Any, *, app: bool) -> None:
    """What every command takes, and the app too."""
    options.add_argument(
        "--register",
        metavar="WHERE",
        help=_("the register: a file, or postgresql://USER@HOST/DATABASE (or the variable REELCARE_REGISTER)"),
    )
    options.add_argument("--units", choices=SYSTEMS, help=_("units shown"))
    options.add_argument("--language", choices=tuple(LANGUAGES), help=_("language of all texts"))
    options.add_argument("--view", action="store_true", help=_("view only: nothing is written"))
    if app:
        options.add_argument("--slow", action="store_true", help=_("for slow lines: few colours, page by page"))
        options.add_argument("--ascii", action="store_true", help=_("for terminals that have nothing but ASCII"))

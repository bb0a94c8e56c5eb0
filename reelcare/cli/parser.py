"""Reads a command line: which command it names, and what is asked of it.

The rules of this file: the options that commands share stand before or after the command, and options stand anywhere
among its arguments; nothing is abbreviated. Only the command that is named is made up, since making up all of them
takes longer than most commands do. What is not known is answered by what was probably meant.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Collection, Iterable, Sequence
from typing import Any

from reelcare import __version__
from reelcare.cli import suggestions
from reelcare.cli.command import (
    Asked,
    Command,
    Formatter,
    Parser,
    add_command,
    add_first_machine,
    add_shared_options,
    in_width,
    later,
    name_slots,
    slot,
)
from reelcare.cli.keep import commands as commands_keep
from reelcare.cli.look import commands as commands_look
from reelcare.cli.plan import commands as commands_plan
from reelcare.cli.problem import Problem
from reelcare.cli.work import commands as commands_work
from reelcare.core.text import _, mark

GROUPS: tuple[tuple[str, tuple[Command, ...], tuple[str, str]], ...] = (
    (mark("look"), commands_look.COMMANDS, ("yard", "due --overdue --within 14")),
    (mark("work"), commands_work.COMMANDS, ("check T01 --by Ines", "log reading T01 hours 1908.5 --by Ines")),
    (mark("plan"), commands_plan.COMMANDS, ("machine add heron.toml --by Marta", "report due due.pdf")),
    (mark("keep"), commands_keep.COMMANDS, ("demo", "copy monday.db")),
)
"""All commands, in the order of the help, with two examples for each group."""
COMMANDS = {command.name: command for group in GROUPS for command in group[1]}
FORMER_NAMES = {"doctor": "health"}
"""What a command was called before; it is still taken, and stands in no list."""
BEFORE = {
    "--register": "WHERE", "--units": None, "--language": None, "--machine": "TAG", "--as-of": "TIME", "--by": "NAME",
    "--at": "TIME",
}  # fmt: skip
"""Options with a value that can stand before the command, and what the value is called."""
FLAGS_BEFORE = ("--json", "--view", "--slow", "--ascii", "--help", "-h", "--version", "-V")
NUMBER = re.compile(r"-[.,]?\d")
"""How a figure below nothing begins, with its unit or without."""


class _WholeHelp(Parser):
    """The parser of all commands, whose help shows them in groups."""

    def format_help(self) -> str:
        """The help: usage, the commands group by group with examples, the options."""
        told = Formatter(self.prog)
        told.add_usage("%(prog)s " + _("[OPTIONS] [COMMAND ...]"), self._actions, self._mutually_exclusive_groups)
        told.add_text(self.description)
        for title, commands, examples in GROUPS:
            told.start_section(_(title))
            told.add_arguments([argparse.Action((), command.name, help=_(command.help)) for command in commands])
            told.end_section()
            told.add_text("\n".join(("  " + _("for example"), *(f"    reelcare {line}" for line in examples))))
        told.start_section(_("options, before or after the command"))
        told.add_arguments([one for one in self._actions if one.option_strings])
        told.end_section()
        told.add_text(
            _(
                "Where a command takes --json, --as-of, --by or --at, they may come before or "
                "after it; `reelcare COMMAND --help` shows all its options."
            )
        )
        told.add_text(self.epilog)
        return in_width(told.format_help())


def build_parser(names: Collection[str] | None = None) -> argparse.ArgumentParser:
    """The parser of the whole command line; with `names`, of these commands alone."""
    parser = _WholeHelp(
        prog="reelcare",
        description=_(
            "Checks, settings and upkeep of hose-reel irrigating machines. Without a command, opens the app."
        ),
        epilog=_("The machine's own manual, local codes and licensed practice come first."),
    )
    version = f"reelcare {__version__}"
    parser.add_argument(
        "--version", "-V", action="version", version=version, help=_("show program's version number and exit")
    )
    add_first_machine(parser)
    add_shared_options(parser, app=True)
    name_slots(parser)
    parser.set_defaults(run=later("open_app.open_app"), writes=lambda asked: not asked.view, makes="")
    wanted = [command for name, command in COMMANDS.items() if names is None or name in names]
    if wanted:
        commands = parser.add_subparsers(metavar=slot("COMMAND"), parser_class=Parser)
        for command in wanted:
            add_command(commands, command)
    return parser


def parse(words: Sequence[str]) -> Asked:
    """What a command line asks: its `run` does it, `only_reads` says whether the register must be left as it is.

    Raises Problem in one line; for help and the version, prints it and raises SystemExit.
    """
    before, rest = _up_to_the_command(words)
    if "--version" in before or "-V" in before:
        before, rest = ["--version"], []
    if not rest:
        asked = _without_a_command(before)
    else:
        leaf, before, rest = _command(before, rest)
        _refuse_what_is_not_shared(leaf, before)
        asked = leaf.parse_args(_options_first(leaf, [*before, *rest]))
    asked.only_reads = not asked.writes(asked)
    return asked


def _without_a_command(words: list[str]) -> Asked:
    parser = build_parser(None if {"-h", "--help"} & set(words) else ())
    _refuse_what_is_not_shared(parser, words)
    return parser.parse_args(_options_first(parser, words))


def _command(before: list[str], rest: list[str]) -> tuple[argparse.ArgumentParser, list[str], list[str]]:
    """The parser of the command that is named, the options before its last word, and what stands after it."""
    name, *rest = rest
    name = FORMER_NAMES.get(name, name)
    command = COMMANDS.get(name)
    if command is None:
        raise Problem(
            _("{name}: no such command; {meant}", name=name, meant=_meant(suggestions.command(name, COMMANDS)))
        )
    parser = _below(build_parser((name,)), name)
    if not command.kinds:
        return parser, before, rest
    between, rest = _up_to_the_command(rest)
    before = [*before, *between]
    kinds = [kind.name for kind in command.kinds]
    if {"-h", "--help"} & set(before) and not rest:
        return parser, ["--help"], []
    if not rest:
        raise Problem(_("{name}: say what: {kinds}", name=name, kinds=", ".join(kinds)))
    kind, *rest = rest
    if kind not in kinds:
        meant = suggestions.command(kind, kinds, name)
        cure = _meant(meant) if meant else _("say {kinds}", kinds=", ".join(kinds))
        raise Problem(_("{name}: no such command; {meant}", name=" ".join((name, kind)), meant=cure))
    return _below(parser, kind), before, rest


def _meant(line: str) -> str:
    """What to do instead: the command line that was probably meant, else where all of them stand."""
    if not line:
        return _("`reelcare --help` lists them")
    word = line if " " not in line and line[0] != "-" else f"`reelcare {line}`"
    return _("did you mean {word}?", word=word)


def _below(parser: argparse.ArgumentParser, name: str) -> argparse.ArgumentParser:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            below: argparse.ArgumentParser = action.choices[name]
            return below
    raise AssertionError(f"{parser.prog} has no {name}")


def _up_to_the_command(words: Sequence[str]) -> tuple[list[str], list[str]]:
    """The options before the first word that is neither an option nor an option's value; and that word with the rest.

    >>> _up_to_the_command(["--units", "us", "due", "--overdue"])
    (['--units', 'us'], ['due', '--overdue'])
    """
    at = 0
    while at < len(words) and words[at] != "--" and words[at].startswith("-"):
        name, given, _value = words[at].partition("=")
        if name not in BEFORE and name not in FLAGS_BEFORE:
            meant = suggestions.option(name, [*BEFORE, *FLAGS_BEFORE])
            cure = _("did you mean {word}?", word=meant) if meant else _("`reelcare --help` shows those")
            raise Problem(_("{name}: this option cannot come before a command; {cure}", name=name, cure=cure))
        at += 2 if name in BEFORE and not given else 1
    return list(words[:at]), [word for word in words[at : at + 1] if word != "--"] + list(words[at + 1 :])


def _refuse_what_is_not_shared(parser: argparse.ArgumentParser, before: list[str]) -> None:
    """Raise Problem for an option before the command that the command does not take, or takes in another meaning."""
    known = parser._option_string_actions
    for name in (word.partition("=")[0] for word in before):
        if name not in BEFORE and name not in FLAGS_BEFORE:
            continue  # the value of the option before it
        taken: Any = known.get(name)
        if taken is None or slot(BEFORE.get(name) or "") not in ("", taken.metavar):
            app = _("the app") if parser.prog == "reelcare" else f"`{parser.prog}`"
            if taken is None:
                raise Problem(_("{name}: {app} takes none; `{prog} --help` says what it takes", name=name, app=app,
                                prog=parser.prog))  # fmt: skip
            raise Problem(_("{name}: comes after {app}, where it is {metavar}", name=name, app=app,
                            metavar=taken.metavar))  # fmt: skip


def _options_first(parser: argparse.ArgumentParser, words: Sequence[str]) -> list[str]:
    """The same words, options with their values first, so that options can stand anywhere among the arguments.

    The library takes an argument that can be left out for left out as soon as an option follows the one before it.
    """
    options: list[str] = []
    arguments: list[str] = []
    at = 0
    while at < len(words):
        word = words[at]
        at += 1
        if word == "--":
            arguments += words[at:]
            break
        if not _is_option(parser, word):
            arguments.append(word)
            continue
        name, given, value = word.partition("=")
        action = parser._option_string_actions.get(name)
        if action is None:
            meant = suggestions.option(name, (one for one in parser._option_string_actions if one != "-h"))
            more = (
                _("did you mean {word}?", word=meant)
                if meant
                else _("`{prog} --help` shows what it takes", prog=parser.prog)
            )
            raise Problem(_("{name}: no such option of `{prog}`; {more}", name=name, prog=parser.prog, more=more))
        options.append(word)
        if value == "--" and action.nargs is None:
            options[-1] = name  # the library takes these two dashes away, and leaves a list with nothing in it
        elif not given and at < len(words) and _takes(parser, action, words[at]):
            # as one word: of two, the library takes `-60m` for an option
            options[-1:] = [f"{word}={words[at]}"] if NUMBER.match(words[at]) else [word, words[at]]
            at += 1
    _refuse_empty(parser, arguments)
    return [*options, "--", *arguments] if arguments else options


def _refuse_empty(parser: argparse.ArgumentParser, arguments: Iterable[str]) -> None:
    """Raise Problem for an empty argument where one can be left out: nobody who names no machine means all of them."""
    if any(action.nargs == "?" for action in parser._get_positional_actions()) and not all(map(str.strip, arguments)):
        raise Problem(_("an argument is empty; `{prog} --help` says what belongs there", prog=parser.prog))


def _is_option(parser: argparse.ArgumentParser, word: str) -> bool:
    if word.partition("=")[0] in parser._option_string_actions:
        return True
    return len(word) > 1 and word[0] == "-" and not NUMBER.match(word) and " " not in word


def _takes(parser: argparse.ArgumentParser, action: argparse.Action, word: str) -> bool:
    """Whether an option takes the word after it as its value."""
    if action.nargs == "?":
        return word in (action.choices or ())
    return action.nargs is None and word != "--" and not _is_option(parser, word)

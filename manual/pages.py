"""The pages of the manual that are made from the code: every command, every key, every form of a file.

Each begins with what is written by hand, up to a line that says what follows.
"""

from __future__ import annotations

import argparse
import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from textual.binding import Binding

import reelcare.tui
from reelcare.cli.keep import formats
from reelcare.cli.parser import COMMANDS, GROUPS, build_parser
from reelcare.tui.keys import shown

FOLDER = Path(__file__).parent
MADE = "<!-- what follows is made by"
SHARED = {"--register", "--units", "--language", "--view", "--slow", "--ascii", "--json", "--as-of", "--by", "--at"}
"""Options that stand once, at the head of the page."""
HEADINGS = {
    "app": "Everywhere", "screen": "Screens of a machine", "yard": "Yard", "walk": "Walk-round", "steps": "Steps",
    "bench": "Bench", "set_up": "Set-up", "due": "Due", "weeks": "Weeks", "signals": "Signals",
    "failures": "Failures", "marks": "Marks", "card": "Card", "book": "Book", "entry": "Details of an entry",
    "form": "Forms", "rows": "Lists", "choices": "Choices", "tick": "Boxes", "people": "Who is there",
    "sign": "Signing", "dialog": "One of several", "confirm": "Yes or no", "ask": "A few words", "help": "Help",
    "start": "First day", "preview": "Spreadsheet", "done": "Last services", "waiting": "Carried in", "plan": "Plan",
    "lanes": "Lanes", "night": "Night", "grid": "Grids", "line": "Lines to type in",
    "turn": "Waiting for another program",
}  # fmt: skip
"""What the first word of a binding's id is called, in the order in which it stands on the page."""


@dataclass(frozen=True)
class Key:
    """One row of a binding table, and the row of the page that it asks for."""

    binding: Binding
    where: str

    @property
    def heading(self) -> str:
        """The screen, as the page calls it."""
        place = (self.binding.id or "").partition(".")[0]
        return HEADINGS.get(place, place.capitalize())

    @property
    def row(self) -> str:
        """The row of the table."""
        keys = " ".join(f"`{shown(key.strip())}`" for key in self.binding.key.split(","))
        return f"| {keys} | {self.binding.tooltip} |"


def all_keys() -> list[Key]:
    """Every key of every screen and widget."""
    found = []
    for module in pkgutil.walk_packages(reelcare.tui.__path__, "reelcare.tui."):
        for thing in vars(importlib.import_module(module.name)).values():
            if isinstance(thing, type) and thing.__module__ == module.name:
                where = f"{module.name}.{thing.__name__}"
                for binding in vars(thing).get("BINDINGS", ()):
                    assert isinstance(binding, Binding), f"{where}: {binding} is not a Binding"
                    found.append(Key(binding, where))
    return found


def all_commands(
    parser: argparse.ArgumentParser, path: str = "reelcare"
) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command with its parser; a group of commands (`log`) is none itself."""
    groups = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not any(group.required for group in groups):
        yield path, parser
    for group in groups:
        for name, command in group.choices.items():
            yield from all_commands(command, f"{path} {name}")


def texts() -> dict[Path, str]:
    """Each page as it must be."""
    made = {"commands.md": _commands(), "keys.md": _keys(), "formats.md": formats.text()}
    return {FOLDER / name: _by_hand(FOLDER / name) + text for name, text in made.items()}


def _by_hand(page: Path) -> str:
    text = page.read_text("utf-8")
    before, mark, after = text.partition(MADE)
    assert mark, f"{page}: no line that begins with {MADE}"
    return f"{before}{mark}{after.partition(chr(10))[0]}\n"


def _keys() -> str:
    rows: dict[str, dict[str, None]] = {heading: {} for heading in HEADINGS.values()}
    for key in all_keys():
        rows.setdefault(key.heading, {})[key.row] = None
    return "".join(
        f"\n## {heading}\n\n| key | does |\n|---|---|\n" + "".join(f"{row}\n" for row in lines)
        for heading, lines in rows.items()
        if lines
    )


def _commands() -> str:
    parsers = dict(all_commands(build_parser()))
    parts = []
    for title, commands, _examples in GROUPS:
        parts.append(f"\n## To {title}\n")
        for command in commands:
            for name, parser in parsers.items():
                if f"{name} ".startswith(f"reelcare {command.name} "):
                    parts.append(_command(name, parser, _examples_of(name)))
    return "".join(parts)


def _examples_of(name: str) -> tuple[str, ...]:
    _reelcare, first, *kind = name.split()
    command = COMMANDS[first]
    if kind:
        (command,) = (one for one in command.kinds if one.name == kind[0])
    return command.examples


def _command(name: str, parser: argparse.ArgumentParser, examples: tuple[str, ...]) -> str:
    taken = [one for one in parser._actions if not set(one.option_strings) & {*SHARED, "--help"}]
    usage = " ".join([name, *(_usage(one) for one in taken)])
    rows = "".join(f"| `{_cell(_usage(one, whole=True))}` | {_cell(_help(one.help))} |\n" for one in taken if one.help)
    table = f"\n| takes | for |\n|---|---|\n{rows}" if rows else ""
    lines = "".join(f"reelcare {line}\n" for line in examples)
    options = {option for one in parser._actions for option in one.option_strings}
    shared = [one for one in ("--json", "--as-of", "--by", "--at") if one in options]
    more = f" Also takes {', '.join(f'`{one}`' for one in shared)}." if shared else ""
    return f"\n### {name}\n\n{parser.description}{more}\n\n```text\n{usage}\n```\n{table}\n```sh\n{lines}```\n"


def _help(text: str) -> str:
    """What an argument is for, as `--help` prints it: a percent sign stands there twice for argparse alone."""
    return text.replace("%%", "%")


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _usage(action: argparse.Action, *, whole: bool = False) -> str:
    """An argument as it is written: `TAG`, `[--out LENGTH]`."""
    value = action.metavar if isinstance(action.metavar, str) else ""
    if not value and action.choices:
        value = "|".join(map(str, action.choices))
    value = value or ("" if action.nargs == 0 else action.dest.upper())
    if action.option_strings:
        said = " ".join(filter(None, (action.option_strings[0], value)))
        if action.nargs == "?":
            said = f"{action.option_strings[0]} [{value}]"
        return said if whole or action.required else f"[{said}]"
    if whole:
        return value
    return f"[{value}]" if action.nargs in ("?", "*") else f"{value} ..." if action.nargs == "+" else value

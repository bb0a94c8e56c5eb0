"""What the documents say is so: links lead somewhere, commands and keys are those of the program, and all of them."""

import argparse
import importlib
import pkgutil
import re
import shlex
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from textual.binding import Binding

import reelcare.tui
from reelcare.cli.parser import build_parser, parse
from reelcare.tui.keys import shown

ROOT = Path(__file__).parent.parent
DOCUMENTS = sorted(path for folder in (ROOT, ROOT / "demo", ROOT / "checklists") for path in folder.glob("*.md"))
README = (ROOT / "README.md").read_text("utf-8")
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CODE = re.compile(r"`([^`\n]+)`")
SHARED = {
    "--help", "--version", "--register", "--json", "--as-of", "--by", "--at", "--units", "--language", "--view",
    "--slow", "--ascii",
}  # fmt: skip
"""Options that stand once, in their own table."""


def _section(title: str) -> str:
    found = re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", README, re.MULTILINE | re.DOTALL)
    assert found, f"README.md has no section {title!r}"
    return found.group(1)


# links


def _anchors(document: Path) -> set[str]:
    headings = re.findall(r"^#+ (.+)$", FENCE.sub("", document.read_text("utf-8")), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in headings}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_link_leads_somewhere(document: Path) -> None:
    text = FENCE.sub("", document.read_text("utf-8"))
    for link in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"[a-z]+:", link):
            continue
        path, _, anchor = link.partition("#")
        target = (document.parent / path).resolve() if path else document
        assert target.exists(), f"{link}: no such file"
        if anchor:
            assert anchor in _anchors(target), f"{link}: no such heading"


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_path_in_the_checkout_that_is_named_is_there(document: Path) -> None:
    for named in CODE.findall(document.read_text("utf-8")):
        if re.fullmatch(r"(reelcare|tests|demo|checklists|\.ci)/[\w./-]*", named):
            assert (ROOT / named).exists(), f"{named}: no such file or folder"


def test_every_room_of_the_program_is_described() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rooms = {path.parent.relative_to(ROOT).as_posix() for path in (ROOT / "reelcare").glob("*/**/__init__.py")}
    assert {room for room in rooms if f"`{room}/`" not in text} == set()


# commands


def _commands(parser: argparse.ArgumentParser, path: str = "reelcare") -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command with its parser; a group of commands (`log`) is none itself."""
    groups = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not any(group.required for group in groups):
        yield path, parser
    for group in groups:
        for name, command in group.choices.items():
            yield from _commands(command, f"{path} {name}")


COMMANDS = dict(_commands(build_parser()))


def _options(parser: argparse.ArgumentParser) -> set[str]:
    return {option for action in parser._actions for option in action.option_strings if option.startswith("--")}


def _rows(command: str) -> list[str]:
    start = re.compile(rf"`{re.escape(command)}(?=[` ])(?! (?:{'|'.join(_below(command))})\b)")
    return [line for line in _section("Commands").splitlines() if line.startswith("| ") and start.search(line)]


def _below(command: str) -> list[str]:
    """The words that make another command of this one; a word that is none, where there is no such."""
    return [name.removeprefix(command).split()[0] for name in COMMANDS if name.startswith(f"{command} ")] or ["-"]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_option_stands_in_the_readme(command: str) -> None:
    rows = _rows(command)
    assert rows, f"README.md, Commands: no row for `{command}`"
    for action in COMMANDS[command]._actions:
        names = [option for option in action.option_strings if option.startswith("--")]
        if not names:
            continue
        if SHARED & set(names):
            assert any(f"`{name}" in _section("Commands") for name in names), f"{names} stand nowhere"
        else:
            assert any(name in row for name in names for row in rows), f"{command}: {names} stand in none of its rows"


def test_the_readme_names_no_command_and_no_option_that_is_not_there() -> None:
    for said in CODE.findall(FENCE.sub("", README)):
        if not said.startswith("reelcare "):
            continue
        command = max((name for name in COMMANDS if f"{said} ".startswith(f"{name} ")), key=len)
        rest = said.removeprefix(command).split()
        if command == "reelcare":
            assert not rest or rest[0].startswith("-"), f"`{said}`: no such command"
        wrong = set(re.findall(r"--[\w-]+", said)) - _options(COMMANDS[command])
        assert not wrong, f"`{said}`: no such option {wrong}"


EXAMPLES = [
    line
    for document in DOCUMENTS
    for kind, block in FENCE.findall(document.read_text("utf-8"))
    if kind in ("", "sh")
    for line in block.splitlines()
    if line.startswith("reelcare")
]


@pytest.mark.parametrize("line", EXAMPLES)
def test_the_command_line_understands_every_example(line: str) -> None:
    assert parse(shlex.split(line)[1:]).run


# keys

HEADINGS = {
    "app": "Everywhere",
    "screen": "Screens of a machine",
    "yard": "Yard",
    "walk": "Walk-round",
    "steps": "Steps",
    "bench": "Bench",
    "set_up": "Set-up",
    "due": "Due",
    "weeks": "Weeks",
    "signals": "Signals",
    "failures": "Failures",
    "marks": "Marks",
    "card": "Card",
    "book": "Book",
    "entry": "Details",
    "form": "Forms",
    "rows": "Lists",
    "choices": "Choices",
    "tick": "Boxes",
    "people": "Who is there",
    "sign": "Signing",
    "dialog": "One of several",
    "confirm": "Yes or no",
    "ask": "A few words",
    "help": "Help",
}
"""What the first word of a binding's id is called in the README, in the order in which it stands there."""


@dataclass(frozen=True)
class _Key:
    """One row of a binding table, and the row of the README that it asks for."""

    binding: Binding
    where: str

    @property
    def heading(self) -> str:
        place = (self.binding.id or "").partition(".")[0]
        return HEADINGS.get(place, place.capitalize())

    @property
    def row(self) -> str:
        keys = " ".join(f"`{shown(key.strip())}`" for key in self.binding.key.split(","))
        return f"| {keys} | {self.binding.tooltip} |"


def _keys() -> list[_Key]:
    found = []
    for module in pkgutil.walk_packages(reelcare.tui.__path__, "reelcare.tui."):
        for thing in vars(importlib.import_module(module.name)).values():
            if isinstance(thing, type) and thing.__module__ == module.name:
                where = f"{module.name}.{thing.__name__}"
                for binding in vars(thing).get("BINDINGS", ()):
                    assert isinstance(binding, Binding), f"{where}: {binding} is not a Binding"
                    found.append(_Key(binding, where))
    return found


KEYS = _keys()


def _key_tables() -> str:
    """What the README should say of the keys."""
    rows: dict[str, dict[str, None]] = {heading: {} for heading in HEADINGS.values()}
    for key in KEYS:
        rows.setdefault(key.heading, {})[key.row] = None
    return "\n".join(
        f"### {heading}\n\n| key | does |\n|---|---|\n" + "".join(f"{row}\n" for row in lines)
        for heading, lines in rows.items()
        if lines
    )


def _key_section(heading: str) -> str:
    found = re.search(rf"^### {re.escape(heading)}\n(.*?)(?=^### |\Z)", _section("Keys"), re.MULTILINE | re.DOTALL)
    return found.group(1) if found else ""


@pytest.mark.parametrize("key", KEYS, ids=lambda key: f"{key.where.rpartition('.')[2]}-{key.binding.key}")
def test_every_key_stands_in_the_readme(key: _Key) -> None:
    assert key.binding.id, f"{key.where}: {key.binding.key} has no id"
    assert key.binding.tooltip, f"{key.where}: {key.binding.key} has no tooltip"
    assert key.row in _key_section(key.heading).splitlines(), (
        f"README.md, Keys, under {key.heading!r} there should stand: {key.row}"
    )


def test_the_readme_names_no_key_that_is_not_there() -> None:
    named = [line for line in _section("Keys").splitlines() if line.startswith("| `")]
    assert set(named) <= {key.row for key in KEYS}


def test_every_id_of_a_key_is_its_own() -> None:
    ids = [key.binding.id for key in KEYS]
    assert len(ids) == len(set(ids))


# sheets


@pytest.mark.parametrize("path", sorted((ROOT / "checklists").glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_sheet_stands_in_the_readme(path: Path) -> None:
    section = _section("Sheets and plans")
    if path.name.startswith("plan-") or path.name in ("set-limits.toml", "machine.toml"):
        assert f"`checklists/{path.name}`" in section
        return
    sheet = tomllib.loads(path.read_text("utf-8"))
    assert f"| `{sheet['id']}` | {sheet['title']['en']} |" in section


def test_the_readme_names_no_sheet_that_is_not_shipped() -> None:
    named = re.findall(r"^\| `([\w-]+)` \|", _section("Sheets and plans"), re.MULTILINE)
    assert set(named) <= {path.stem for path in (ROOT / "checklists").glob("*.toml")}


def test_every_variable_that_the_program_reads_stands_in_the_readme() -> None:
    sources = "".join(path.read_text("utf-8") for path in (ROOT / "reelcare").rglob("*.py"))
    missing = set(re.findall(r"\bREELCARE_[A-Z]+\b", sources)) - set(re.findall(r"\bREELCARE_[A-Z]+\b", README))
    assert not missing


if __name__ == "__main__":  # writes the key tables into the README
    before, after = README.split(_section("Keys"))
    (ROOT / "README.md").write_text(f"{before}\n{_key_tables()}\n{after}", "utf-8")

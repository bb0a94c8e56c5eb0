"""What the documents say is so: links lead somewhere, commands and keys are those of the program, and all of them."""

import argparse
import re
import shlex
import tomllib
from pathlib import Path

import pytest

from manual import pages
from reelcare import __version__
from reelcare.cli.parser import build_parser, parse

ROOT = Path(__file__).parent.parent
DOCUMENTS = sorted(
    path for folder in (ROOT, ROOT / "demo", ROOT / "checklists", ROOT / "manual") for path in folder.glob("*.md")
)
README = (ROOT / "README.md").read_text("utf-8")
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CODE = re.compile(r"`([^`\n]+)`")


def test_the_readme_is_read_in_one_go() -> None:
    assert len(README.splitlines()) <= 150


def test_the_change_log_has_a_dated_heading_for_this_version_and_the_ones_before() -> None:
    headings = re.findall(r"^## (.+)$", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    released = [one for one in headings if one != "Unreleased"]
    assert all(re.fullmatch(r"\d+\.\d+\.\d+ \(\d{4}-\d\d-\d\d\)", one) for one in released)
    assert released[0].startswith(f"{__version__} ")
    assert headings.index("Unreleased") == 0 if "Unreleased" in headings else True
    assert released == sorted(released, key=lambda one: [int(part) for part in one.split()[0].split(".")], reverse=True)


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


def test_the_guide_for_developers_stays_short() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert len(text.splitlines()) <= 150
    words = text.partition("## Words")[2].partition("## Everyday")[0]
    terms = [term for row in re.findall(r"^\| (?!word )([^|]+) \|", words, re.MULTILINE) for term in row.split(", ")]
    assert 0 < len(terms) <= 30, terms


def test_every_room_of_the_program_is_described() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rooms = {path.parent.relative_to(ROOT).as_posix() for path in (ROOT / "reelcare").glob("*/**/__init__.py")}
    assert {room for room in rooms if f"`{room}/`" not in text} == set()


# commands


COMMANDS = dict(pages.all_commands(build_parser()))


def _options(parser: argparse.ArgumentParser) -> set[str]:
    return {option for action in parser._actions for option in action.option_strings if option.startswith("--")}


@pytest.mark.parametrize("page", pages.texts(), ids=lambda path: path.name)
def test_a_page_of_the_manual_is_what_the_code_makes(page: Path) -> None:
    assert page.read_text("utf-8") == pages.texts()[page], "run `python manual/make.py`"


def test_what_an_option_is_for_stands_in_the_manual_as_help_prints_it() -> None:
    text = (ROOT / "manual" / "commands.md").read_text("utf-8")
    assert "| `--humidity COUNT` | humidity, %, as in 50 |" in text
    assert "%%" not in text


@pytest.mark.parametrize("command", [name for name in COMMANDS if name != "reelcare"])
def test_every_command_and_option_stands_in_the_manual(command: str) -> None:
    text = (ROOT / "manual" / "commands.md").read_text("utf-8")
    found = re.search(rf"^### {re.escape(command)}\n(.*?)(?=^##|\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"manual/commands.md: no heading for `{command}`"
    for option in _options(COMMANDS[command]) - pages.SHARED - {"--help"}:
        assert option in found[1], f"{command}: {option} stands nowhere"
    for option in _options(COMMANDS[command]) & pages.SHARED:
        assert f"`{option}" in text, f"{option} stands nowhere"


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_document_names_no_command_and_no_option_that_is_not_there(document: Path) -> None:
    if document.name == "CHANGELOG.md":
        return  # it tells of what was
    for said in CODE.findall(FENCE.sub("", document.read_text("utf-8"))):
        said = re.sub(r"^(python3|py) start\.py (?=[a-z])", "reelcare ", said)
        if not said.startswith("reelcare ") or said == "reelcare test":
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
    if line.startswith(("reelcare", "python3 start.py "))
]


@pytest.mark.parametrize("line", EXAMPLES)
def test_the_command_line_understands_every_example(line: str) -> None:
    assert parse(shlex.split(line.replace("python3 start.py", "reelcare", 1))[1:]).run


# keys

KEYS = pages.all_keys()


@pytest.mark.parametrize("key", KEYS, ids=lambda key: f"{key.where.rpartition('.')[2]}-{key.binding.key}")
def test_every_key_says_what_it_does(key: pages.Key) -> None:
    assert key.binding.id, f"{key.where}: {key.binding.key} has no id"
    assert key.binding.tooltip, f"{key.where}: {key.binding.key} has no tooltip"


def test_every_id_of_a_key_is_its_own() -> None:
    ids = [key.binding.id for key in KEYS]
    assert len(ids) == len(set(ids))


# sheets

SHEETS = (ROOT / "checklists" / "README.md").read_text("utf-8").partition("## Where your own go")[0]


@pytest.mark.parametrize("path", sorted((ROOT / "checklists").glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_sheet_stands_in_their_readme(path: Path) -> None:
    if path.name.startswith("plan-") or path.name in ("set-limits.toml", "machine.toml"):
        assert f"`checklists/{path.name}`" in SHEETS
        return
    sheet = tomllib.loads(path.read_text("utf-8"))
    assert f"| `{sheet['id']}` | {sheet['title']['en']} |" in SHEETS


def test_their_readme_names_no_sheet_that_is_not_shipped() -> None:
    named = re.findall(r"^\| `([\w-]+)` \|", SHEETS, re.MULTILINE)
    assert set(named) <= {path.stem for path in (ROOT / "checklists").glob("*.toml")}


def test_every_variable_that_the_program_reads_stands_in_the_manual() -> None:
    sources = "".join(path.read_text("utf-8") for path in (ROOT / "reelcare").rglob("*.py"))
    commands = (ROOT / "manual" / "commands.md").read_text("utf-8")
    missing = set(re.findall(r"\bREELCARE_[A-Z]+\b", sources)) - set(re.findall(r"\bREELCARE_[A-Z]+\b", commands))
    assert not missing

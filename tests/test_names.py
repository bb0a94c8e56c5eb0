"""What a maintainer can rely on when reading: one class to a name, small folders, small files, no dialect."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "reelcare"

FILES_IN_A_FOLDER = 12  # modules, beside the `__init__`
LINES_OF_A_FILE = 420

FORBIDDEN = ("heed", "glimpse", "glance", "beside_pane", "upkeep", "tally", "hurried", "plainly", "can_be")
"""Names that once stood for a warning, the cache, the detail pane, the machine state, a validation."""

ADVERBS = ("again", "ahead", "beside", "better", "later", "now", "out", "soon", "together")
VERBS = (
    "bring",
    "give",
    "judge",
    "keep",
    "open",
    "prove",
    "read",
    "serve",
    "show",
    "take",
    "tell",
    "wait_for_turn",
    "write",
)


def _modules() -> Iterator[Path]:
    yield from sorted(PACKAGE.rglob("*.py"))


def _relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@cache
def _defined() -> list[tuple[Path, int, str, bool]]:
    """Each class and function of the package: its module, line and name, and whether it is a class of its module."""
    found: list[tuple[Path, int, str, bool]] = []
    for path in _modules():
        tree = ast.parse(path.read_text("utf-8"))
        waiting: list[ast.stmt] = list(tree.body)
        while waiting:
            node = waiting.pop()
            if isinstance(node, ast.ClassDef | ast.FunctionDef):
                found.append((path, node.lineno, node.name, isinstance(node, ast.ClassDef) and node in tree.body))
            waiting += [one for one in ast.iter_child_nodes(node) if isinstance(one, ast.stmt)]
    return found


def test_a_class_name_stands_once_in_the_package() -> None:
    places: dict[str, list[str]] = defaultdict(list)
    for path, _line, name, is_of_module in _defined():
        if is_of_module:
            places[name].append(_relative(path))
    assert {name: found for name, found in places.items() if len(found) > 1} == {}


def test_no_folder_has_more_than_a_dozen_modules() -> None:
    sizes = {
        _relative(folder): len([one for one in folder.glob("*.py") if one.name != "__init__.py"])
        for folder in {path.parent for path in _modules()}
    }
    assert {folder: size for folder, size in sizes.items() if size > FILES_IN_A_FOLDER} == {}


def test_no_file_is_longer_than_one_can_keep_in_mind() -> None:
    lengths = {_relative(path): len(path.read_text("utf-8").splitlines()) for path in _modules()}
    assert {path: length for path, length in lengths.items() if length > LINES_OF_A_FILE} == {}


def test_every_folder_says_what_belongs_there_and_what_does_not() -> None:
    silent = []
    for path in PACKAGE.rglob("__init__.py"):
        says = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
        if len(re.findall(r"[.!](?:\s|$)", says)) < 2:
            silent.append(_relative(path))
    assert sorted(silent) == []


def test_no_name_of_the_old_dialect_comes_back() -> None:
    found = []
    for path, line, name, _is_of_module in _defined():
        if name.strip("_").lower() in FORBIDDEN:
            found.append(f"{_relative(path)}:{line} {name}")
    for path in _modules():
        if path.stem in FORBIDDEN or path.stem in ADVERBS:
            found.append(_relative(path))
        if path.stem in VERBS and "cli" not in path.parts:  # those of `cli/` are called after commands
            found.append(_relative(path))
    assert found == []

"""Each room knows what it may know: by the contracts of pyproject.toml, and by what is really loaded.

The contracts see every import that is written down, deferred ones too; the subprocesses see what an import brings
with it. Neither sees all, so both are asked.
"""

import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from reelcare.cli import main

ROOT = Path(__file__).parent.parent
LOAD_ROOM = """
import importlib, pkgutil, sys
room = importlib.import_module(sys.argv[1])
found = [one.name for one in pkgutil.walk_packages(room.__path__, room.__name__ + ".")]
for name in found:
    importlib.import_module(name)
print(len(found))
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""
RUN_COMMAND = """
import sys
from reelcare.cli import main
sys.stdout, kept = sys.stderr, sys.stdout
try:
    code = main(sys.argv[1:])
except SystemExit as ended:
    code = ended.code
assert code in (0, None), code
print(1, file=kept)
print(*sorted({name.partition(".")[0] for name in sys.modules}), file=kept)
"""
UI = {"textual", "rich"}
DATABASE = {"peewee", "playhouse", "sqlite3", "_sqlite3"}


def _loaded(script: str, *arguments: str) -> tuple[int, set[str]]:
    """How many modules were asked for, and every top-level module that is loaded then."""
    command = [sys.executable, "-W", "error", "-c", script, *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    count, names = done.stdout.splitlines()
    return int(count), set(names.split())


@cache
def _room(room: str) -> tuple[int, set[str]]:
    """The same of a room, all of whose modules are loaded."""
    return _loaded(LOAD_ROOM, room)


def test_the_import_contracts_hold() -> None:
    script = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    ("room", "never"),
    [
        ("reelcare.core", UI | DATABASE | {"platformdirs", "dateutil", "numpy", "scipy"}),
        ("reelcare.register", UI | {"numpy", "scipy"}),  # peewee loads the driver of servers where there is one
        ("reelcare.reports", UI),
        ("reelcare.cli", UI),
    ],
)
def test_a_room_loads_nothing_that_is_not_its_own(room: str, never: set[str]) -> None:
    count, loaded = _room(room)
    modules = list(ROOT.joinpath(*room.split(".")).rglob("*.py"))
    assert count == len(modules) - 1, "a folder without an __init__.py hides modules from the room"
    assert loaded & never == set()


def test_the_core_needs_the_standard_library_alone() -> None:
    _, loaded = _room("reelcare.core")
    theirs = loaded - set(sys.stdlib_module_names) - {"reelcare"}
    # what an environment loads at each start (editable installs, coverage) is none of the core's doing
    _, always = _loaded("import sys; print(0); print(*{name.partition('.')[0] for name in sys.modules})")
    assert theirs - always == set()


@pytest.mark.long
def test_the_terminal_app_is_where_textual_is() -> None:
    _, loaded = _room("reelcare.tui")
    assert loaded >= UI


@pytest.mark.parametrize("arguments", [["--version"], ["--help"], ["log", "run", "--help"]])
def test_what_needs_no_register_loads_no_database(arguments: list[str]) -> None:
    _, loaded = _loaded(RUN_COMMAND, *arguments)
    assert loaded & (UI | DATABASE | {"platformdirs"}) == set()


def test_the_yard_loads_nothing_of_sets_and_sheets() -> None:
    """They stand on other screens; their modules cost a tenth of the start and of the memory."""
    script = "import sys, reelcare.tui.app, reelcare.tui.screens.yard; print(1); print(*sys.modules)"
    _, loaded = _loaded(script)
    assert {one for one in loaded if one.startswith(("reelcare.core.settings.set", "tomllib"))} == set()
    assert "reelcare.register.sheets" not in loaded


def test_a_command_on_a_register_loads_no_screen(tmp_path: Path) -> None:
    where = ("--register", str(tmp_path / "r.db"))
    assert main([*where, "people", "add", "Mara", "--role", "supervisor"]) == 0
    _, loaded = _loaded(RUN_COMMAND, *where, "yard", "--json")
    assert "peewee" in loaded
    assert loaded & UI == set()

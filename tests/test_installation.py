"""How the program says that it is run and added to: lines that work as they stand, from every way of installing."""

import shlex
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from reelcare import installation

ROOT = Path(__file__).parent.parent
EXTRAS = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]


@pytest.fixture
def by_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A checkout whose environment start.py has made, and which this Python runs in."""
    folder = tmp_path / "a folder"
    (folder / ".venv").mkdir(parents=True)
    (folder / "start.py").touch()
    monkeypatch.setattr(installation, "_CHECKOUT", folder)
    monkeypatch.setattr(sys, "prefix", str(folder / ".venv"))
    return folder


@pytest.fixture
def by_wheel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(installation, "_CHECKOUT", tmp_path)


@pytest.mark.parametrize("extra", ["pdf", "postgres", "serve", "xlsx"])
def test_what_an_extra_needs_is_what_pyproject_says(extra: str) -> None:
    assert {str(Requirement(one)) for one in installation.needed_by(extra)} == {
        str(Requirement(one)) for one in EXTRAS[extra]
    }


@pytest.mark.usefixtures("by_wheel")
@pytest.mark.parametrize("extra", ["pdf", "postgres", "serve", "xlsx"])
def test_a_wheel_is_added_to_by_the_python_that_runs_it_and_no_index_is_asked_for_our_name(extra: str) -> None:
    words = shlex.split(installation.adds(extra))
    assert words[:4] == [sys.executable, "-m", "pip", "install"]
    assert words[4:] == installation.needed_by(extra)
    assert not any("reelcare" in word for word in words[4:])
    assert installation.command() == "reelcare"


@pytest.mark.usefixtures("by_wheel")
def test_where_there_is_no_pip_another_installer_is_given_this_very_python(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    assert installation.adds("pdf").startswith(f"uv pip install --python {shlex.quote(sys.executable)} ")


def test_a_checkout_is_added_to_by_its_own_command(by_start: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(by_start)
    assert installation.command() == "python3 start.py"
    assert installation.adds("serve") == "python3 start.py --with serve"
    monkeypatch.chdir(by_start.parent)
    assert shlex.split(installation.command()) == ["python3", str(by_start / "start.py")]


def test_another_python_that_uses_a_checkout_is_not_taken_for_its_own(
    by_start: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    assert installation.command() == "reelcare"

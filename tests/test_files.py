"""Where the program finds what it ships, and where it keeps what is the user's."""

import subprocess
import sys
from pathlib import Path

import pytest

from reelcare import files

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("name", ["checklists", "demo"])
def test_a_checkout_is_used_as_it_lies(name: str) -> None:
    assert files.folder(name) == ROOT / name  # type: ignore[arg-type]


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The package as it lies in an environment, with nothing of a checkout around it."""
    package = tmp_path / "site-packages" / "reelcare"
    (package / "_data" / "checklists").mkdir(parents=True)
    monkeypatch.setattr(files, "_PACKAGE", package)
    return package


def test_an_installed_package_carries_its_folders_inside(installed: Path) -> None:
    assert files.folder("checklists") == installed / "_data" / "checklists"


def test_a_folder_of_the_same_name_beside_the_package_is_not_taken_for_a_checkout(installed: Path) -> None:
    (installed.parent / "checklists").mkdir()
    assert files.folder("checklists") == installed / "_data" / "checklists"


def test_a_missing_folder_is_named_with_the_cure(installed: Path) -> None:
    with pytest.raises(FileNotFoundError, match=r"^demo: missing from this installation; install reelcare again$"):
        files.folder("demo")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the variables of the XDG base directories")
def test_the_users_own_folders_follow_the_custom_of_the_system(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME and $XDG_DATA_HOME, each with the program's name below
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert files.config_folder() == tmp_path / "config" / "reelcare"
    assert files.data_folder() == tmp_path / "data" / "reelcare"
    assert not any(tmp_path.iterdir())


def test_asking_for_a_shipped_folder_loads_nothing_more() -> None:
    asks = "from reelcare import files; files.folder('checklists')"
    script = f"import sys; {asks}; sys.exit('platformdirs' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=False).returncode == 0

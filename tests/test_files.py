"""Where the program finds what it ships, and where it keeps what is the user's."""

import os
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


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


def beside(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def test_a_link_laid_where_a_file_is_made_is_not_followed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever could guess the name could have another file written over, or read what is private."""
    monkeypatch.setattr(os, "urandom", bytes)
    (folder / "mine").write_text("kept")
    (folder / ".report.000000000000.new").symlink_to(folder / "mine")
    with pytest.raises(FileExistsError):
        files.write_whole(folder / "report", lambda file: file.write(b"x"))
    assert (folder / "mine").read_text() == "kept"
    assert beside(folder) == [".report.000000000000.new", "mine"]


def test_no_two_programs_make_a_file_under_one_name(folder: Path) -> None:
    with files.being_made(folder / "a") as one, files.being_made(folder / "a") as other:
        assert one != other
        assert {one.stat().st_mode & 0o777, other.stat().st_mode & 0o777} == {0o600}
    assert beside(folder) == []


@pytest.mark.parametrize("mode", [0o600, 0o644])
def test_a_file_is_private_unless_it_is_asked_to_be_read_by_others(folder: Path, mode: int) -> None:
    files.write_whole(folder / "a", lambda file: file.write(b"x"), mode=mode)
    assert (folder / "a").stat().st_mode & 0o777 == mode


KILLED = """
import os, signal, sys
from pathlib import Path
from reelcare import files
with files.being_made(Path(sys.argv[1])) as made:
    made.with_name(made.name + "-wal").write_bytes(b"x")
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal")
def test_what_a_killed_program_left_goes_as_the_file_is_made_again(folder: Path) -> None:
    with files.being_made(folder / "a.db") as alive:
        subprocess.run([sys.executable, "-c", KILLED, str(folder / "a.db")], cwd=ROOT, check=False)
        assert len(beside(folder)) == 2 + 3
        files.write_whole(folder / "other.db", lambda file: file.write(b"x"))
        assert len(beside(folder)) == 2 + 3 + 1
        files.write_whole(folder / "a.db", lambda file: file.write(b"x"))
        assert beside(folder) == [alive.name, f"{alive.name}-lock", "a.db", "other.db"]


def test_what_an_older_version_left_goes_after_a_day(folder: Path) -> None:
    young, old = folder / ".a.123.new", folder / ".a.124.new-wal"
    for one in (young, old):
        one.write_bytes(b"")
    os.utime(old, (0, 0))
    files.sweep(folder)
    assert beside(folder) == [young.name]

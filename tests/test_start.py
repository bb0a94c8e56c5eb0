"""The two commands: whatever is wrong ends in one line and an exit code, and nothing half made looks finished."""

import ast
import errno
import os
import signal
import subprocess
import sys
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import environment

ROOT = Path(environment.__file__).parent
NO_NETWORK = """\
WARNING: Retrying (Retry(total=0, connect=None, read=None, redirect=None, status=None)) after connection broken by \
'NewConnectionError('<HTTPSConnection>: Failed to establish a new connection: [Errno -3] Temporary failure in name \
resolution')': /simple/hatchling/
ERROR: Could not find a version that satisfies the requirement hatchling>=1.27 (from versions: none)
ERROR: No matching distribution found for hatchling>=1.27
"""
NO_ROOM = """\
Collecting textual<8.3,>=8.2
ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device: '/x/textual/app.py'
"""

MADE_OF = ("pyproject.toml", "hatch_build.py", "constraints.txt")
"""The files that decide about the environment."""

Answers = Callable[[Sequence[str]], tuple[int, str]]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A checkout with nothing in it but what decides about the environment."""
    for name in MADE_OF:
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(environment, "STAMP", tmp_path / ".venv" / "reelcare-stamp")
    monkeypatch.setattr(environment, "LOG", tmp_path / ".venv" / "pip.log")
    monkeypatch.setattr(environment, "EXTRAS", tmp_path / ".venv" / "reelcare-extras")
    return tmp_path


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> list[Sequence[str]]:
    """Every command that is run; each succeeds."""
    commands: list[Sequence[str]] = []
    _answer(monkeypatch, lambda command: (0, sys.version), commands)
    return commands


def _answer(monkeypatch: pytest.MonkeyPatch, answers: Answers, commands: list[Sequence[str]] | None = None) -> None:
    def output(command: Sequence[str]) -> tuple[int, str]:
        if commands is not None:
            commands.append(command)
        return answers(command)

    monkeypatch.setattr(environment, "_output", output)


def _pip_says(told: str) -> Answers:
    return lambda command: (1, told) if "install" in command else (0, sys.version)


def _pip(commands: list[Sequence[str]]) -> list[str]:
    return [command[-1] for command in commands if "install" in command]


# what start.py itself says


@pytest.mark.parametrize("version", [(2, 7, 18), (3, 6, 15), (3, 10, 13)])
def test_an_old_python_is_told_which_one_is_needed(version: tuple[int, int, int]) -> None:
    script = f"import runpy, sys; sys.version_info = {version}; runpy.run_path('start.py', run_name='__main__')"
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "needs Python 3.11 or newer" in done.stderr
    assert f"this is Python {version[0]}.{version[1]}." in done.stderr


def test_every_python_can_read_the_first_file() -> None:
    # what Python 2.7 cannot read: annotations, f-strings, walrus, keyword-only arguments, async, match
    tree = ast.parse((ROOT / "start.py").read_text("ascii"), feature_version=(3, 4))
    newer = (ast.JoinedStr, ast.AnnAssign, ast.NamedExpr, ast.AsyncFunctionDef, ast.Match, ast.Nonlocal, ast.arg)
    assert not [node for node in ast.walk(tree) if isinstance(node, newer)]
    # and nothing newer is imported before the question of the version is settled
    first = next(place for place, node in enumerate(tree.body) if isinstance(node, ast.If))
    assert [node.names[0].name for node in tree.body[:first] if isinstance(node, ast.Import)] == ["sys"]


@pytest.mark.long
def test_without_a_network_it_says_so_in_one_line_and_leaves_nothing_that_looks_finished(tmp_path: Path) -> None:
    # the real thing: a real environment and a real pip, with every index taken away
    for name in ("start.py", "environment.py", *MADE_OF):
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    alone = {name: value for name, value in os.environ.items() if not name.startswith("PIP_")}
    alone |= {"PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull}
    done = subprocess.run(
        [sys.executable, "start.py"], cwd=tmp_path, env=alone, capture_output=True, text=True, check=False
    )
    said = done.stderr.splitlines()
    assert done.returncode == 1
    assert done.stdout == ""
    assert len(said) == 2
    assert "making the environment" in said[0]
    assert "no network, or the package index is out of reach" in said[1]
    assert (tmp_path / ".venv" / "reelcare-stamp").read_text() == "unfinished"
    assert "hatchling" in (tmp_path / ".venv" / "pip.log").read_text()


# what the environment is made for, and when again


def test_an_environment_that_fits_is_used_without_a_word(
    place: Path, ran: list[Sequence[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    first = environment.ready("app")
    assert _pip(ran) == ["."]
    ran.clear()
    capsys.readouterr()
    assert environment.ready("app") == first
    assert not ran
    assert capsys.readouterr().err == ""


def test_the_tests_need_more_than_the_app_and_the_app_nothing_more_than_the_tests(
    place: Path, ran: list[Sequence[str]]
) -> None:
    environment.ready("app")
    environment.ready("test")
    environment.ready("app")
    assert _pip(ran) == [".", ".[test]"]


def test_another_dependency_folder_python_or_translation_each_ask_for_a_new_stamp(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stamps = {environment.stamp_for("app")}
    (place / "pyproject.toml").write_text("[project]\n", "utf-8")
    stamps.add(environment.stamp_for("app"))
    monkeypatch.setattr(sys, "version", "3.99.0")
    stamps.add(environment.stamp_for("app"))
    (place / "moved").mkdir()
    for name in MADE_OF:
        (place / "moved" / name).write_bytes((place / name).read_bytes())
    monkeypatch.setattr(environment, "ROOT", place / "moved")
    stamps.add(environment.stamp_for("app"))
    catalogue = place / "moved" / "reelcare" / "locale" / "es" / "LC_MESSAGES" / "reelcare.po"
    catalogue.parent.mkdir(parents=True)
    catalogue.write_text('msgid "held"\nmsgstr "retenida"\n', "utf-8")
    stamps.add(environment.stamp_for("app"))
    assert len(stamps) == 5


def test_a_changed_dependency_is_installed_into_the_environment_that_is_there(
    place: Path, ran: list[Sequence[str]]
) -> None:
    environment.ready("app")
    kept = place / ".venv" / "kept"
    kept.touch()
    with (place / "pyproject.toml").open("a") as file:
        file.write("# another line\n")
    environment.ready("app")
    assert kept.exists()
    assert _pip(ran) == [".", "."]


@pytest.mark.parametrize("broken", ["unfinished", "no python", "another python", "empty folder", "rubbish"])
def test_a_half_made_environment_is_made_again(
    place: Path, broken: str, ran: list[Sequence[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    venv = place / ".venv"
    if broken in ("empty folder", "rubbish"):
        venv.mkdir()
    else:
        environment.ready("app")
    left = venv / "left-over"
    left.touch()
    match broken:
        case "unfinished":
            environment.STAMP.write_text("unfinished", "utf-8")
        case "no python":
            environment.python().unlink()
        case "another python":
            environment.STAMP.write_text("app of another python", "utf-8")
            _answer(monkeypatch, lambda command: (0, "3.10.1 (main)"), ran)
        case "rubbish":
            environment.python().parent.mkdir()
            environment.python().write_text("not a program", "utf-8")
            _answer(monkeypatch, lambda command: (126 if "import sys; print(sys.version)" in command else 0, ""), ran)
    environment.ready("app")
    assert not left.exists()
    assert environment.STAMP.read_text("utf-8") == environment.stamp_for("app")


# what is said when it cannot be made


@pytest.mark.parametrize(
    ("told", "says", "code"),
    [
        (NO_NETWORK, "no network, or the package index is out of reach", 1),
        (NO_ROOM, "the disk is full", 7),
        ("ERROR: [Errno 13] Permission denied: '/x/lib'", "may not write", 7),
        ("noise\nERROR: the wheel of x is broken\nmore noise", "could not be made: the wheel of x is broken", 1),
        ("", "it said nothing", 1),
    ],
)
def test_a_failed_installation_is_one_line(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], told: str, says: str, code: int
) -> None:
    _answer(monkeypatch, _pip_says(told))
    assert environment.main(["test"]) == code
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 2
    assert said[1].startswith("start.py: ")
    assert says in said[1]
    assert environment.LOG.read_text("utf-8") == told
    assert environment.STAMP.read_text("utf-8") == "unfinished"


def test_a_python_without_ensurepip_is_told_what_brings_it(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    assert environment.main([]) == 1
    assert "python3-venv" in capsys.readouterr().err.splitlines()[-1]
    assert not environment.VENV.exists()


@pytest.mark.parametrize(
    ("number", "says"),
    [(errno.ENOSPC, "the disk is full"), (errno.EROFS, "read-only"), (errno.EACCES, "may not write")],
)
def test_a_disk_that_takes_nothing_is_one_line(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], number: int, says: str
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number), str(place / ".venv"))

    monkeypatch.setattr("venv.EnvBuilder.create", fail)
    assert environment.main([]) == 7
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 2
    assert says in said[1]


def test_ctrl_c_is_one_line_and_the_next_start_begins_again(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], ran: list[Sequence[str]]
) -> None:
    def interrupt(command: Sequence[str]) -> tuple[int, str]:
        if "install" in command:
            raise KeyboardInterrupt
        return 0, ""

    _answer(monkeypatch, interrupt)
    assert environment.main([]) == 130
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 2
    assert "stopped" in said[1]
    assert environment.STAMP.read_text("utf-8") == "unfinished"
    left = environment.VENV / "left-over"
    left.touch()
    _answer(monkeypatch, lambda command: (0, ""), ran)
    environment.ready("app")
    assert not left.exists()


def test_the_environment_is_not_taken_away_under_the_python_that_runs_in_it(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    environment.VENV.mkdir()
    monkeypatch.setattr(sys, "prefix", str(environment.VENV))
    assert environment.main([]) == 1
    assert "deactivate" in capsys.readouterr().err
    assert environment.VENV.exists()


# what is run in it


@pytest.mark.parametrize(
    ("asked", "run"),
    [
        ([], ["-P", "-m", "reelcare", "demo", "--if-none"]),
        (["yard", "--json"], ["-P", "-m", "reelcare", "yard", "--json"]),
        (["test"], ["-m", "pytest", *environment.QUICK]),
        (["test", "-k", "units"], ["-m", "pytest", *environment.QUICK, "-k", "units"]),
    ],
)
def test_words_go_to_reelcare_or_to_the_tests(
    place: Path, ran: list[Sequence[str]], monkeypatch: pytest.MonkeyPatch, asked: list[str], run: list[str]
) -> None:
    became: list[Sequence[str]] = []

    def become(command: Sequence[str], folder: Path) -> int:
        became.append(command)
        return 5

    monkeypatch.setattr(environment, "_run", become)
    assert environment.main(asked) == 5
    assert became == [[str(environment.python()), *run]]


# extras


def test_extras_are_installed_once_and_come_again_with_every_environment(
    place: Path, ran: list[Sequence[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert environment.main(["--with", "serve,pdf"]) == 0
    assert _pip(ran) == [".[pdf,serve]"]
    assert capsys.readouterr().err.splitlines()[-1] == "start.py: there: pdf, serve"
    ran.clear()
    assert environment.main(["--with=xlsx"]) == 0
    assert _pip(ran) == [".[pdf,serve,xlsx]"]
    ran.clear()
    environment.ready("app")
    assert not ran
    environment.STAMP.write_text("unfinished", "utf-8")
    environment.ready("test")
    assert _pip(ran) == [".[pdf,serve,test,xlsx]"]


def test_words_after_the_extras_are_run_with_them(
    place: Path, ran: list[Sequence[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    became: list[Sequence[str]] = []

    def become(command: Sequence[str], folder: Path) -> int:
        became.append(command)
        return 0

    monkeypatch.setattr(environment, "_run", become)
    assert environment.main(["--with", "serve", "serve", "--write"]) == 0
    assert became == [[str(environment.python()), "-P", "-m", "reelcare", "serve", "--write"]]


@pytest.mark.parametrize("words", [["--with"], ["--with", "pfd"], ["--with", "test"], ["--with="], ["--with", "pdf,"]])
def test_an_extra_that_is_none_is_one_line_and_installs_nothing(
    place: Path, ran: list[Sequence[str]], capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    if words == ["--with", "pdf,"]:
        assert environment.main(words) == 0  # a comma too many names nothing wrong
        return
    assert environment.main(words) == 2
    (said,) = capsys.readouterr().err.splitlines()
    assert "right are pdf, postgres, serve, xlsx" in said
    assert not ran
    assert not environment.VENV.exists()


# the versions that are installed


def _pins() -> dict[str, str]:
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    pairs = (line.split(";")[0].strip().split("==") for line in lines if "==" in line and not line.startswith("#"))
    return {canonicalize_name(name): version for name, version in pairs}


def test_every_dependency_is_pinned_to_a_version_that_is_allowed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [*project["dependencies"], *(one for many in project["optional-dependencies"].values() for one in many)]
    pins = _pins()
    for requirement in map(Requirement, wanted):
        assert pins[canonicalize_name(requirement.name)] in requirement.specifier, requirement


def test_constraints_are_given_to_a_python_that_they_were_made_for(
    place: Path, ran: list[Sequence[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    environment.ready("app")
    (pip,) = [command for command in ran if "install" in command]
    assert pip[pip.index("-c") + 1] == str(place / "constraints.txt")
    ran.clear()
    monkeypatch.setattr(environment, "NEWEST_PYTHON", (3, 10))
    environment.STAMP.unlink()
    environment.ready("app")
    (pip,) = [command for command in ran if "install" in command]
    assert "-c" not in pip[pip.index("install") :]


def test_where_a_program_cannot_become_another_its_exit_code_is_given(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(environment, "BECOMES", False)
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    assert environment._run([sys.executable, "-c", "raise SystemExit(3)"], tmp_path) == 3

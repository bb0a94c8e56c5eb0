"""What is released: every file that belongs in it, nothing else, and a program that runs from it alone."""

import json
import os
import re
import subprocess
import sys
import tarfile
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

from reelcare import __version__

pytestmark = pytest.mark.long

ROOT = Path(__file__).parent.parent
SHIPPED = ("reelcare", "checklists", "demo")
NOT_SOURCE = {".pyc", ".db", ".db-wal", ".db-shm"}


def _sources(root: Path, folder: str) -> set[str]:
    found = (path for path in (root / folder).rglob("*") if path.is_file() and path.suffix not in NOT_SOURCE)
    return {path.relative_to(root).as_posix() for path in found}


def _in_the_wheel(source: str) -> str:
    return source if source.startswith("reelcare/") else f"reelcare/_data/{source}"


def _build(root: Path, kind: str, into: Path) -> Path:
    command = [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(into)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (made,) = into.iterdir()
    return made


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _build(ROOT, "wheel", tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source archive, unpacked."""
    folder = tmp_path_factory.mktemp("sdist")
    archive = _build(ROOT, "sdist", folder)
    with tarfile.open(archive) as file:
        file.extractall(folder, filter="data")
    (inside,) = (path for path in folder.iterdir() if path.is_dir())
    return inside


def _members(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as file:
        assert file.testzip() is None
        names = file.namelist()
    assert len(names) == len(set(names))
    return {name for name in names if ".dist-info/" not in name}


def test_the_wheel_holds_the_source_folders_and_nothing_else(wheel: Path) -> None:
    expected = {_in_the_wheel(name) for folder in SHIPPED for name in _sources(ROOT, folder)}
    page = f"reelcare-{__version__}.data/data/share/man/man1/reelcare.1"
    assert _members(wheel) == {*expected, page}
    assert "reelcare/tui/app.tcss" in expected
    assert "reelcare/locale/es/LC_MESSAGES/reelcare.mo" in expected
    for language in (path.name for path in (ROOT / "reelcare" / "locale").iterdir() if path.is_dir()):
        assert f"reelcare/locale/{language}/LC_MESSAGES/reelcare.mo" in _members(wheel)
    for needed in ("checklists/plan-default.toml", "checklists/machine.toml", "checklists/pre-start.toml"):
        assert f"reelcare/_data/{needed}" in _members(wheel)
    for font in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"):
        assert f"reelcare/reports/fonts/{font}" in _members(wheel)


def test_the_wheel_says_what_pyproject_says(wheel: Path) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    with zipfile.ZipFile(wheel) as file:
        info = f"reelcare-{__version__}.dist-info"
        told = file.read(f"{info}/METADATA").decode().splitlines()
        assert file.read(f"{info}/entry_points.txt").decode().splitlines()[-1] == "reelcare = reelcare.cli:main"
        for licence in ("LICENSE", "reelcare/reports/fonts/LICENSE"):
            assert file.read(f"{info}/licenses/{licence}") == (ROOT / licence).read_bytes()
    assert "License-Expression: MIT AND Bitstream-Vera" in told
    assert not [line for line in told if line.startswith(("Home-page:", "Project-URL:"))], "an address that is none"
    assert f"Version: {__version__}" in told
    assert f"Requires-Python: {project['requires-python']}" in told
    needed = [line for line in told if line.startswith("Requires-Dist: ") and "extra ==" not in line]
    assert len(needed) == len(project["dependencies"])


def test_the_source_archive_holds_all_that_makes_and_tests_the_program(unpacked: Path) -> None:
    for folder in (*SHIPPED, "tests", "manual", ".ci"):
        assert _sources(unpacked, folder) == _sources(ROOT, folder)
    assert "reelcare/locale/es/LC_MESSAGES/reelcare.mo" in _sources(unpacked, "reelcare")
    documents = [path.name for path in ROOT.glob("*.md")]
    for name in ("start.py", "environment.py", "hatch_build.py", "constraints.txt", "LICENSE", *documents):
        assert (unpacked / name).read_bytes() == (ROOT / name).read_bytes()


def test_the_pictures_and_pages_of_the_readme_are_in_the_source_archive(unpacked: Path) -> None:
    named = re.findall(r"\]\(([^)#:\s]+)", (unpacked / "README.md").read_text("utf-8"))
    assert sum(name.endswith(".svg") for name in named) >= 5
    assert [name for name in named if not (unpacked / name).is_file()] == []


def test_the_source_archive_builds_the_same_wheel(unpacked: Path, wheel: Path, tmp_path: Path) -> None:
    assert _members(_build(unpacked, "wheel", tmp_path)) == _members(wheel)


def test_an_editable_installation_compiles_the_catalogues_where_they_lie(unpacked: Path, tmp_path: Path) -> None:
    compiled = unpacked / "reelcare" / "locale" / "es" / "LC_MESSAGES" / "reelcare.mo"
    compiled.unlink()
    program = (
        "import sys; from hatchling.builders.wheel import WheelBuilder; "
        "list(WheelBuilder('.').build(directory=sys.argv[1], versions=['editable']))"
    )
    subprocess.run([sys.executable, "-c", program, str(tmp_path)], cwd=unpacked, check=True, capture_output=True)
    assert compiled.is_file()


@pytest.mark.parametrize("name", ["checklists", "demo"])
def test_without_a_shipped_folder_there_is_no_wheel(unpacked: Path, tmp_path: Path, name: str) -> None:
    folder = unpacked / name
    folder.rename(tmp_path / name)
    try:
        command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
        done = subprocess.run(command, cwd=unpacked, capture_output=True, text=True, check=False)
        assert done.returncode != 0
        assert "nothing in it to ship" in done.stdout + done.stderr
    finally:
        (tmp_path / name).rename(folder)


def test_the_installed_wheel_runs_far_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    # the dependencies are those of the tests' own environment; .ci/run installs the wheel with its own
    venv.EnvBuilder(symlinks=os.name != "nt").create(tmp_path / "fresh")
    scripts = tmp_path / "fresh" / ("Scripts" if os.name == "nt" else "bin")
    (site,) = (tmp_path / "fresh").rglob("site-packages")
    with zipfile.ZipFile(wheel) as file:
        file.extractall(site)
    theirs = next(path for path in sys.path if (Path(path) / "textual").is_dir())
    (site / "dependencies.pth").write_text(theirs, "utf-8")
    register = tmp_path / "demo.db"
    at = str(register)
    for language in ("es", "fr"):
        assert (site / "reelcare" / "locale" / language / "LC_MESSAGES" / "reelcare.mo").is_file()
    for words in (["--version"], ["demo", "--no-app", "--at", at], ["--register", at, "yard", "--json"]):
        command = [str(scripts / "python"), "-P", "-m", "reelcare", *words]
        done = subprocess.run(command, cwd=Path(tmp_path.anchor), capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
    where = [str(scripts / "python"), "-P", "-c", "from reelcare import files; print(files.folder('demo'))"]
    told = subprocess.run(where, cwd=Path(tmp_path.anchor), capture_output=True, text=True, check=True).stdout
    assert Path(told.strip()) == site / "reelcare" / "_data" / "demo"


def test_the_wheel_says_which_libraries_come_with_it_in_the_versions_that_are_installed(wheel: Path) -> None:
    # CycloneDX (ECMA-424) in the place that PEP 770 gives it
    with zipfile.ZipFile(wheel) as file:
        bill = json.loads(file.read(f"reelcare-{__version__}.dist-info/sboms/reelcare.cdx.json"))
    has = {_plain(one["name"]): one["version"] for one in bill["components"]}
    pinned = (line.partition("==") for line in (ROOT / "constraints.txt").read_text("utf-8").splitlines())
    pins = {_plain(name): version for name, equals, version in pinned if equals}
    assert {name: version for name, version in has.items() if pins.get(name) != version} == {}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    extra = [one for name in ("serve", "postgres", "pdf", "xlsx") for one in extras[name]]
    wanted = [*project["dependencies"], *extra]
    assert {_plain(re.split(r"[\[>=<]", one)[0]) for one in wanted} <= set(has)


def _plain(name: str) -> str:
    """A name as indexes compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()

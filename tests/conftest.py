"""What all tests share: they never see the settings or the register of whoever runs them, and never race a clock."""

import gc
import os
import pickle
import shutil
import tempfile
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from reelcare import files, languages
from reelcare.core import text
from reelcare.register import sheets
from tests.pseudo import Pseudo

# examples take as long as they take; with CI set they are the same in each run, so that a failure can be repeated
settings.register_profile("whole", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.register_profile("quick", settings.get_profile("whole"), max_examples=25)

SHIPPED = files.folder("checklists")
IN_MEMORY = Path("/dev/shm")
ROOM = 4 * 2**30
# thousands of registers sync to their disk: in memory that costs nothing, and what is tried is the same
if "TMPDIR" not in os.environ and os.access(IN_MEMORY, os.W_OK) and shutil.disk_usage(IN_MEMORY).free > ROOM:
    os.environ["TMPDIR"] = str(IN_MEMORY)
    tempfile.tempdir = None

OWN = ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA", "XDG_CONFIG_HOME", "XDG_DATA_HOME")
THE_TESTS_OWN = ("TEXTUAL_SNAPSHOT_TEMPDIR",)
SHAPES_OUTPUT = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "PYTHONIOENCODING", "XDG_DOWNLOAD_DIR")


def pytest_configure(config: pytest.Config) -> None:
    """The quick suite tries few examples of each law; where long tests are asked for, it is all of them."""
    settings.load_profile("quick" if "not long" in str(config.option.markexpr) else "whole")
    pytest.MonkeyPatch().setattr(sheets, "toml_table", _parsed_once(sheets.toml_table))


def _parsed_once(read: Callable[[Path], dict[str, Any]]) -> Callable[[Path], dict[str, Any]]:
    """The same, but a table that is shipped is parsed once a run: hundreds of tests ask for all of them."""
    kept: dict[Path, bytes] = {}

    def again(path: Path) -> dict[str, Any]:
        if path.parent != SHIPPED:
            return read(path)
        if path not in kept:
            kept[path] = pickle.dumps(read(path))
        table: dict[str, Any] = pickle.loads(kept[path])
        return table

    return again


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    """Whether a file is left out: doctests are looked for in the core, not in what the tests only use."""
    return True if collection_path.suffix == ".py" and not collection_path.name.startswith("test_") else None


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Thousands of tests are gathered and stay to the end: the garbage collector looks at none of them."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


@pytest.fixture(scope="session", autouse=True)
def _nobodys_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Folders of the user's that are empty, and no variable that changes what the program does or shows."""
    with pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if (name.startswith(("REELCARE_", "TEXTUAL_")) and name not in THE_TESTS_OWN) or name in SHAPES_OUTPUT:
                patch.delenv(name)
        patch.setenv("REELCARE_LANGUAGE", "en")  # whatever the computer speaks
        for name in OWN:
            patch.setenv(name, str(tmp_path_factory.mktemp("own")))
        yield


@pytest.fixture(scope="session", autouse=True)
def _catalogues_compiled() -> None:
    """The catalogues as they stand in the checkout, whenever the package was installed."""
    root = Path(__file__).parent.parent
    for path in root.glob("reelcare/locale/*/LC_MESSAGES/*.po"):
        made = path.with_suffix(".mo")
        if not made.exists() or made.stat().st_mtime <= path.stat().st_mtime:
            from hatch_build import compile_catalogues

            compile_catalogues(root)


@pytest.fixture(autouse=True)
def _english() -> Iterator[None]:
    """No test leaves its language to the next."""
    yield
    text.install()


@pytest.fixture
def pseudo(monkeypatch: pytest.MonkeyPatch) -> Pseudo:
    """Every text that goes through the catalogues stands in brackets, whatever language is asked for."""
    language = Pseudo()
    monkeypatch.setattr(languages, "catalogue", lambda _: language)
    text.install(language)
    return language

"""What all tests share: they never see the settings or the register of whoever runs them, and never race a clock."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from reelcare import languages
from reelcare.core import text
from tests.pseudo import Pseudo

# examples take as long as they take; with CI set they are the same in each run, so that a failure can be repeated
settings.register_profile("reelcare", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("reelcare")

IN_MEMORY = Path("/dev/shm")
ROOM = 4 * 2**30
# thousands of registers sync to their disk: in memory that costs nothing, and what is tried is the same
if "TMPDIR" not in os.environ and os.access(IN_MEMORY, os.W_OK) and shutil.disk_usage(IN_MEMORY).free > ROOM:
    os.environ["TMPDIR"] = str(IN_MEMORY)
    tempfile.tempdir = None

OWN = ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA", "XDG_CONFIG_HOME", "XDG_DATA_HOME")
THE_TESTS_OWN = ("TEXTUAL_SNAPSHOT_TEMPDIR",)
SHAPES_OUTPUT = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "PYTHONIOENCODING")


@pytest.fixture(scope="session", autouse=True)
def _nobodys_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Folders of the user's that are empty, and no variable that changes what the program does or shows."""
    with pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if (name.startswith(("REELCARE_", "TEXTUAL_")) and name not in THE_TESTS_OWN) or name in SHAPES_OUTPUT:
                patch.delenv(name)
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

"""The copy of the day, as the app is left."""

from pathlib import Path

import pytest

from reelcare.cli import leaving
from reelcare.register.opening import open_writer


def test_it_is_made_once_a_day(tmp_path: Path) -> None:
    with open_writer(tmp_path / "register.db") as register:
        leaving.copy_of_the_day(register)
        leaving.copy_of_the_day(register)
    assert len(list((tmp_path / "register-copies").glob("*.db"))) == 1


def test_where_it_cannot_be_made_the_app_is_left_with_a_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "register-copies").write_text("no folder")
    with open_writer(tmp_path / "register.db") as register:
        leaving.copy_of_the_day(register)
    assert capsys.readouterr().err.startswith("no copy was made: ")

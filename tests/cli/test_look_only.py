"""View only: no command writes, whatever it is for."""

from hashlib import sha256
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest

from reelcare.cli import main
from reelcare.cli.parser import parse
from reelcare.register.database import steps
from tests.cli.test_parser import READS

VERSIONS = sorted((Path(__file__).parents[1] / "register" / "versions").glob("*.db"))
WITHOUT_A_TAG = [words for words in READS if "R1" not in words]


def files_in(folder: Path) -> dict[str, str]:
    return {one.name: sha256(one.read_bytes()).hexdigest() for one in folder.iterdir() if one.is_file()}


def only_reads(words: list[str], folder: Path, capsys: Any) -> None:
    """Run it and find every file of the folder as it was."""
    before = files_in(folder)
    assert parse(words).only_reads
    assert main(words) in (0, 1), (words, capsys.readouterr().err)
    assert files_in(folder) == before, words


@pytest.mark.parametrize(
    "path", [pytest.param(one, marks=() if one is VERSIONS[0] else pytest.mark.long) for one in VERSIONS],
    ids=lambda path: path.stem,
)  # fmt: skip
def test_what_only_reads_leaves_a_register_of_every_version_as_it_was(
    path: Path, tmp_path: Path, monkeypatch: Any, capsys: Any
) -> None:
    folder, made = tmp_path / "register", tmp_path / "made"
    for one in (folder, made):
        one.mkdir()
    copyfile(path, folder / "old.db")
    monkeypatch.setenv("REELCARE_REGISTER", str(folder / "old.db"))
    monkeypatch.chdir(made)
    for words in WITHOUT_A_TAG:
        only_reads(words, folder, capsys)


def test_what_an_older_version_kept_differently_is_said_with_what_ends_it(
    farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of it is worked out for each look: seconds, over a thousand machines."""
    assert farm("yard").err.count("older version") == 0
    monkeypatch.setattr(steps, "DERIVED", "another")
    for _again in range(2):
        told = farm("yard", "--json")
        assert "older version" not in told.out
        assert "worked out for this time only; `reelcare rebuild` keeps them" in told.err
    assert farm("rebuild").code == 0
    assert "older version" not in farm("yard").err


def test_what_only_reads_leaves_a_register_in_use_as_it_was(
    farm: Any, tmp_path: Path, monkeypatch: Any, capsys: Any
) -> None:
    made = tmp_path / "made"
    made.mkdir()
    monkeypatch.chdir(made)
    for words in (words for words in READS if words[0] not in ("measure", "set-up")):
        only_reads(words, tmp_path, capsys)


def test_no_demo_is_made(tmp_path: Path, capsys: Any) -> None:
    made = tmp_path / "demo.db"
    assert main(["--view", "demo", "--at", str(made), "--no-app"]) == 2
    assert "--view and demo" in capsys.readouterr().err
    assert not made.exists()


def test_to_look_at_what_is_not_there_says_how_one_is_made(cli: Any, tmp_path: Path) -> None:
    for words in (["--view", "yard"], ["--view", "log", "note", "R1", "--says", "x"], ["rebuild"]):
        told = cli(*words)
        assert told.code == 3
        assert f"{tmp_path / 'register.db'}: no such register; name the right one" in told.err
        assert not (tmp_path / "register.db").exists()

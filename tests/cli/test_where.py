"""Which register is meant: a slip in its name is told, and makes nothing where nothing is meant."""

from pathlib import Path
from typing import Any

import pytest


def test_a_register_that_is_made_is_told_once(cli: Any, tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    assert cli("--register", str(path), "yard").code == 3
    first = cli("--register", str(path), "people", "add", "Mara", "--role", "supervisor")
    assert first.code == 0
    assert first.err.startswith(f"{path}: a new register was made\n")
    told = cli("--register", str(path), "yard")
    assert (told.code, told.err) == (0, "no machine in the yard; `reelcare machine add CARD.toml --by NAME` adds one\n")


@pytest.mark.parametrize(("name", "code"), [("mysql://depot/reels", 3), ("http://x", 3), ("", 2)])
def test_what_is_neither_a_file_nor_a_server_is_refused_and_makes_nothing(
    farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, code: int
) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    for words in (["yard"], ["due", "--overdue"], ["people"]):
        told = farm("--register", name, *words)
        assert told.code == code
        assert "give a file or a postgresql:// URL" in told.err
    assert sorted(tmp_path.rglob("*")) == before


def test_a_server_that_is_not_there_is_no_register(cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("psycopg")
    monkeypatch.setenv("PGHOST", str(tmp_path))
    for url in ("postgresql://", "postgresql:///reels"):
        told = cli("--register", url, "yard")
        assert (told.code, told.out) == (3, "")
        assert told.err == f"reelcare: {url}: no server answers there\n"

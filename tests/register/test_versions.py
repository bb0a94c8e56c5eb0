"""A register of every version so far opens in today's, proves whole, and keeps every hash."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reelcare.register import reading, schema, steps
from reelcare.register.proving import prove
from reelcare.register.register import Register

VERSIONS = sorted(Path(__file__).with_name("versions").glob("*.db"))


def test_every_version_before_this_one_is_kept() -> None:
    assert [int(path.stem) for path in VERSIONS] == list(range(1, steps.NEWEST))


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_it_opens_and_nothing_in_it_has_changed(path: Path, tmp_path: Path) -> None:
    import sqlite3

    shutil.copy(path, tmp_path / "old.db")
    with sqlite3.connect(path) as db:
        before = db.execute("SELECT id, digest FROM entry ORDER BY number").fetchall()
    with Register(tmp_path / "old.db", create=False) as register:
        assert steps.taken(register.db) == steps.NEWEST
        assert schema.rows(register.db, "SELECT id, digest FROM entry ORDER BY number") == before
        assert prove(register).whole
        assert register.rebuild() == []
        (machine,) = reading.yard(register, datetime(2026, 5, 5, tzinfo=UTC))
        assert (machine.tag, machine.standing.run, machine.tally.totals.runs) == ("R1", "held", 3)


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_where_nothing_can_be_written_it_is_read_and_left_as_it_was(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from reelcare.core import entries as e
    from reelcare.register.errors import CannotWrite

    old = tmp_path / "old.db"
    shutil.copy(path, old)
    before = old.read_bytes()
    monkeypatch.setattr(schema.os, "access", lambda *_: False)
    now = datetime(2026, 5, 5, tzinfo=UTC)
    with Register(old, create=False) as register:
        (machine,) = reading.yard(register, now)
        assert (machine.tag, machine.standing.run, machine.tally.totals.runs) == ("R1", "held", 3)
        assert prove(register).whole
        register.signed.update(register.roles())
        with pytest.raises(CannotWrite, match="read-only"):
            register.add(e.Fault(part="hose", says="x"), machine=machine.id, by=next(iter(register.roles())), now=now)
    assert old.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["old.db"]
    monkeypatch.setattr(schema, "MOST_IN_MEMORY", 10)
    with pytest.raises(CannotWrite, match="copy it elsewhere"):
        Register(old, create=False)

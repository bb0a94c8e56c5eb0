"""Copies: whole, private, alone, never over another file; and those that are kept by age."""

import errno
import os
import threading
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.register.errors import CannotWrite, Damaged, Refused
from reelcare.register.exchange import copies
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.register.conftest import let_be_changed, sql
from tests.servers import in_a_file


def test_a_copy_is_whole_private_and_stands_alone(yard: Any, tmp_path: Path) -> None:
    yard.run(0)
    heads = copies.copy(yard.register, tmp_path / "copy.db")
    assert (tmp_path / "copy.db").stat().st_mode & 0o777 == 0o600
    assert sorted(one.name for one in tmp_path.glob("*copy*")) == ["copy.db"]
    assert heads == prove(yard.register).heads
    with open_writer(tmp_path / "copy.db", create=False) as made:
        assert prove(made).whole
        assert made.state(yard.machine).totals == yard.register.state(yard.machine).totals


def test_no_file_is_written_over(yard: Any, tmp_path: Path) -> None:
    (tmp_path / "copy.db").write_text("mine")
    with pytest.raises(Refused, match="exists already"):
        copies.copy(yard.register, tmp_path / "copy.db")
    assert (tmp_path / "copy.db").read_text() == "mine"
    with pytest.raises(CannotWrite):
        copies.copy(yard.register, tmp_path / "no such folder" / "copy.db")


def test_a_disk_that_fails_under_a_copy_is_told_and_leaves_none(
    yard: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(CannotWrite, match=r"copy\.db.*: cannot be made here \(Input/output error\)"):
        copies.copy(yard.register, tmp_path / "copy.db")
    assert list(tmp_path.glob("*copy*")) == []


def test_a_register_that_is_not_whole_gives_no_copy(yard: Any, tmp_path: Path) -> None:
    let_be_changed(yard.register)
    yard.register.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE place = 2")
    with pytest.raises(Damaged, match="the copy is damaged"):
        copies.copy(yard.register, tmp_path / "copy.db")
    assert list(tmp_path.glob("*copy*")) == []


@pytest.mark.long
def test_copies_made_while_others_write_are_whole(yard: Any, tmp_path: Path) -> None:
    """Fifteen of fifteen under load."""
    stop = threading.Event()
    failed: list[BaseException] = []

    def write() -> None:
        try:
            with yard.again() as mine:
                at = yard.now
                while not stop.is_set():
                    at += timedelta(seconds=1)
                    mine.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=at)
        except BaseException as why:
            failed.append(why)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(15):
            heads = copies.copy(yard.register, tmp_path / f"copy{number}.db")
            assert heads[0].count >= 4
    finally:
        stop.set()
        writer.join()
    assert not failed
    counts = []
    for number in range(15):
        with open_writer(tmp_path / f"copy{number}.db", create=False) as made:
            assert prove(made).whole
            counts.append(sql(made.db, "SELECT COUNT(*) FROM entry")[0][0])
    assert counts == sorted(counts)


@in_a_file
def test_a_restored_copy_is_not_spoilt_by_an_old_log(yard: Any, tmp_path: Path) -> None:
    """A copy put in the place of a register whose log is still there."""
    path = tmp_path / "shop.db"
    copies.copy(yard.register, path)
    with open_writer(path) as shop:
        shop.add(e.Fault(part="hose", says="later"), machine=yard.machine, by="Olav", now=yard.now)
        stale = Path(f"{path}-wal").read_bytes()
    copies.copy(yard.register, tmp_path / "restored.db")
    Path(f"{tmp_path / 'restored.db'}-wal").write_bytes(stale)
    whole = (tmp_path / "restored.db").read_bytes()
    with pytest.raises(Damaged, match="another file"):
        open_writer(tmp_path / "restored.db", create=False)
    assert (tmp_path / "restored.db").read_bytes() == whole


def test_the_copy_of_the_day_is_made_once_and_old_ones_go(yard: Any) -> None:
    folder = copies.folder_of(yard.register.path)
    day = datetime(2026, 5, 1, 18, tzinfo=UTC)
    assert copies.keep(yard.register, day) == folder / "2026-05-01.db"
    assert folder.stat().st_mode & 0o777 == 0o700
    assert copies.keep(yard.register, day) is None
    for number in range(1, 120):
        (folder / f"{(day - timedelta(days=number)).date()}.db").write_bytes(b"")
    (folder / "mine.db").write_bytes(b"")
    copies.keep(yard.register, day + timedelta(days=1))
    kept = sorted(one.stem for one in folder.glob("*.db"))
    assert "mine" in kept
    assert {"2026-05-02", "2026-05-01", "2026-04-26"} <= set(kept)
    assert 12 <= len(kept) <= 24


@given(st.lists(st.integers(0, 1500), unique=True), st.dates(date(2025, 1, 1), date(2027, 1, 1)))
def test_of_each_week_and_year_one_is_kept(ago: list[int], today: date) -> None:
    days = [today - timedelta(days=number) for number in ago]
    kept = set(days) - set(copies.superfluous(days, today))
    assert {day for day in days if today - day < timedelta(days=copies.DAYS)} <= kept
    for day in days:
        if today - day < timedelta(weeks=copies.WEEKS):
            assert any(one.isocalendar()[:2] == day.isocalendar()[:2] for one in kept)
        else:
            assert any(one.year == day.year for one in kept)


def test_what_killed_programs_left_of_other_copies_is_taken_away(yard: Any) -> None:
    folder = copies.folder_of(yard.register.path)
    folder.mkdir(parents=True)
    for end in ("", "-wal", "-lock"):
        (folder / f".2026-04-30.db.0123456789ab.new{end}").write_bytes(b"")
    assert copies.keep(yard.register, datetime(2026, 5, 1, 18, tzinfo=UTC)) is not None
    assert [one.name for one in folder.iterdir()] == ["2026-05-01.db"]


def test_how_far_a_copy_is_can_be_told_and_stopping_it_leaves_nothing(yard: Any, tmp_path: Path) -> None:
    from reelcare.register.proof import proving

    told: list[tuple[int, int]] = []

    def stop(done: int, of: int) -> None:
        told.append((done, of))
        raise KeyboardInterrupt

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(proving, "PAGE", 2)
        with pytest.raises(KeyboardInterrupt):
            copies.copy(yard.register, tmp_path / "copy.db", stop)
    assert told[0][0] == 2
    assert list(tmp_path.glob("*copy*")) == []

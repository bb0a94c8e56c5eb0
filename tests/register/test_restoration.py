"""Going back to a copy: nothing that the register still has is lost, and an entry says who did it and why."""

import contextlib
import errno
import os
import re
import resource
import shutil
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import Busy, CannotWrite, Damaged, NotAllowed, NotThere, Refused, RegisterError
from reelcare.register.exchange import carry_files, carry_format, copies, restoration
from reelcare.register.integrity import witness
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof.proving import prove, prove_the_end
from tests.ordeal.forked import alone
from tests.register.conftest import carry_in, let_be_changed, sql
from tests.register.going_back import HOLD, WHY, held, restore, restored
from tests.servers import in_a_file

pytestmark = in_a_file


def files_of(folder: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}


@pytest.fixture
def copy(yard: Any, tmp_path: Path) -> Path:
    yard.run(0)
    path = tmp_path / "copy.db"
    copies.copy(yard.register, path)
    return path


def test_who_goes_back_twice_in_one_second_has_both_registers_set_aside(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    yard.register.close()
    asides = [restore(yard, copy).aside for _ in range(3)]
    names = [re.sub(r"\d{8}T\d{6}Z", "then", one.name) for one in asides if isinstance(one, Path)]
    assert names == ["r-before-then.db", "r-before-then_2.db", "r-before-then_3.db"]
    with yard.again() as now:
        assert prove(now).whole
        assert held(now, yard.machine) == ["spring gone"]
        assert len(restored(now)) == 3
    for aside in asides:
        with open_writer(Path(str(aside)), create=False) as before:
            assert prove(before).whole


def test_what_the_register_has_and_the_copy_lacks_is_brought_back(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    before, terminal = witness.heads(yard.register.db), yard.register.terminal
    yard.register.close()
    done = restore(yard, copy)
    assert (done.brought_back, done.gone, done.before) == (1, (), before)
    with yard.again() as now:
        assert prove(now).whole
        assert held(now, yard.machine) == ["spring gone"]
        assert now.terminal == done.terminal != terminal
        (entry,) = restored(now)
        assert isinstance(entry.what, e.Restored)
        assert (entry.by, entry.terminal, entry.what.why) == ("Mara", now.terminal, WHY)
        assert entry.what.before == {terminal: [before[0].count, before[0].digest]}
        assert entry.what.after[terminal][0] == before[0].count - 1
    assert isinstance(done.aside, Path)
    with open_writer(done.aside, create=False) as aside:
        assert prove(aside).whole
        assert held(aside, yard.machine) == ["spring gone"]


def test_what_only_the_heads_show_is_told_as_gone_and_ends_the_finding(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    terminal = yard.register.terminal
    yard.register.close()
    for end in ("", "-wal", "-shm"):
        Path(f"{yard.place}{end}").unlink(missing_ok=True)
    shutil.copy(copy, yard.place)  # put over by hand: the hold is gone, and the heads tell
    with yard.again() as lost:
        assert not prove(lost).whole
        lost.add(e.Fault(part="hose", says="scuffed", holds="run"), machine=yard.machine, by="Mara", now=yard.now)
        assert not prove(lost).whole
    done = restore(yard, copy)
    assert [(one.terminal, done.brought_back) for one in done.gone] == [(terminal, 1)]
    with yard.again() as now:
        assert prove(now).whole
        assert prove_the_end(now) == []
        assert held(now, yard.machine) == ["scuffed"]
        assert restored(now)[0].what.before[terminal][0] == done.gone[0].count  # type: ignore[attr-defined]


def test_a_copy_beside_the_log_of_another_file_is_refused_and_nothing_changes(yard: Any, copy: Path) -> None:
    yard.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    yard.add(HOLD)
    log = Path(f"{yard.place}-wal").read_bytes()
    heads = witness.path_of(yard.register.path).read_bytes()
    yard.register.close()
    shutil.copy(copy, yard.place)
    Path(f"{yard.place}-wal").write_bytes(log)
    witness.path_of(Path(yard.place)).write_bytes(heads)
    before = files_of(Path(yard.place).parent)
    for read_only in (False, True):
        with pytest.raises(Damaged, match=r"the log beside it .* belongs to another file.*reelcare restore COPY"):
            open_writer(yard.place, create=False, read_only=read_only)
    assert files_of(Path(yard.place).parent) == before
    done = restore(yard, copy)
    assert isinstance(done.aside, Path)
    assert done.aside.with_name(f"{done.aside.name}-wal").read_bytes() == log
    with yard.again() as now:
        assert prove(now).whole
        assert done.gone != ()


@pytest.mark.parametrize("folder", ["ours", "read-only"])
def test_a_register_as_it_was_closed_beside_a_later_log_is_refused_and_nothing_changes(
    yard: Any, monkeypatch: pytest.MonkeyPatch, folder: str
) -> None:
    """Somebody copied the closed file by hand, and put it back where a program was killed since."""
    path = Path(yard.place)
    yard.register.close()
    closed = path.read_bytes()
    with yard.again() as later:
        for _unused in range(40):
            later.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Mara", now=yard.now)
        later.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        later.add(HOLD, machine=yard.machine, by="Mara", now=yard.now)
        log, whole = Path(f"{path}-wal").read_bytes(), path.read_bytes()
    Path(f"{path}-wal").write_bytes(log)
    path.write_bytes(whole)
    with open_reader(path) as killed:
        assert held(killed, yard.machine) == ["spring gone"]
    Path(f"{path}-wal").write_bytes(log)
    path.write_bytes(closed)
    if folder == "read-only":
        monkeypatch.setattr(os, "access", lambda *_: False)
    for read_only in (False, True):
        with pytest.raises(Damaged, match=r"the log beside it .* belongs to another file.*reelcare restore COPY"):
            open_writer(path, create=False, read_only=read_only)
    assert (path.read_bytes(), Path(f"{path}-wal").read_bytes()) == (closed, log)


def test_another_register_is_no_copy_of_this_one(yard: Any, tmp_path: Path) -> None:
    """All that stands in it would count here with nobody's name, and could not be taken out again."""
    yard.run(0)
    carry_files.carry_out(yard.register, tmp_path / "x.carry", now=yard.now)
    other = tmp_path / "other.db"
    with open_writer(other) as theirs:  # it has our entries, too, carried in
        people.enrol(theirs, "Mara", "supervisor", by="Mara", now=yard.now)
        carry_files.carry_in(theirs, carry_format.read(tmp_path / "x.carry"), by="Mara", now=yard.now)
        theirs.add(e.Carded(card={"tag": "X9"}), by="Mara", now=yard.now)
    yard.register.close()
    before = files_of(tmp_path)
    with pytest.raises(NotThere, match=r"other\.db: no copy of this register"):
        restore(yard, other)
    after = files_of(tmp_path)
    assert {name for name in after if name.startswith(("r-", "."))} == set()
    assert after["other.db"] == before["other.db"]
    with yard.again() as now:
        assert list(now.tags().values()) == ["R1"]
        assert prove(now).whole
    fresh = tmp_path / "fresh.db"
    with open_writer(fresh) as begun:  # nothing but people: begun anew where the disk failed
        people.enrol(begun, "Mara", "supervisor", by="Mara", now=yard.now)
    done = restoration.restore(fresh, other, by="Mara", why=WHY, now=yard.now + timedelta(hours=1))
    assert done.brought_back == 1


def test_a_copy_of_before_the_first_machine_is_one_of_this_register(place: Path, tmp_path: Path) -> None:
    copy, now = tmp_path / "copy.db", datetime(2026, 5, 1, tzinfo=UTC)
    with open_writer(place) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=now)
        copies.copy(register, copy)
        register.add(e.Carded(card={"tag": "R1"}), by="Mara", now=now)
    done = restoration.restore(place, copy, by="Mara", why=WHY, now=now + timedelta(hours=1))
    assert done.brought_back == 1


def test_a_damaged_register_gives_what_can_be_read(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    yard.run(3)
    let_be_changed(yard.register)
    last = yard.written[-1]
    yard.register.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE id = ?", (last.id,))
    yard.register.close()
    done = restore(yard, copy)
    assert done.brought_back == 1
    with yard.again() as now:
        assert prove(now).whole
        assert held(now, yard.machine) == ["spring gone"]


def test_what_stands_beside_an_entry_without_a_place_comes_back(yard: Any, copy: Path, tmp_path: Path) -> None:
    """Damage can make text of a number, where the database itself lets none in."""
    with open_writer(tmp_path / "other.db") as other:
        people.enrol(other, "Bo", "supervisor", by="Bo", now=yard.now)
        carry_files.carry_out(other, tmp_path / "other.carry", now=yard.now)
    carry_in(yard.register, tmp_path / "other.carry", yard.now)
    yard.add(HOLD)
    let_be_changed(yard.register)
    yard.register.close()
    with contextlib.closing(sqlite3.connect(yard.place)) as damaged:
        (table,) = damaged.execute("SELECT sql FROM sqlite_master WHERE name = 'entry'").fetchone()
        damaged.execute("PRAGMA writable_schema = 1")
        damaged.execute("UPDATE sqlite_master SET sql = ? WHERE name = 'entry'", (table.replace(" STRICT", ""),))
        damaged.commit()
    with contextlib.closing(sqlite3.connect(yard.place)) as damaged:
        damaged.execute("PRAGMA ignore_check_constraints = 1")
        damaged.execute("UPDATE entry SET place = 'x' WHERE person = 'Bo'")
        damaged.execute("PRAGMA writable_schema = 1")
        damaged.execute("UPDATE sqlite_master SET sql = ? WHERE name = 'entry'", (table,))
        damaged.commit()
    restore(yard, copy)
    with yard.again() as now:
        assert prove(now).whole
        assert held(now, yard.machine) == ["spring gone"]


@pytest.mark.parametrize("damage", [b"", b"no register", b"SQLite format 3\x00" + b"\xff" * 5000])
def test_a_register_of_which_nothing_can_be_read_is_set_aside_as_it_is(yard: Any, copy: Path, damage: bytes) -> None:
    yard.register.close()
    Path(yard.place).write_bytes(damage)
    done = restore(yard, copy)
    assert isinstance(done.aside, Path)
    assert done.aside.read_bytes() == damage
    with yard.again() as now:
        assert prove(now).whole
        assert len(restored(now)) == 1


def test_a_register_that_is_gone_is_put_back(yard: Any, copy: Path) -> None:
    yard.register.close()
    for one in Path(yard.place).parent.glob(f"{Path(yard.place).name}*"):
        one.unlink()
    assert restore(yard, copy).aside is None
    with yard.again() as now:
        assert prove(now).whole


def test_only_a_supervisor_goes_back_and_only_to_a_copy(yard: Any, copy: Path, tmp_path: Path) -> None:
    yard.register.give_pin("Mara", "135790", by="Mara")
    yard.register.close()
    before = files_of(Path(yard.place).parent)
    (tmp_path / "text.db").write_text("no copy")
    cases: list[tuple[Path, dict[str, Any], type[RegisterError]]] = [
        (copy, {"by": "Olav", "ask_pin": lambda _: "x"}, NotAllowed),
        (copy, {"by": "Nobody", "ask_pin": lambda _: "x"}, NotAllowed),
        (copy, {"ask_pin": None}, NotAllowed),
        (copy, {"ask_pin": lambda _: "135790", "why": ""}, Refused),
        (tmp_path / "none.db", {}, NotThere),
        (tmp_path / "text.db", {}, NotThere),
        (Path(yard.place), {}, Refused),
    ]
    for path, given, error in cases:
        with pytest.raises(error):
            restore(yard, path, **given)
    after = files_of(Path(yard.place).parent)
    assert {name: after.get(name) for name in before if not name.endswith(("-wal", "-shm", ".queue"))} == {
        name: data for name, data in before.items() if not name.endswith(("-wal", "-shm", ".queue"))
    } | {name: after[name] for name in (Path(yard.place).name,)}
    assert not [one for one in after if ".new" in one or "-before-" in one]
    with yard.again() as now:
        assert prove(now).whole
        assert restored(now) == []


def test_a_pin_given_since_the_copy_counts_for_it_and_stays(yard: Any, copy: Path) -> None:
    yard.register.give_pin("Mara", "135790", by="Mara")
    yard.register.close()
    restore(yard, copy, ask_pin=lambda _: "135790")
    with yard.again() as now, pytest.raises(NotAllowed):
        now.add(HOLD, machine=yard.machine, by="Mara", now=yard.now + timedelta(days=1))


def test_a_copy_that_is_not_whole_is_refused(yard: Any, copy: Path) -> None:
    with open_writer(copy) as made:
        let_be_changed(made)
        made.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE place = 2")
    yard.register.close()
    with pytest.raises(Damaged, match=re.escape(f"{copy}: the copy is damaged, nothing was changed")):
        restore(yard, copy)
    with yard.again() as now:
        assert restored(now) == []


def test_while_another_program_has_it_open_it_is_busy(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    with pytest.raises(Busy):
        restore(yard, copy)
    assert held(yard.register, yard.machine) == ["spring gone"]
    assert sql(yard.register.db, "PRAGMA journal_mode") == [("wal",)]


@pytest.mark.parametrize("step", range(12))
def test_stopped_anywhere_one_of_the_two_is_there(
    yard: Any, copy: Path, step: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every change to the folder is counted, and the one at `step` does not happen any more."""
    yard.add(HOLD)
    yard.register.close()
    done = 0

    class Stopped(BaseException):
        pass

    def counted(change: Any) -> Any:
        def call(*given: Any, **named: Any) -> Any:
            nonlocal done
            if str(given[0]).startswith(str(yard.place)) or str(given[-1]).startswith(str(yard.place)):
                done += 1
                if done > step:
                    raise Stopped
            return change(*given, **named)

        return call

    with monkeypatch.context() as patched:
        for name in ("link", "replace", "unlink"):
            patched.setattr(os, name, counted(getattr(os, name)))
        with contextlib.suppress(Stopped):
            restore(yard, copy)
    with yard.again() as now:
        # the old register or the new one, with the hold; or the old one without its log, of which the heads tell
        gone = [one.what for one in prove(now).findings]
        assert (
            held(now, yard.machine) == ["spring gone"]
            or "was here before" in str(gone)
            or "were here before" in str(gone)
        )
    for left in Path(yard.place).parent.glob("*-before-*"):
        left.unlink()
    restore(yard, copy, now=yard.now + timedelta(hours=2))
    with yard.again() as now:
        assert prove(now).whole
        assert held(now, yard.machine) == ["spring gone"]


def test_behind_a_link_the_register_is_replaced_and_not_the_link(yard: Any, copy: Path, tmp_path: Path) -> None:
    yard.add(HOLD)
    yard.register.close()
    (tmp_path / "desk").mkdir()
    link = tmp_path / "desk" / "link.db"
    link.symlink_to(yard.place)
    done = restoration.restore(link, copy, by="Mara", why=WHY, now=yard.now + timedelta(hours=1))
    assert link.is_symlink()
    assert [one.name for one in link.parent.iterdir()] == ["link.db"]
    assert done.brought_back == 1
    assert Path(str(done.aside)).parent == Path(yard.place).parent
    for name in (link, yard.place):
        with open_writer(name, create=False) as now:
            assert prove(now).whole
            assert now.terminal == done.terminal
            assert held(now, yard.machine) == ["spring gone"]


def stands(folder: Path) -> dict[str, bytes]:
    """What lies in a folder, the turns of writers and a register's header apart."""
    found = {name: what for name, what in files_of(folder).items() if not name.endswith(".queue")}
    return {name: what[100:] if name == "r.db" else what for name, what in found.items()}


@pytest.mark.parametrize("fails", [errno.EROFS, errno.ENOSPC, errno.EACCES])
@pytest.mark.parametrize("call", ["open", "link", "replace", "fsync"])
def test_a_disk_that_is_full_or_read_only_leaves_everything_as_it_was(
    yard: Any, copy: Path, call: str, fails: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard.add(HOLD)
    yard.register.close()
    before = stands(Path(yard.place).parent)
    does = getattr(os, call)

    def refuse(*given: Any, **named: Any) -> Any:
        if call == "open" and not given[1] & os.O_CREAT:
            return does(*given, **named)
        raise OSError(fails, os.strerror(fails))

    with monkeypatch.context() as patched:
        patched.setattr(os, call, refuse)
        if call == "link":
            patched.setattr(shutil, "copy2", refuse)
        with pytest.raises(CannotWrite, match=os.strerror(fails)):
            restore(yard, copy)
    assert stands(Path(yard.place).parent) == before
    restore(yard, copy, now=yard.now + timedelta(hours=2))
    with yard.again() as again:
        assert prove(again).whole
        assert held(again, yard.machine) == ["spring gone"]


def test_a_disk_that_fills_up_on_the_way_leaves_everything_as_it_was(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    yard.register.close()
    before = stands(Path(yard.place).parent)

    def fill_up() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (64 * 1024, 64 * 1024))
        with pytest.raises(CannotWrite):
            restore(yard, copy)

    assert alone(fill_up)
    assert stands(Path(yard.place).parent) == before
    with yard.again() as again:
        assert held(again, yard.machine) == ["spring gone"]


@pytest.mark.parametrize("name", ["with space.db", "no ending", "?q#50%.db", "-dash.db", "Übung ✓.db", "two.dots.db"])
def test_odd_names_are_gone_back_to_like_any(yard: Any, copy: Path, tmp_path: Path, name: str) -> None:
    yard.register.close()
    place = tmp_path / "odd" / name
    place.parent.mkdir()
    shutil.copy(yard.place, place)
    odd_copy = tmp_path / f"copy of {name}"
    shutil.copy(copy, odd_copy)
    done = restoration.restore(place, odd_copy, by="Mara", why=WHY, now=yard.now + timedelta(hours=1))
    with open_writer(place, create=False) as now:
        assert prove(now).whole
        assert now.terminal == done.terminal
    with open_writer(Path(str(done.aside)), create=False) as aside:
        assert prove(aside).whole


def test_a_name_that_has_no_room_for_what_is_set_aside_is_refused(yard: Any, copy: Path, tmp_path: Path) -> None:
    yard.register.close()
    place = tmp_path / f"{'n' * 230}.db"
    shutil.copy(yard.place, place)
    with pytest.raises(CannotWrite, match="too long"):
        restoration.restore(place, copy, by="Mara", why=WHY, now=yard.now + timedelta(hours=1))
    with open_writer(place, create=False) as now:
        assert restored(now) == []
        assert prove(now).whole

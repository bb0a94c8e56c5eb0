"""Opening: what cannot be opened or written is told in one line with its exit code, and nothing told is lost."""

import contextlib
import errno
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.database import sqlite_file, write_queue
from reelcare.register.errors import Busy, CannotWrite, Damaged, NotThere, RegisterError
from reelcare.register.exchange import copies
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof import proving
from tests.register.conftest import entries
from tests.servers import in_a_file

NOW = datetime(2026, 5, 1, 6, tzinfo=UTC)


def test_damage_in_the_schema_itself_is_told_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    open_writer(path).close()
    data = path.read_bytes()
    # SQLite repeats the name in its message, which is no text any more
    assert b"machine_state_lower_tag" in data
    path.write_bytes(data.replace(b"machine_state_lower_tag", b"machine\xeestate_lower_tag", 1))
    with pytest.raises(Damaged, match="damaged") as refused, open_writer(path, create=False) as register:
        proving.prove(register)
    assert refused.value.exit_code == 5


def test_a_register_that_is_not_there_is_made_only_where_that_is_meant(tmp_path: Path) -> None:
    with pytest.raises(NotThere, match="no such register") as refused:
        open_writer(tmp_path / "r.db", create=False)
    assert refused.value.exit_code == 3
    with pytest.raises(NotThere, match="a folder"):
        open_writer(tmp_path)
    open_writer(tmp_path / "deep" / "down" / "r.db").close()
    assert not list(tmp_path.glob("**/*.new"))


@in_a_file
def test_a_busy_register_says_so_and_nothing_is_written(yard: object, monkeypatch: pytest.MonkeyPatch) -> None:
    from reelcare.core import entries as e

    register = yard.register  # type: ignore[attr-defined]
    register.db.execute_sql("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(register.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        with pytest.raises(Busy, match="nothing was saved") as refused:
            yard.add(e.Reading(counter="hours", value=1))  # type: ignore[attr-defined]
        assert refused.value.exit_code == 4
    finally:
        other.close()
    yard.add(e.Reading(counter="hours", value=1))  # type: ignore[attr-defined]


@in_a_file
def test_a_read_only_register_says_so(yard: object) -> None:
    from reelcare.core import entries as e

    yard.register.db.execute_sql("PRAGMA query_only = 1")  # type: ignore[attr-defined]
    with pytest.raises(CannotWrite, match="read-only"):
        yard.add(e.Reading(counter="hours", value=1))  # type: ignore[attr-defined]


def test_a_register_in_a_read_only_folder_can_still_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now = NOW
    path = tmp_path / "r.db"
    with open_writer(path) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=now)
    monkeypatch.setattr(os, "access", lambda *_: False)
    before = path.read_bytes()
    with open_writer(path, create=False) as register:
        assert register.roles() == {"Mara": "supervisor"}
        with pytest.raises(CannotWrite, match="read-only"):
            people.enrol(register, "Olav", "operator", by="Mara", now=now)
    assert path.read_bytes() == before


def test_a_register_that_was_not_closed_can_be_read_in_a_read_only_folder_with_all_that_its_log_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, left = tmp_path / "r.db", tmp_path / "left"
    left.mkdir()
    with open_writer(path) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=NOW)
        register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        people.enrol(register, "Olav", "operator", by="Mara", now=NOW)
        for name in ("r.db", "r.db-wal"):
            shutil.copyfile(tmp_path / name, left / name)
    monkeypatch.setattr(os, "access", lambda *_: False)
    before = {one.name: one.read_bytes() for one in left.iterdir()}
    with open_writer(left / "r.db", create=False) as register:
        assert register.roles() == {"Mara": "supervisor", "Olav": "operator"}
        assert proving.prove(register).whole
        with pytest.raises(CannotWrite, match="read-only"):
            people.enrol(register, "Tove", "mechanic", by="Mara", now=NOW)
    assert {one.name: one.read_bytes() for one in left.iterdir()} == before
    monkeypatch.setattr(sqlite_file, "MOST_IN_MEMORY", 10)
    with pytest.raises(CannotWrite, match="was not closed"):
        open_writer(left / "r.db", create=False)


def test_a_full_disk_is_told_before_sqlite_meets_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=1000))
    with pytest.raises(CannotWrite, match="make room") as refused:
        open_writer(tmp_path / "r.db")
    assert refused.value.exit_code == 7
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("closed", [True, False])
def test_on_a_full_disk_a_register_can_be_looked_at_and_nothing_is_laid_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, closed: bool
) -> None:
    """A held machine is seen, and SQLite needs no room to see it."""
    path, left = tmp_path / "r.db", tmp_path / "left"
    left.mkdir()
    with open_writer(path) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=NOW)
        register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        machine = register.add(e.Carded(card={"tag": "R1"}), by="Mara", now=NOW).machine
        register.add(e.Fault(part="pawl", says="slips", holds="run"), machine=machine, by="Mara", now=NOW)
        for name in () if closed else ("r.db", "r.db-wal"):
            shutil.copyfile(tmp_path / name, left / name)
    if closed:
        shutil.copyfile(path, left / "r.db")
    before = {one.name: one.read_bytes() for one in left.iterdir()}
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=0))
    with open_reader(left / "r.db") as reader:
        assert [one.says for one in reader.state(str(machine)).faults] == ["slips"]
        assert {one.name: one.read_bytes() for one in left.iterdir()} == before
    assert {one.name: one.read_bytes() for one in left.iterdir()} == before


def test_a_damaged_register_says_so(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    open_writer(path).close()
    with contextlib.closing(sqlite3.connect(path)) as db, db:
        db.execute("PRAGMA journal_mode = delete")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(RegisterError):
        open_writer(path, create=False)


WRITER = """
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.acts import people, walk_rounds
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer

t = datetime(2026, 5, 1, 6, tzinfo=UTC)
register = open_writer(Path(sys.argv[1]))
people.enrol(register, "Mara", "supervisor", by="Mara", now=t)
machine = register.add(e.Carded(card={"tag": "R1"}), by="Mara", now=t).machine
going = walk_rounds.begin(register, machine, sheets.load().by_id["pre-start"], by="Mara", now=t)
for number, question in enumerate(going.walk.sheet.questions):
    t += timedelta(seconds=30)
    seen = "2" if question.kind == "count" else {"voltage": "12.6 V", "pressure": "0.5 bar", "speed": "20 m/h"}.get(
        question.quantity) if question.is_number else next(one.id for one in question.choices if one.right)
    walk_rounds.answer(register, going.id, question.id, seen, by="Mara", now=t)
    print(question.id, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="there is no kill -9")
@pytest.mark.parametrize("after", [11, *(pytest.param(one, marks=pytest.mark.long) for one in (3, 26))])
def test_killing_it_in_the_middle_of_a_walk_round_loses_no_acknowledged_answer(tmp_path: Path, after: int) -> None:
    path = tmp_path / "r.db"
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    told = [writer.stdout.readline().strip() for _ in range(after)]
    writer.send_signal(signal.SIGKILL)
    told += [line.strip() for line in writer.stdout.read().splitlines() if line.strip()]
    writer.stdout.close()
    writer.wait()
    with open_writer(path, create=False) as register:
        answers = [one.what.question for one in entries(register, "kind = 'answer' ORDER BY number")]  # type: ignore[attr-defined]
        assert answers[: len(told)] == told
        assert len(answers) <= len(told) + 1
        assert proving.prove(register).whole


def test_a_disk_that_fails_under_a_new_register_is_told_and_leaves_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(CannotWrite, match=r"new\.db: cannot be made here \(Input/output error\)"):
        open_writer(tmp_path / "new.db")
    assert list(tmp_path.iterdir()) == []


TRACED = """
import os, shutil, sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import CannotWrite
from reelcare.register.opening import open_writer
from reelcare.register.writing.writer import Writer

place, now = Path(sys.argv[1]), datetime(2026, 5, 1, 6, tzinfo=UTC)
register = open_writer(place / "r.db")
people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
(place / "begun").touch()
try:
    register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)
except CannotWrite as why:
    print(why)
# the power goes: nothing is closed
os._exit(0)
"""


@pytest.mark.long
@pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")
def test_a_disk_that_does_not_confirm_is_not_told_as_nothing_saved(tmp_path: Path) -> None:
    """What was handed to the disk can be found again by the next start: nobody may say that it was not saved."""

    def ran(number: int) -> tuple[str, str]:
        folder = tmp_path / str(number)
        folder.mkdir()
        inject = ["-e", f"inject=fdatasync:error=EIO:when={number}+"] if number else []
        told = subprocess.run(
            ["strace", "-f", "-o", folder / "log", "-e", "trace=fdatasync,openat", *inject,
             sys.executable, "-c", TRACED, folder],
            capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(Path.cwd())},
        )  # fmt: skip
        return told.stdout, (folder / "log").read_text("utf-8", "replace")

    _, log = ran(0)
    before = log.partition("begun")[0].count("fdatasync(")
    said, _ = ran(before + 1)
    with open_writer(tmp_path / str(before + 1) / "r.db", create=False) as register:
        assert [one.what.kind for one in entries(register, "true ORDER BY number")] == ["person", "card"]
        assert proving.prove(register).whole
    assert "nothing was saved" not in said
    assert "check what was saved, and try again" in said


def test_a_register_behind_a_link_keeps_everything_beside_its_own_file(tmp_path: Path) -> None:
    there, here = tmp_path / "disk", tmp_path / "desk"
    there.mkdir()
    here.mkdir()
    link = here / "link.db"
    link.symlink_to(there / "r.db")
    with pytest.raises(NotThere, match=r"link\.db: a link to .*r\.db, which is not there"):
        open_writer(link)
    open_writer(there / "r.db").close()
    with open_writer(link) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=NOW)
        assert register.path == there / "r.db"
        assert {one.name for one in there.iterdir()} >= {"r.db", "r.db-wal", "r.db.queue"}
        # the turn to write is one and the same by both names
        with register.db.writing():
            assert write_queue.taken(there / "r.db") is None
    assert (there / "r.db.heads").exists()
    assert [one.name for one in here.iterdir()] == ["link.db"]
    assert link.is_symlink()
    (here / "a.db").symlink_to(here / "b.db")
    (here / "b.db").symlink_to(here / "a.db")
    with pytest.raises(NotThere, match="in a circle"):
        open_writer(here / "a.db")


@pytest.mark.parametrize("then", ["replaced", "taken away"])
def test_a_register_whose_file_is_another_by_now_takes_nothing_more(tmp_path: Path, then: str) -> None:
    """What was said to be saved went into the log of a file that nobody finds any more."""
    path = tmp_path / "r.db"
    with open_writer(path) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=NOW)
        copies.copy(register, tmp_path / "copy.db")
        os.replace(tmp_path / "copy.db", path) if then == "replaced" else path.unlink()
        with pytest.raises(NotThere, match="taken away or replaced"):
            people.enrol(register, "Tove", "mechanic", by="Mara", now=NOW)

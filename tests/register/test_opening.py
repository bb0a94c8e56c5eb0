"""Opening: what is not a register of ours is refused in one line and left byte for byte as it was."""

import errno
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from reelcare import files
from reelcare.register import proving, schema, steps
from reelcare.register.errors import Busy, CannotWrite, NotThere, NotWhole, RegisterError
from reelcare.register.register import Register
from tests.servers import in_a_file


def strangers(folder: Path) -> dict[str, Path]:
    empty = folder / "empty.db"
    empty.write_bytes(b"")
    text = folder / "text.db"
    text.write_text("this is no register at all, but it is long enough to have a header\n" * 20)
    short = folder / "short.db"
    short.write_bytes(schema.MAGIC)
    other = folder / "other.db"
    with sqlite3.connect(other) as db:
        db.execute("CREATE TABLE t (x)")
    newer = folder / "newer.db"
    Register(newer).close()
    with sqlite3.connect(newer) as db:
        db.execute(f"PRAGMA user_version = {steps.NEWEST + 1}")
        db.execute("PRAGMA journal_mode = delete")
    return {"empty": empty, "text": text, "short": short, "other": other, "newer": newer}


@pytest.mark.parametrize(
    ("which", "says"),
    [("empty", "empty file"), ("text", "not a register"), ("short", "not a register"),
     ("other", "not a register of ours"), ("newer", "newer version")],
)  # fmt: skip
def test_a_stranger_is_refused_and_left_as_it_was(tmp_path: Path, which: str, says: str) -> None:
    path = strangers(tmp_path)[which]
    before = path.read_bytes()
    for create in (True, False):
        with pytest.raises(NotThere, match=says) as refused:
            Register(path, create=create)
        assert refused.value.exit_code == 3
    assert path.read_bytes() == before


def test_damage_in_the_schema_itself_is_told_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    Register(path).close()
    data = path.read_bytes()
    # the engine repeats the name in its message, which is no text any more
    path.write_bytes(data.replace(b"machine_now_tag", b"machine\xeenow_tag", 1))
    with pytest.raises(NotWhole, match="damaged") as refused, Register(path, create=False) as register:
        proving.prove(register)
    assert refused.value.exit_code == 5


def test_a_register_that_is_not_there_is_made_only_where_that_is_meant(tmp_path: Path) -> None:
    with pytest.raises(NotThere, match="no such register"):
        Register(tmp_path / "r.db", create=False)
    with pytest.raises(NotThere, match="a folder"):
        Register(tmp_path)
    Register(tmp_path / "deep" / "down" / "r.db").close()
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
    from datetime import UTC, datetime

    from reelcare.register import people

    now = datetime(2026, 5, 1, tzinfo=UTC)
    path = tmp_path / "r.db"
    with Register(path) as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=now)
    monkeypatch.setattr(schema.os, "access", lambda *_: False)
    before = path.read_bytes()
    with Register(path, create=False) as register:
        assert register.roles() == {"Mara": "supervisor"}
        with pytest.raises(CannotWrite, match="read-only"):
            people.enrol(register, "Olav", "operator", by="Mara", now=now)
    assert path.read_bytes() == before
    (tmp_path / "r.db-wal").write_bytes(b"x")
    with pytest.raises(CannotWrite, match="was not closed"):
        Register(path, create=False)


def test_a_full_disk_is_told_before_the_engine_meets_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = schema.shutil.disk_usage(tmp_path)
    monkeypatch.setattr(schema.shutil, "disk_usage", lambda _: usage._replace(free=1000))
    with pytest.raises(CannotWrite, match="make room") as refused:
        Register(tmp_path / "r.db")
    assert refused.value.exit_code == 7
    assert list(tmp_path.iterdir()) == []


def test_a_damaged_register_says_so(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    Register(path).close()
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA journal_mode = delete")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(RegisterError):
        Register(path, create=False)


WRITER = """
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register import people, sheets, walks
from reelcare.register.register import Register

t = datetime(2026, 5, 1, 6, tzinfo=UTC)
register = Register(Path(sys.argv[1]))
people.enrol(register, "Mara", "supervisor", by="Mara", now=t)
machine = register.add(e.Carded(card={"tag": "R1"}), by="Mara", now=t).machine
going = walks.begin(register, machine, sheets.load().by_id["pre-start"], by="Mara", now=t)
for number, question in enumerate(going.walk.sheet.questions):
    t += timedelta(seconds=30)
    seen = "2" if question.kind == "count" else {"length": "0.1 m", "pressure": "0.5 bar", "speed": "20 m/h"}.get(
        question.quantity) if question.is_number else next(one.id for one in question.choices if one.right)
    walks.answer(register, going.id, question.id, seen, by="Mara", now=t)
    print(question.id, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="there is no kill -9")
@pytest.mark.parametrize("after", [3, 11, 26])
def test_killing_it_in_the_middle_of_a_walk_round_loses_no_acknowledged_answer(tmp_path: Path, after: int) -> None:
    path = tmp_path / "r.db"
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    told = [writer.stdout.readline().strip() for _ in range(after)]
    writer.send_signal(signal.SIGKILL)
    told += [line.strip() for line in writer.stdout.read().splitlines() if line.strip()]
    writer.stdout.close()
    writer.wait()
    with Register(path, create=False) as register:
        answers = [one.what.question for one in register.entries("kind = 'answer' ORDER BY number")]  # type: ignore[attr-defined]
        assert answers[: len(told)] == told
        assert len(answers) <= len(told) + 1
        assert proving.prove(register).whole


def test_a_disk_that_fails_under_a_new_register_is_told_and_leaves_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(files.os, "fsync", fail)
    with pytest.raises(CannotWrite, match=r"new\.db: cannot be made here \(Input/output error\)"):
        Register(tmp_path / "new.db")
    assert list(tmp_path.iterdir()) == []


TRACED = """
import os, shutil, sys
from datetime import UTC, datetime
from pathlib import Path
from reelcare.core import entries as e
from reelcare.register import people
from reelcare.register.errors import CannotWrite
from reelcare.register.register import Register

place, now = Path(sys.argv[1]), datetime(2026, 5, 1, 6, tzinfo=UTC)
register = Register(place / "r.db")
people.enrol(register, "Ann", "supervisor", by="Ann", now=now)
(place / "begun").touch()
try:
    register.add(e.Carded(card={"tag": "R1"}), by="Ann", now=now)
except CannotWrite as why:
    print(why)
# the power goes: nothing is closed
os._exit(0)
"""


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
    with Register(tmp_path / str(before + 1) / "r.db", create=False) as register:
        assert [one.what.kind for one in register.entries("true ORDER BY number")] == ["person", "plan", "card"]
        assert proving.prove(register).whole
    assert "nothing was saved" not in said
    assert "look what was saved, and try again" in said

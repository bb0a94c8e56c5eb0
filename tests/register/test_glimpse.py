"""A glimpse tells what the register tells, loads next to nothing, and stands back where anything is unusual."""

import errno
import io
import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli import main, show
from reelcare.core import entries as e
from reelcare.core.state.machine_now import MachineNow
from reelcare.register import reading, schema, steps
from reelcare.register import yard as yards
from reelcare.register.demo import build
from reelcare.register.glimpse import glimpse
from reelcare.register.moments import milliseconds
from reelcare.register.questions import PAST_GRACE
from reelcare.register.register import Register
from reelcare.register.sheets import default_plan

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)


@pytest.fixture(scope="module")
def estate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("estate") / "demo.db"
    with Register(path) as register:
        build(register, NOW)
    return path


def row(one: MachineNow) -> tuple[Any, ...]:
    totals, first = one.state.totals, one.next
    return (
        one.tag, one.card.place, totals.seconds, totals.millimetres, one.standing.run, one.standing.road,
        milliseconds(one.state.last_check) if one.state.last_check else None,
        first.due.state if first else "", first.item.title("es") if first else "",
    )  # fmt: skip


@pytest.mark.parametrize("hours", [0, 2, 26, 24 * 9])
def test_the_yard_is_that_of_the_register(estate: Path, hours: int) -> None:
    now = NOW + timedelta(hours=hours)
    with Register(estate) as register:
        yards.renew(register, now)
        seen = reading.yard(register, now)
        counts = {word: many for word, many in yards.order(register, now).counts.items() if many}
    with glimpse(estate, now) as told:
        assert told is not None
        assert [tuple(one) for one in told.machines(100, "es")] == [row(one) for one in seen]
        assert [tuple(one) for one in told.machines(3, "es")] == [row(one) for one in seen[:3]]
        assert told.counts() == counts


@pytest.mark.parametrize("words", [
    ("due", "--overdue"), ("due", "--overdue", "--json"), ("due", "--overdue", "--exit-code"),
    ("due", "--overdue", "--place", "north field"), ("due", "--overdue", "--part", "gearbox", "--json"),
    ("--language", "es", "due", "--overdue"), ("due", "--overdue", "--most", "3"),
])  # fmt: skip
def test_what_is_overdue_is_told_to_the_byte_as_the_register_tells_it(
    estate: Path, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from reelcare.cli import common, overdue

    monkeypatch.setenv("REELCARE_REGISTER", str(estate))
    monkeypatch.setattr(common, "now", lambda: NOW + timedelta(days=30))
    opened: list[str] = []
    monkeypatch.setattr(Register, "__init__", _watched(Register.__init__, opened))
    quick = main(list(words)), capsys.readouterr().out
    assert opened == []
    monkeypatch.setattr(overdue, "due", show.due)
    slow = main(list(words)), capsys.readouterr().out
    assert len(opened) == 1
    assert quick == slow
    assert len(quick[1].splitlines()) > 2


def test_a_machine_with_a_plan_of_its_own_is_told_by_that_plan(
    estate: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from reelcare.cli import common, overdue

    path = tmp_path / "copy.db"
    with closing(sqlite3.connect(estate)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
    _, plan = default_plan()
    own = {**plan, "items": [{**item, "what": f"Ours: {item['id']}"} for item in plan["items"]]}
    with Register(path) as register:
        who = next(name for name, role in register.roles().items() if role == "supervisor")
        register.add(e.Planned(plan=own), by=who, now=NOW, machine=register.machine_id("T03"))
    monkeypatch.setenv("REELCARE_REGISTER", str(path))
    monkeypatch.setattr(common, "now", lambda: NOW + timedelta(days=30))
    quick = main(["due", "--overdue"]), capsys.readouterr().out
    monkeypatch.setattr(overdue, "due", show.due)
    assert quick == (main(["due", "--overdue"]), capsys.readouterr().out)
    lines = quick[1].splitlines()[1:]
    assert {line.startswith("T03 ") for line in lines} == {True, False}
    assert all(("Ours: " in line) == line.startswith("T03 ") for line in lines)


@pytest.mark.parametrize(
    "words", [("due", "--overdue"), ("due", "--overdue", "--json"), ("due", "--overdue", "--most", "3")]
)
def test_an_item_that_its_plan_does_not_have_is_told_by_neither(
    estate: Path,
    tmp_path: Path,
    words: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    from reelcare.cli import common, overdue

    path = tmp_path / "copy.db"
    with closing(sqlite3.connect(estate)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
    now = NOW + timedelta(days=30)
    monkeypatch.setenv("REELCARE_REGISTER", str(path))
    monkeypatch.setattr(common, "now", lambda: now)
    with glimpse(path, now) as seen:
        assert seen is not None
        (machine, item, tag) = seen.overdue(("machine", "item", "tag", "life"))[0][:3]
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("UPDATE item_now SET item = 'forgotten' WHERE machine = ? AND item = ?", (machine, item))
        db.execute("UPDATE machine_now SET next_item = 'forgotten' WHERE machine = ?", (machine,))
    quick = main(list(words)), capsys.readouterr().out
    monkeypatch.setattr(overdue, "due", show.due)
    assert quick == (main(list(words)), capsys.readouterr().out)
    assert "forgotten" not in quick[1]
    with glimpse(path, now) as seen, Register(path) as register:
        assert seen is not None
        ordered = yards.order(register, now)
        assert [tuple(one) for one in seen.machines(100, "es") if one.tag == tag] == [
            tuple(one) for one in yards.rows(register, ordered, 0, 100, now, "es") if one.tag == tag
        ]


@pytest.mark.parametrize("words", [("due", "--overdue"), ("due", "--overdue", "--json")])
def test_what_could_not_be_printed_is_not_printed_twice(
    estate: Path, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Fills(io.StringIO):
        """An output with room for few letters."""

        def write(self, text: str) -> int:
            super().write(text[: max(0, 300 - self.tell())])
            if self.tell() >= 300:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return len(text)

    from reelcare.cli import common

    monkeypatch.setenv("REELCARE_REGISTER", str(estate))
    monkeypatch.setattr(common, "now", lambda: NOW + timedelta(days=30))
    opened: list[str] = []
    monkeypatch.setattr(Register, "__init__", _watched(Register.__init__, opened))
    monkeypatch.setattr(sys, "stdout", Fills())
    assert main(list(words)) == 7
    assert opened == []


def _watched(init: Callable[..., None], opened: list[str]) -> Callable[..., None]:
    def watched(self: Register, where: Any, **more: Any) -> None:
        opened.append(str(where))
        init(self, where, **more)

    return watched


def test_it_loads_next_to_nothing(estate: Path) -> None:
    code = (
        "import sys; from reelcare.cli import main; main(['--register', sys.argv[1], 'due', '--overdue', '--json']);"
        "print(sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    told = subprocess.run([sys.executable, "-c", code, str(estate)], capture_output=True, text=True, check=True)
    assert json.loads(told.stdout)["items"]
    loaded = set(json.loads(told.stderr.replace("'", '"')))
    assert not loaded & {"peewee", "textual", "rich", "dataclasses", "asyncio", "dateutil", "platformdirs", "psycopg"}


def test_it_stands_back(estate: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import os
    import shutil
    import sqlite3

    def none(path: Path) -> bool:
        with glimpse(path, NOW) as told:
            return told is None

    assert none(tmp_path / "no such.db")
    (tmp_path / "text.db").write_text("no register" * 50)
    assert none(tmp_path / "text.db")
    shutil.copy(estate, tmp_path / "old.db")
    with closing(sqlite3.connect(tmp_path / "old.db", isolation_level=None)) as db:
        db.execute("UPDATE about SET value = '0' WHERE name = 'derived'")
    assert none(tmp_path / "old.db")
    with closing(sqlite3.connect(tmp_path / "old.db", isolation_level=None)) as db:
        db.execute(f"PRAGMA user_version = {steps.NEWEST + 1}")
        db.execute("PRAGMA journal_mode = delete")
    assert none(tmp_path / "old.db")
    assert not none(estate)
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert none(estate)


def test_where_an_index_is_missing_the_register_is_opened_as_always(
    estate: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from reelcare.cli import common

    monkeypatch.setattr(common, "now", lambda: NOW + timedelta(days=30))
    opened: list[str] = []
    monkeypatch.setattr(Register, "__init__", _watched(Register.__init__, opened))
    path = tmp_path / "copy.db"
    with closing(sqlite3.connect(estate)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
    told = []
    for many in (0, 1):
        assert main(["--register", str(path), "due", "--overdue"]) == 0
        assert len(opened) == many
        told.append(capsys.readouterr().out)
        with closing(sqlite3.connect(path, isolation_level=None)) as db:
            db.execute("DROP INDEX IF EXISTS machine_now_totals")
    assert told[0] == told[1]
    assert len(told[0].splitlines()) > 2


def test_it_writes_nothing(estate: Path) -> None:
    import sqlite3

    with glimpse(estate, NOW) as told:
        assert told is not None
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            told._db.execute("UPDATE machine_now SET tag = 'x'")
    with Register(estate) as register:
        assert schema.rows(register.db, "SELECT COUNT(*) FROM machine_now WHERE tag = 'x'") == [(0,)]


def test_a_register_without_machines_and_plan(tmp_path: Path) -> None:
    Register(tmp_path / "r.db").close()
    with glimpse(tmp_path / "r.db", NOW) as told:
        assert told is not None
        assert (told.machines(9, "en"), told.overdue(PAST_GRACE), told.counts()) == ([], [], {})


def test_it_sees_one_state_whoever_writes_meanwhile(estate: Path, tmp_path: Path) -> None:
    path = tmp_path / "copy.db"
    with closing(sqlite3.connect(estate)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = WAL")
    with glimpse(path, NOW) as told:
        assert told is not None
        before = told.tags()
        with closing(sqlite3.connect(path)) as writer, writer:
            writer.execute("UPDATE machine_now SET tag = 'new ' || tag")
        assert told.tags() == before
    with glimpse(path, NOW) as told:
        assert told is not None
        assert told.tags() == [f"new {tag}" for tag in before]


@pytest.mark.parametrize("past", [False, True])
def test_the_forecast_of_what_comes_first_is_the_same_alone(estate: Path, past: bool) -> None:
    with Register(estate) as register:
        full = reading.yard(register, NOW, past=past, forecasts=True)
        alone = reading.yard(register, NOW, past=past, forecasts=True, of_next=True)
    assert len(full) == len(alone) > 5
    firsts = [(one.id, one.next) for one in full if one.next]
    assert firsts == [(one.id, one.next) for one in alone if one.next]
    assert {line.forecast is not None for _, line in firsts} == {True}
    assert {sum(line.forecast is not None for line in one.dues) for one in alone} == {1}
    assert [[line.due for line in one.dues] for one in full] == [[line.due for line in one.dues] for one in alone]


def test_how_far_a_look_at_the_yard_is_can_be_told_and_stopped(estate: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "TELL", 2)
    told: list[tuple[int, int]] = []
    with Register(estate) as register:
        seen = reading.yard(register, NOW, progress=lambda done, of: told.append((done, of)))
        assert told == [(done, len(seen)) for done in (*range(2, len(seen), 2), len(seen))]

        def stop(done: int, of: int) -> None:
            raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            reading.yard(register, NOW, progress=stop)
        assert reading.yard(register, NOW) == seen

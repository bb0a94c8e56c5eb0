"""A register in a folder of its own, or on a server, with people, a machine and a fixed clock.

What is true of a register is tried on both: a test that asks for `register` or `yard` runs once in a file and once on
a PostgreSQL server. What is true of a file alone says so: `@in_a_file`, from `tests.servers`.
"""

import contextlib
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people, walk_rounds
from reelcare.register.database.base import Database
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.exchange import carry_files, carry_format, waiting
from reelcare.register.opening import open_writer
from reelcare.register.reading import foreign
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer
from tests.servers import postgres_server

__all__ = ["postgres_server"]

Said = TypeVar("Said", bound=e.Kind)

START = datetime(2026, 5, 1, 6, tzinfo=UTC)
CARD: dict[str, Any] = {
    "tag": "R1", "name": "Long Reach", "place": "North", "hose": {"length": "400 m"}, "legs": {"kind": "hydraulic"},
    "drive": {"kind": "turbine", "most_loss": "10 psi"}, "cart": {"kind": "gun"},
}  # fmt: skip


@dataclass
class Yard:
    """A register with one machine, and the hand that writes in it."""

    register: Writer
    machine: str
    place: Path | str = ""
    start: datetime = START
    now: datetime = START
    by: str = "Mara"
    written: list[e.Entry] = field(default_factory=list)

    def again(self) -> Writer:
        """The same register, opened once more."""
        return open_writer(self.place)

    def add(self, what: e.Kind, *, at: datetime | None = None, by: str = "", machine: str | None = None) -> e.Entry:
        self.now += timedelta(minutes=1)
        entry = self.register.add(
            what,
            machine=machine or self.machine,
            by=by or self.by,
            now=max(self.now, at or self.now),
            happened=at or self.now,
        )
        self.written.append(entry)
        return entry

    def run(self, day: int, hours: float = 10, metres: int = 300_000, **more: Any) -> e.Entry:
        started = START + timedelta(days=day)
        ended = started + timedelta(hours=hours)
        self.now = max(self.now, ended)
        return self.add(e.Run(started=started, ended=ended, metres=metres, **more), at=ended)


def sql(db: Database, text: str, *values: Any) -> list[tuple[Any, ...]]:
    """All rows that a statement gives; `?` stands for a value on both databases."""
    text = text if isinstance(db, Sqlite) else text.replace("%", "%%").replace("?", "%s")
    return list(db.execute_sql(text, values).fetchall())


def entries(register: Reader, where: str, *values: Any) -> list[e.Entry]:
    """The entries that a condition in SQL picks."""
    found = [register.entry(str(id)) for (id,) in sql(register.db, f"SELECT id FROM entry WHERE {where}", *values)]
    return [one for one in found if one is not None]


def newest(register: Reader, kind: type[Said]) -> Said:
    """What the newest entry of a kind says."""
    [one] = entries(register, "kind = ? ORDER BY number DESC LIMIT 1", kind.kind)
    assert isinstance(one.what, kind)
    return one.what


def let_be_changed(register: Writer) -> None:
    """Take away what forbids a change of entries, as somebody could who has the file or the server in hand."""
    on = "" if isinstance(register.db, Sqlite) else " ON entry"
    register.db.execute_sql(f"DROP TRIGGER entry_is_never_changed{on}")
    register.db.execute_sql(f"DROP TRIGGER entry_is_never_removed{on}")


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.long)])
def place(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path | str]:
    """Where a register can be made: a file that is not there yet, and an empty database on a server."""
    monkeypatch.setenv("TZ", "UTC")
    if request.param == "file":
        yield tmp_path / "r.db"
        return
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    server = request.getfixturevalue("postgres_server")
    url = server.fresh()
    yield url
    server.drop(url)


def furnish(register: Writer) -> None:
    """Write what every yard begins with."""
    people.enrol(register, "Mara", "supervisor", by="Mara", now=START)
    people.enrol(register, "Tove", "mechanic", by="Mara", now=START)
    people.enrol(register, "Olav", "operator", by="Mara", now=START)
    register.add(e.Carded(card=CARD), by="Mara", now=START)


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register in a file with what every yard begins with, to be copied: a copy costs a tenth of writing it.

    Its ids are the first of their millisecond, as they are where one program goes on writing.
    """
    path = tmp_path_factory.mktemp("furnished") / "r.db"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "UTC")
        with open_writer(path, entropy=bytes) as register:
            furnish(register)
    return path


@pytest.fixture
def register(request: pytest.FixtureRequest, place: Path | str) -> Iterator[Writer]:
    if isinstance(place, Path) and "yard" in request.fixturenames:
        shutil.copy(request.getfixturevalue("furnished"), place)
    with open_writer(place) as one:
        yield one


@pytest.fixture
def yard(register: Writer, place: Path | str) -> Yard:
    if not register.machine_ids():
        furnish(register)
    return Yard(register, register.machine_id("R1"), place)


def carry_in(register: Writer, path: Path, now: datetime = START) -> carry_files.CarryPreview:
    """Bring a carry file in, by the first person of a register; where there is none, Bo is enrolled before."""
    if not register.roles():
        people.enrol(register, "Bo", "supervisor", by="Bo", now=now)
    return carry_files.carry_in(register, carry_format.read(path), by=next(iter(register.roles())), now=now)


def accept_all(register: Writer, now: datetime = START) -> None:
    """Accept by name everything that waits, people first."""
    by = next(iter(register.roles()))
    for kinds in ((e.Enrolled.kind,), tuple(e.KINDS)):
        waits = [register.entry(id) for id, why in foreign.kept(register.db).items() if why == "waiting"]
        ids = [one.id for one in waits if one is not None and one.what.kind in kinds]
        if ids:
            waiting.decide(register, ids, accepted=True, why="all of it is ours", by=by, now=now)


def signed_gate(yard: Yard, going: walk_rounds.Check, at: datetime) -> walk_rounds.Check:
    """The check, with its next gate signed where all of that is answered and more is asked after it."""
    if going.ended is None and going.walk.next_in_gate(at) is None and going.walk.next(at) is not None:
        walk_rounds.sign(yard.register, going.id, by="Olav", now=at)
        return walk_rounds.check(yard.register, going.id)
    return going


def sign_last(yard: Yard, going: walk_rounds.Check) -> tuple[e.Entry, ...]:
    """Sign the end of a check that is answered; what that wrote."""
    return walk_rounds.sign(yard.register, going.id, by="Olav", now=yard.now)


@contextlib.contextmanager
def while_it_waits(yard: Yard, act: Callable[[Writer], object]) -> Iterator[None]:
    """Inside the block another program does something each time that this one waits for its turn to write."""
    db, inside = yard.register.db, yard.register.db.writing
    with yard.again() as other, pytest.MonkeyPatch.context() as patch:

        @contextlib.contextmanager
        def writing() -> Iterator[None]:
            if not db.in_transaction():
                act(other)
            with inside():
                yield

        patch.setattr(db, "writing", writing)
        yield

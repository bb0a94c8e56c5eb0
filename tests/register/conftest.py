"""A register in a folder of its own, with people, a machine and a fixed clock."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register import people
from reelcare.register.register import Register

START = datetime(2026, 5, 1, 6, tzinfo=UTC)
CARD: dict[str, Any] = {
    "tag": "R1", "name": "Long Reach", "place": "North", "hose": {"length": "400 m"}, "legs": {"kind": "hydraulic"},
    "drive": {"kind": "turbine", "most_loss": "10 psi"}, "cart": {"kind": "gun"},
}  # fmt: skip


@dataclass
class Yard:
    """A register with one machine, and the hand that writes in it."""

    register: Register
    machine: str
    start: datetime = START
    now: datetime = START
    by: str = "Mara"
    written: list[e.Entry] = field(default_factory=list)

    def add(self, what: e.What, *, at: datetime | None = None, by: str = "", machine: str | None = None) -> e.Entry:
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


@pytest.fixture
def register(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Register]:
    monkeypatch.setenv("TZ", "UTC")
    with Register(tmp_path / "r.db") as one:
        yield one


@pytest.fixture
def yard(register: Register) -> Yard:
    people.enrol(register, "Mara", "supervisor", by="Mara", now=START)
    people.enrol(register, "Tove", "mechanic", by="Mara", now=START)
    people.enrol(register, "Olav", "operator", by="Mara", now=START)
    entry = register.add(e.Carded(card=CARD), by="Mara", now=START)
    assert entry.machine is not None
    return Yard(register, entry.machine)

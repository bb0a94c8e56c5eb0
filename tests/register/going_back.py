"""Going back to a copy, in a file or on a server: what tests of both do and look at."""

from datetime import timedelta
from pathlib import Path
from typing import Any

from reelcare.core import entries as e
from reelcare.register.database.models import EntryRow
from reelcare.register.exchange import restoration
from reelcare.register.exchange.restored_content import Restoration
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

HOLD = e.Fault(part="pawl", says="spring gone", holds="run")
WHY = "the disk failed"


def restore(yard: Any, copy: Path | str, **other: Any) -> Restoration:
    given = {"by": "Mara", "why": WHY, "now": yard.now + timedelta(hours=1)} | other
    return restoration.restore(yard.place, copy, **given)


def held(register: Reader, machine: str) -> list[str]:
    state = register.state(machine)
    assert state is not None
    return [one.says for one in state.faults if one.holds]


def restored(register: Writer) -> list[e.Entry]:
    return register.select(queries.entries(EntryRow.kind == e.Restored.kind))

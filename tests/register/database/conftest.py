"""A register made from the models, in a file and on a server, and entries to fill it with."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.register.database.base import Database
from reelcare.register.database.models import EntryRow
from reelcare.register.database.opening import Opened, open_register

COLUMNS = (
    EntryRow.id, EntryRow.kind, EntryRow.machine, EntryRow.happened, EntryRow.recorded, EntryRow.terminal,
    EntryRow.person, EntryRow.refers, EntryRow.body, EntryRow.place, EntryRow.digest,
)  # fmt: skip


def nothing(_: Database) -> None:
    """A rebuild of a register that has no machines."""


def row(number: int, **more: Any) -> dict[str, Any]:
    """An entry as a row, but for its number."""
    plain = {
        "id": f"id{number}", "kind": "fault", "machine": "m", "happened": 1, "recorded": 2, "terminal": "t",
        "person": "Ann", "refers": None, "body": "{}", "place": number, "digest": f"{number:064x}",
    }  # fmt: skip
    return plain | more


def fill(db: Database, *numbers: int, **more: Any) -> None:
    """Write entries in one transaction."""
    with db.writing():
        db.insert_many(EntryRow, COLUMNS, (tuple(row(number, **more).values()) for number in numbers))


def closed(opened: Opened) -> None:
    if not opened.db.is_closed():
        opened.db.close()


@pytest.fixture
def opened(place: Path | str) -> Iterator[Opened]:
    """A new register, in a file or on a server."""
    made = open_register(place, nothing, create=True)
    yield made
    closed(made)


@pytest.fixture
def db(opened: Opened) -> Database:
    return opened.db

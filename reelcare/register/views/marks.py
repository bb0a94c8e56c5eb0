"""The checks of a time as they were answered, for the marks on them (`core/checks/quality.py`)."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.checks.quality import FinishedCheck
from reelcare.register.acts import checks
from reelcare.register.database.models import EntryRow
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader

E = EntryRow


def checks_between(reader: Reader, since: datetime, until: datetime) -> list[FinishedCheck]:
    """Every check that was signed or that held a machine in a time, in order."""
    ended = reader.select(queries.between(since, until, E.kind == e.CheckEnded.kind))
    kept = [
        (one.what.check, one.machine, one.by)
        for one in ended
        if isinstance(one.what, e.CheckEnded) and one.what.verdict != "left" and one.machine is not None
    ]
    read = checks.checks(reader, [check for check, _machine, _by in kept])
    return [FinishedCheck(machine, by, one.walk) for (_check, machine, by), one in zip(kept, read, strict=True)]

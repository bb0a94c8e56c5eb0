"""Where the parts of a machine stand, as far as its entries say; and what was read before.

The rules of this file: only right answers and runs tell of positions, and only those of the last days. After a pause
what anybody can have moved in passing is not known any more. Nothing here is written.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from reelcare.core import entries as e
from reelcare.core.machine.model import MachineModel
from reelcare.register.acts import checks
from reelcare.register.database.models import EntryRow
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader

E = EntryRow

LOOKED_BACK = timedelta(days=3)
PAUSE = timedelta(minutes=30)
"""How long what hands can move is taken as seen (our choice)."""
RUN_ENDS = "reel in"
"""The activity that a run which ended at its stop has done."""


def positions(reader: Reader, machine: str, model: MachineModel, at: datetime) -> dict[str, str]:
    """The positions that are known of a machine at a moment, for the parts of a model that fits it."""
    tells = E.kind.in_((e.CheckBegun.kind, e.Run.kind))
    found = reader.select(queries.between(at - LOOKED_BACK, at, E.machine == machine, tells))
    told: list[tuple[datetime, dict[str, str] | None]] = []
    for one in found:
        if isinstance(one.what, e.CheckBegun):
            told += _answers(reader, one.id, at)
        elif isinstance(one.what, e.Run):
            ended = model.activities.get(RUN_ENDS)
            ends = {} if ended is None else {part: how.to for part, how in ended.changes.items()}
            told.append((one.happened, ends if one.what.stopped_by == "end stop" else None))
    now: dict[str, str] = {}
    last = None
    for moment, changes in sorted(told, key=lambda pair: pair[0]):
        # a run that ended otherwise leaves everything to be looked at
        now = {} if changes is None else {**now, **changes}
        last = moment
    # an older sheet may name parts or positions that the model has not
    now = {part: where for part, where in now.items() if part in model.parts and where in model.parts[part].positions}
    return model.seen_after_a_pause(now) if last is not None and at - last > PAUSE else now


def _answers(reader: Reader, check: str, at: datetime) -> list[tuple[datetime, dict[str, str] | None]]:
    walk = checks.check(reader, check).walk
    found: list[tuple[datetime, dict[str, str] | None]] = []
    for given in walk.given:
        question = walk.sheet.question(given.question)
        if question is None or given.at > at or walk.judgement(given).judged != "right":
            continue
        if positions := question.established(given.seen):
            found.append((given.at, dict(positions)))
    return found


def former_answer(reader: Reader, machine: str, sheet: str, question: str, before: str) -> str:
    """What was seen at a question the last time before a check; '' where nothing was."""
    found = (one.walk.counting().get(question) for one in checks.newest_on(reader, machine, sheet, E.id < before))
    return next((kept.seen for kept in found if kept is not None), "")

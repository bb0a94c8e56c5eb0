"""Signals and failures from a register: the entries that they are read from, machine by machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.evidence.charts import RUN_LENGTH
from reelcare.core.evidence.failures.exposure import Exposure, Unit, exposures
from reelcare.core.evidence.signals import Signal, events, signals, winds
from reelcare.core.fold import counted
from reelcare.core.parts import PARTS
from reelcare.core.settings import measured_gun as measured
from reelcare.core.state.plans import Known
from reelcare.register.database.models import EntryRow
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader


@dataclass(frozen=True, slots=True)
class MachineSignals:
    """The signals of one machine."""

    machine: str
    tag: str
    signals: tuple[Signal, ...]


def _told(reader: Reader, machine: str, at: datetime | None, known: Known) -> list[e.Entry]:
    """The entries of a machine that count, up to a moment, in order; what waits to be accepted does not yet. Answers of
    checks, most of what is written, tell nothing of its use or of its parts; what they raise does."""
    query = queries.of_machine(machine, at).where(EntryRow.kind != e.Answered.kind)
    return counted(reader.select(query), known)


def signals_of(
    reader: Reader,
    machine: str | None = None,
    at: datetime | None = None,
    *,
    run_length: float = RUN_LENGTH,
    progress: Progress = no_progress,
) -> list[MachineSignals]:
    """The signals of one machine, or of all in the yard, as they stood at a moment; `progress` is told before each
    machine."""
    found = []
    known = reader.known()
    machines = reader.machine_ids() if machine is None else [machine]
    for one in with_progress(machines, len(machines), progress):
        kept = _told(reader, one, at, known)
        if not kept or (machine is None and any(isinstance(entry.what, e.Retired) for entry in kept)):
            continue
        card = measured.as_measured(reader.card(one, at), e.newest_figures(kept))
        plan = known.plans.newest(one) if at is None else known.plans.at(one, at)
        told = signals(events(kept, plan), card, plan, run_length=run_length, wind=winds(kept))
        found.append(MachineSignals(one, card.tag, tuple(told)))
    return found


def exposures_of(
    reader: Reader,
    parts: tuple[str, ...] = PARTS,
    at: datetime | None = None,
    *,
    unit: Unit = "hours",
    progress: Progress = no_progress,
) -> dict[str, list[Exposure]]:
    """The exposures of each part, one of every machine, by part; `progress` as above."""
    found: dict[str, list[Exposure]] = {part: [] for part in parts}
    known = reader.known()
    machines = reader.machine_ids()
    for one in with_progress(machines, len(machines), progress):
        for part, exposure in exposures(one, _told(reader, one, at, known), known, parts, unit).items():
            found[part].append(exposure)
    return found

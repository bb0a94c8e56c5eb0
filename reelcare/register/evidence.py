"""Signals and failures from a register: the entries that they are read from, machine by machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from reelcare.core import entries as e
from reelcare.core.evidence.charts import RUN_LENGTH
from reelcare.core.evidence.exposure import Exposure, Unit, exposures
from reelcare.core.evidence.signals import Signal, events, signals
from reelcare.core.fold import effective
from reelcare.core.machine import measured
from reelcare.core.machine.card import read_card
from reelcare.core.parts import PARTS
from reelcare.register import schema
from reelcare.register.progress import Progress, quietly

if TYPE_CHECKING:
    from reelcare.register.register import Register


@dataclass(frozen=True, slots=True)
class MachineSignals:
    """The signals of one machine."""

    machine: str
    tag: str
    place: str
    signals: tuple[Signal, ...]


def _machines(register: Register, only: str | None) -> list[str]:
    if only is not None:
        return [only]
    return [str(one) for (one,) in schema.rows(register.db, "SELECT machine FROM machine_now ORDER BY tag")]


def signals_of(
    register: Register,
    machine: str | None = None,
    at: datetime | None = None,
    *,
    run_length: float = RUN_LENGTH,
    progress: Progress = quietly,
) -> list[MachineSignals]:
    """The signals of one machine, or of all, as they stood at a moment; `progress` is told before each machine."""
    found = []
    plans = register.plans()
    machines = _machines(register, machine)
    for number, one in enumerate(machines):
        progress(number, len(machines))
        kept = effective(register.of_machine(one, at))
        if not kept:
            continue
        card = measured.as_measured(register.card(one, at), e.newest_figures(kept))
        plan = plans.newest(one) if at is None else plans.at(one, at)
        found.append(
            MachineSignals(
                one, card.tag, card.place, tuple(signals(events(kept, plan), card, plan, run_length=run_length))
            )
        )
    return found


def exposures_of(
    register: Register,
    parts: tuple[str, ...] = PARTS,
    at: datetime | None = None,
    *,
    unit: Unit = "hours",
    progress: Progress = quietly,
) -> dict[str, list[tuple[str, Exposure]]]:
    """The exposure of each part on every machine, by part, each with the machine's tag; `progress` as above."""
    found: dict[str, list[tuple[str, Exposure]]] = {part: [] for part in parts}
    plans = register.plans()
    machines = _machines(register, None)
    for number, one in enumerate(machines):
        progress(number, len(machines))
        kept = effective(register.of_machine(one, at))
        tag = next((read_card(entry.what.card).tag for entry in reversed(kept) if entry.what.kind == "card"), one)  # type: ignore[attr-defined]  # the kind says that it has a card
        for part, exposure in exposures(one, kept, plans, parts, unit).items():
            found[part].append((tag, exposure))
    return found

"""The one judge of a machine's standing: clear, check due or held, for a run and for the road.

The rules of this file: nothing else in the program decides whether a machine may run, and nobody can set it.
An open hold, a fix-by that has lapsed and a stop item past its grace outrank every check; a passed check
clears the machine for one run or one move only, and lapses after a time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Literal

from reelcare.core.checks.clearance import LAPSE, PassedCheck, clear_for
from reelcare.core.parts import FOR_THE_ROAD
from reelcare.core.service import due
from reelcare.core.service.plan import Item, Plan
from reelcare.core.state.machine_state import MachineState, OpenFault
from reelcare.core.timestamps import day_of

Word = Literal["clear", "check due", "held"]
Side = Literal["run", "road"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a machine stands as it does: one line, and what it comes from."""

    says: str
    side: Literal["run", "road", "both"]
    fault: str = ""
    item: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """What a machine may do now, with every reason, holds first."""

    run: Word
    road: Word
    because: tuple[Reason, ...]

    @property
    def worst(self) -> Word:
        """The word of the yard: held before check due before clear, of the run."""
        return "held" if "held" in (self.run, self.road) else self.run

    @property
    def held_for(self) -> str:
        """What it is held for and why, to be read after 'held', wherever it is told how the parts stand; '' where it
        is not held: positions that agree are no leave to run or to tow it.
        """
        words: dict[Side, tuple[Word, str]] = {"run": (self.run, "a run"), "road": (self.road, "the road")}
        held = {side: what for side, (word, what) in words.items() if word == "held"}
        if not held:
            return ""
        why = "; ".join(one.says for one in self.because if one.side in (*held, "both"))
        return f"for {' and '.join(held.values())}, however its parts stand: {why}"


Dues = tuple[tuple[Item, due.Due], ...]


def dues(state: MachineState, plan: Plan, today: datetime, zone: tzinfo) -> Dues:
    """Every item of the plan with where it stands, worst first."""
    now = state.point(day_of(today, zone))
    judged = [(item, due.judge(item, state.cycle(item), now)) for item in plan.items]
    return tuple(sorted(judged, key=lambda one: (-one[1].used_fraction, one[0].id)))


def judge(
    state: MachineState,
    plan: Plan,
    now: datetime,
    zone: tzinfo,
    *,
    lapse: timedelta = LAPSE,
    language: str = "en",
    judged: Dues | None = None,
) -> Standing:
    """The machine's standing at `now`; `judged` are its `dues` where they are known already."""
    holds = [
        *_from_faults(state, now, zone),
        *_from_items(judged if judged is not None else dues(state, plan, now, zone), language),
    ]
    words: dict[str, Word] = {}
    reasons = list(holds)
    for side in ("run", "road"):
        if any(one.side in (side, "both") for one in holds):
            words[side] = "held"
            continue
        passed = state.passed.get(side)
        clear, why = clear_for(
            side,
            PassedCheck(check=passed.check, sheet=passed.sheet, at=passed.at, by=passed.by) if passed else None,
            spent_at=passed.spent if passed else None,
            spent_by=passed.spent_by if passed else "",
            now=now,
            lapse=lapse,
            zone=zone,
        )
        words[side] = "clear" if clear else "check due"
        reasons.append(Reason(why, side))
    return Standing(run=words["run"], road=words["road"], because=tuple(reasons))


def _from_faults(state: MachineState, now: datetime, zone: tzinfo) -> Iterator[Reason]:
    for fault in state.faults:
        if fault.holds:
            yield Reason(f"{fault.part}: {fault.says} ({_stage(fault)})", fault.holds, fault.id)
        elif fault.lapsed(state.totals, day_of(now, zone)):
            yield Reason(f"{fault.part}: {fault.says} (fix-by limit reached)", "both", fault.id)


def _stage(fault: OpenFault) -> str:
    return {
        "open": "to be repaired",
        "repaired": "repaired, to be tested again" if fault.retest else "repaired, to be released",
        "re-tested": "tested again, to be released",
    }[fault.status]


def _from_items(judged: Dues, language: str) -> Iterator[Reason]:
    for item, due_now in judged:
        if due_now.held:
            side: Side = "road" if item.part in FOR_THE_ROAD else "run"
            yield Reason(f"{item.title(language)}: {due_now.why}", side, item=item.id)

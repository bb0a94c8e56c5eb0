"""What a machine is judged by, as one small text beside its state: enough to say at any later moment how it stands.

Nothing in it depends on the time or the zone in which it is looked at. It follows from the state and the plan.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import cast

from reelcare.core.checks.clearance import Passed
from reelcare.core.machine.card import Card
from reelcare.core.scales import SCALES, By, ScalePoint, Threshold
from reelcare.core.service import due
from reelcare.core.service.due import Cycle
from reelcare.core.service.due_line import Assignment
from reelcare.core.service.plan import Item, Plan
from reelcare.core.state import counters as counting
from reelcare.core.state import plain_form
from reelcare.core.state.counters import Totals
from reelcare.core.state.machine_state import (
    SIDES,
    MachineState,
    OpenFault,
    OpenNote,
    Retirement,
    cycle_of,
    first_point,
)
from reelcare.core.timestamps import optional_time, time_of

ItemLimits = tuple[str, str, bool, bool, int | None, Sequence[Threshold]]
"""An item: id, part, whether it stops the machine once it is past its grace, whether a check asks it before every run,
the day on which it was done last (its number), and its thresholds."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a machine is judged by. `passed` are the checks for the run and for the road."""

    totals: Totals
    items: Sequence[ItemLimits]
    faults: tuple[OpenFault, ...]
    passed: Mapping[str, Passed]
    last_check: datetime | None
    last_run: datetime | None
    notes: tuple[OpenNote, ...] = ()
    given: Mapping[str, Assignment] = field(default_factory=dict)
    not_shown: Mapping[str, int] = field(default_factory=dict)
    """What of the totals its counters do not show, by scale: what a counter had done that was replaced."""
    known: Sequence[str] = SCALES
    """The scales on which its use since a day on the card is known: on others, what was never done is unknown."""

    done_at: Mapping[str, int] = field(default_factory=dict)
    """The hours [s] at which items were last done of which nothing but that was told, by item."""
    least: Sequence[By] = ()
    """The scales on which the totals are only a least."""
    retired: Retirement | None = None
    begun: tuple[datetime, ...] = ()
    """When each check that is still open was begun."""

    def point(self, day: date) -> ScalePoint:
        """Where the machine stands on the scales of its intervals."""
        return ScalePoint(day, *self.totals)

    def to_plain(self) -> str:
        """The limits as one JSON text."""
        return plain_form.encode({
            "faults": [plain_form.fault_to_plain(one) for one in self.faults],
            "items": self.items,
            "last_check": self.last_check,
            "last_run": self.last_run,
            "passed": {side: plain_form.passed_to_plain(one) for side, one in self.passed.items()},
            "totals": self.totals,
            **({} if tuple(self.known) == SCALES else {"known": self.known}),
            **plain_form.filled(
                notes=self.notes, given=self.given, not_shown=self.not_shown, done_at=self.done_at,
                least=self.least, retired=self.retired, begun=self.begun,
            ),
        })  # fmt: skip

    @classmethod
    def from_plain(cls, text: str) -> Limits:
        """What `to_plain` wrote."""
        plain = json.loads(text)
        return cls(
            totals=Totals(*plain["totals"]),
            # lists where they were tuples: they are unpacked and never compared, and there are many
            items=cast("Sequence[ItemLimits]", plain["items"]),
            faults=tuple(map(plain_form.read_fault, plain["faults"])),
            passed={side: plain_form.read_passed(one) for side, one in plain["passed"].items()},
            last_check=optional_time(plain["last_check"]),
            last_run=optional_time(plain["last_run"]),
            notes=tuple(plain_form.read_note(one) for one in plain.get("notes", ())),
            given=plain_form.read_given(plain.get("given", {})),
            not_shown=plain.get("not_shown", {}),
            known=tuple(plain.get("known", SCALES)),
            done_at=plain.get("done_at", {}),
            least=tuple(plain.get("least", ())),
            retired=plain_form.read_retired(plain.get("retired")),
            begun=tuple(time_of(one) for one in plain.get("begun", ())),
        )


def _thresholds(state: MachineState, item: Item, cycle: Cycle) -> tuple[Threshold, ...]:
    """The scales of an item against the totals of a state: as near as they are by the use that counts for the item,
    where some is told that nobody here has signed for."""
    found = due.thresholds(item, cycle)
    if state.told is None:
        return found
    mine, to = state.told.of(item.id).over(counting.totals(state.counters)), state.totals
    ahead = {
        "hours": to.seconds - mine.seconds, "metres": to.millimetres - mine.millimetres, "runs": to.runs - mine.runs,
    }  # fmt: skip
    return tuple(Threshold(by, *(one + ahead.get(by, 0) for one in moments)) for by, *moments in found)


def limits_of(state: MachineState, plan: Plan, card: Card) -> Limits:
    """What a machine is judged by, under a plan; `card` is the state's, read."""
    items, done_at, start = [], dict[str, int](), first_point(state.began, state.card)
    for item in plan.items:
        if not item.is_for(card):
            continue
        cycle = cycle_of(item, state.cycles, start, state.card)
        done = cycle.last_done.toordinal() if cycle.last_done is not None else None
        if cycle.done_at is not None:
            done_at[item.id] = cycle.done_at
        items.append((item.id, item.part, item.stop, item.each_time, done, _thresholds(state, item, cycle)))
    return Limits(
        totals=state.totals,
        items=tuple(items),
        faults=state.faults,
        passed={side: one for side, one in state.passed.items() if side in SIDES},
        last_check=state.last_check,
        last_run=state.last_run,
        notes=state.notes,
        given=state.given,
        not_shown=counting.not_shown(state.counters),
        known=state.known_use,
        done_at=done_at,
        least=state.least,
        retired=state.retired,
        begun=tuple(one.begun for one in state.open_checks),
    )

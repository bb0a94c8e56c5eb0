"""What the fold is given beside the entries: which plan was in force when, the zone of days, and the sheets that checks
were asked on."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from typing import NamedTuple

from reelcare.core.checks.sheet import Sheet
from reelcare.core.service.plan import Plan

_NONE: tuple[list[datetime], list[Plan | None]] = ([], [])


class PlanBook:
    """Which plan was in force for a machine at any moment, and the zone in which days are counted. A plan that is None
    gives its machine back to the one for all."""

    def __init__(
        self,
        put_in_force: Iterable[tuple[datetime, str | None, Plan | None]] = (),
        zone: tzinfo = UTC,
        default: Plan | None = None,
    ) -> None:
        """`default` is the plan for all until one is put in force: it never replaces one that somebody chose."""
        self.zone = zone
        self._default = default or Plan.empty()
        self._by_machine: dict[str | None, tuple[list[datetime], list[Plan | None]]] = {}
        """By machine (None: all): since when, and the plan since then."""
        for moment, machine, plan in sorted(put_in_force, key=lambda one: one[0]):
            since, plans = self._by_machine.setdefault(machine, ([], []))
            since.append(moment)
            plans.append(plan)

    def at(self, machine: str, moment: datetime) -> Plan:
        """The machine's own plan of that moment, else the one for all; before the first, the default one or else the
        first."""
        for key in (machine, None):
            since, plans = self._by_machine.get(key, _NONE)
            place = bisect_right(since, moment)
            found = plans[place - 1] if place else None
            if found is not None:
                return found
        _since, for_all = self._by_machine.get(None, _NONE)
        return (for_all[0] if for_all and not self._default.items else None) or self._default

    def newest(self, machine: str) -> Plan:
        """The machine's own newest plan, else the newest for all."""
        return self.own(machine) or self.for_all

    @property
    def for_all(self) -> Plan:
        """The newest plan for all machines without one of their own."""
        return self.own(None) or self._default

    def own(self, machine: str | None) -> Plan | None:
        """The newest plan of one machine, None where it goes by the one for all; for None, the one for all."""
        _since, plans = self._by_machine.get(machine, _NONE)
        return plans[-1] if plans else None

    @property
    def with_own(self) -> list[str]:
        """The machines that go by a plan of their own."""
        return [machine for machine in self._by_machine if machine is not None and self.own(machine) is not None]


def _no_sheet(_: str) -> Sheet | None:
    return None


class Uncounted(NamedTuple):
    """What this register makes of entries that other registers wrote, by the ids of those that do not count as they
    stand: `waiting` for a name here; `out`, refused or without effect; `told`, the runs and readings of people whom
    nobody here has accepted. What stands in none of them counts as if it were written here."""

    waiting: frozenset[str] = frozenset()
    out: frozenset[str] = frozenset()
    told: frozenset[str] = frozenset()


ALL_COUNTS = Uncounted()
"""The view of a register into which nothing was carried, or all of it accepted."""


@dataclass(frozen=True, slots=True)
class Known:
    """What the fold knows beside a machine's entries.

    `sheet` gives the sheet that the entry of an id keeps, None where it is not here or cannot be read: then no check on
    it has passed. `doubtful` are the signatures and runs (entry ids) that a clock dated which was found to be ahead,
    and the moment by which they were written: signatures clear nothing and block nothing, runs were over by then.
    `distrusted` are signatures that only a person whom nobody here has accepted found dated ahead: they clear nothing,
    and take what they would have taken.
    `uncounted` is this register's view of what was carried into it.
    """

    plans: PlanBook = field(default_factory=PlanBook)
    sheet: Callable[[str], Sheet | None] = _no_sheet
    doubtful: Mapping[str, datetime] = field(default_factory=dict)
    distrusted: frozenset[str] = frozenset()
    uncounted: Uncounted = ALL_COUNTS

    @property
    def zone(self) -> tzinfo:
        """The zone in which days are counted."""
        return self.plans.zone

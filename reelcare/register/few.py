"""The few entries that bear on everything else, read once: who is enrolled, and which plan was in force when.

The rules of this file: what was read holds until an entry comes in that bears on it, from whichever program; entries
only ever come in with greater numbers, so that one question tells. What is read in a transaction that is taken back is
forgotten.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import tzinfo
from typing import Any

from reelcare.core import entries as e
from reelcare.core.upkeep.plan_table import read_plan
from reelcare.core.upkeep.tally import PlanBook
from reelcare.register import schema
from reelcare.register.questions import FEW, STANDS

_BEARS = "SELECT 1 FROM entry WHERE number > ? AND kind IN ('person', 'plan', 'correction') LIMIT 1"
_IN_ORDER = "ORDER BY happened, recorded, id"


class Few:
    """People and plans of one register."""

    def __init__(self, db: Any, zone: tzinfo, entries: Callable[[str], list[e.Entry]]) -> None:
        """`entries` gives the entries that a condition picks."""
        self._db = db
        self._zone = zone
        self._entries = entries
        self._seen = 0
        self._roles: dict[str, str] | None = None
        self._plans: PlanBook | None = None

    def forget(self) -> None:
        """Read anew when asked the next time."""
        self._roles = self._plans = None

    def roles(self) -> dict[str, str]:
        """Every enrolled person with the role they have now."""
        self._look()
        if self._roles is None:
            kept = self._entries(f"{FEW} AND kind = 'person' {_IN_ORDER}")
            self._roles = {one.what.name: one.what.role for one in kept if isinstance(one.what, e.Enrolled)}
        return dict(self._roles)

    def plans(self) -> PlanBook:
        """Which plan was in force when."""
        self._look()
        if self._plans is None:
            kept = self._entries(f"{FEW} AND kind = 'plan' AND {STANDS} {_IN_ORDER}")
            put_in_force = (
                (one.happened, one.machine, read_plan(one.what.plan)) for one in kept if isinstance(one.what, e.Planned)
            )
            self._plans = PlanBook(put_in_force, self._zone)
        return self._plans

    def _look(self) -> None:
        """Forget what was read where an entry has come in that bears on it."""
        newest = int(schema.rows(self._db, "SELECT COALESCE(MAX(number), 0) FROM entry")[0][0])
        if newest == self._seen:
            return
        if newest < self._seen or schema.rows(self._db, _BEARS, self._seen):
            self.forget()
        self._seen = newest

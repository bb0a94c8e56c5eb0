"""The few entries that bear on everything else, read once: who is enrolled, and which plan was in force when.

The rules of this file: what was read holds until an entry comes in that bears on it, from whichever program; entries
only ever come in with greater numbers, so that one question tells. While this program alone writes, it is asked once
and then told. What is read in a transaction that is taken back is forgotten.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import tzinfo
from typing import Any

from reelcare.core import entries as e
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.plans import PlanBook
from reelcare.register import schema
from reelcare.register.questions import FEW, IN_ORDER, STANDS

_KINDS = tuple(one.kind for one in e.KINDS.values() if one.for_all)
_BEARS = f"SELECT 1 FROM entry WHERE number > ? AND kind IN {_KINDS} LIMIT 1"


class Few:
    """People and plans of one register."""

    def __init__(self, db: Any, zone: tzinfo, entries: Callable[[str], list[e.Entry]]) -> None:
        """`entries` gives the entries that a condition picks."""
        self._db = db
        self._zone = zone
        self._entries = entries
        self._seen = 0
        self._alone = False
        self._roles: dict[str, str] | None = None
        self._plans: PlanBook | None = None

    def forget(self) -> None:
        """Read anew when asked the next time, as after a transaction that was taken back."""
        self._roles = self._plans = None

    @contextlib.contextmanager
    def alone(self) -> Iterator[None]:
        """While it lasts nobody else writes, and what comes in is told to `came_in`."""
        self._look()
        self._alone = True
        try:
            yield
        finally:
            self._alone = False

    def came_in(self, kind: str) -> None:
        """An entry of this kind came in by this program."""
        if kind in _KINDS:
            self.forget()

    def roles(self) -> Mapping[str, str]:
        """Every enrolled person with the role they have now; not to be changed."""
        self._look()
        if self._roles is None:
            kept = self._entries(f"{FEW} AND kind = 'person' {IN_ORDER}")
            self._roles = roles_of(kept)
        return self._roles

    def plans(self) -> PlanBook:
        """Which plan was in force when."""
        self._look()
        if self._plans is None:
            kept = self._entries(f"{FEW} AND kind = 'plan' AND {STANDS} {IN_ORDER}")
            put_in_force = (
                (one.happened, one.machine, read_plan(one.what.plan)) for one in kept if isinstance(one.what, e.Planned)
            )
            self._plans = PlanBook(put_in_force, self._zone)
        return self._plans

    def _look(self) -> None:
        """Forget what was read where an entry has come in that bears on it."""
        if self._alone:
            return
        newest = int(schema.rows(self._db, "SELECT COALESCE(MAX(number), 0) FROM entry")[0][0])
        if newest == self._seen:
            return
        if newest < self._seen or schema.rows(self._db, _BEARS, self._seen):
            self.forget()
        self._seen = newest


def roles_of(entries: Iterable[e.Entry]) -> dict[str, str]:
    """Every person whom these entries enrol, in their order, with the last role they give."""
    return {one.what.name: one.what.role for one in entries if isinstance(one.what, e.Enrolled)}

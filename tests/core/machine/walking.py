"""Every state of a machine at once, for proofs over all of them: one bit a position, in arrays of 64-bit numbers."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from reelcare.core.machine.model import Activity, MachineModel

States = np.ndarray[Any, np.dtype[np.int64]]


class Space:
    """The states of one machine. It shares nothing with the search of the package (`reelcare.core.machine.ways`)."""

    def __init__(self, model: MachineModel) -> None:
        self.model = model
        pairs = [(part, where) for part, one in model.parts.items() for where in one.positions]
        assert len(pairs) < 63
        self.bit = {pair: np.int64(1 << place) for place, pair in enumerate(pairs)}
        self.part = {
            part: np.bitwise_or.reduce([self.bit[part, where] for where in one.positions])
            for part, one in model.parts.items()
        }
        self.masks: dict[str, tuple[np.int64, list[np.int64]]] = {}

    def state(self, positions: Mapping[str, str]) -> States:
        assert set(positions) == set(self.part)
        return np.array([sum(self.bit[pair] for pair in positions.items())], dtype=np.int64)

    def told(self, state: np.int64) -> dict[str, str]:
        return {part: where for (part, where), bit in self.bit.items() if state & bit}

    def are(self, states: States, box: Mapping[str, object]) -> Any:
        """Which states have each named part in (one of) the positions; a part that is not there is passed over."""
        found = np.ones(states.shape, dtype=bool)
        for part, where in box.items():
            if part in self.part:
                found &= (states & self.mask(part, where)) != 0
        return found

    def mask(self, part: str, where: object) -> np.int64:
        several = (where,) if isinstance(where, str) else tuple(where)  # type: ignore[arg-type]
        return np.int64(sum(int(self.bit.get((part, one), 0)) for one in several))

    def may(self, one: Activity, states: States) -> Any:
        if one.id not in self.masks:
            wrong = sum(int(self.part[part] & ~self.mask(part, where)) for part, where in one.needs.items())
            some = [sum(int(self.mask(*pair)) for pair in group.items()) for group in one.one_of]
            self.masks[one.id] = (np.int64(wrong), [np.int64(each) for each in some])
        needed, groups = self.masks[one.id]
        found = (states & needed) == 0
        for each in groups:
            found &= (states & each) != 0
        return found

    def after(self, one: Activity, states: States) -> States:
        there = states
        for part, how in one.changes.items():
            moved = (there & ~self.part[part]) | self.bit[part, how.to]
            if how.only_from:
                moved = np.where((states & self.bit[part, how.only_from]) != 0, moved, there)
            there = moved
        return there

    def steps(self) -> Iterator[Activity]:
        return (one for one in self.model.activities.values() if not one.stands_for)

    def reachable(self, begin: States) -> States:
        """Every state that allowed activities lead to."""
        seen = front = np.unique(begin)
        while front.size:
            found = np.unique(np.concatenate([self.after(one, front[self.may(one, front)]) for one in self.steps()]))
            place = np.minimum(np.searchsorted(seen, found), seen.size - 1)
            front = found[seen[place] != found]
            seen = np.sort(np.concatenate([seen, front]))
        return seen

    def can_come_to(self, there: Any, states: States) -> Any:
        """From which of some states (a closed set, sorted) allowed activities lead to one of those marked."""
        edges = []
        for one in self.steps():
            may = np.flatnonzero(self.may(one, states))
            edges.append((may, np.searchsorted(states, self.after(one, states[may]))))
        begins, ends = (np.concatenate(one) for one in zip(*edges, strict=True))
        found = there.copy()
        while True:
            more = begins[found[ends] & ~found[begins]]
            if not more.size:
                return found
            found[more] = True

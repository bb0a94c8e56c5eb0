"""A short way from where the parts of a machine stand to where they are to be, by allowed activities only.

The rules of this file: it knows numbers alone. Each position of each part is one bit of a number, and so is "not
known"; of the bits of a part exactly one is set. So what an activity needs is one comparison, and what it changes two.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

Where = Mapping[str, tuple[str, ...]]
"""The positions that each of some parts may be in."""
UNKNOWN = ""
EAGER = 2
"""How much more a step that is left counts than one that was made: near the shortest way, in far less time."""

MOST_STATES = 300_000
"""States that a search looks at before it gives up: more than any machine has that a card can describe."""
LONGEST_STRETCH = 6
"""Activities that are moved together where a way is put into the order of the table."""


@dataclass(frozen=True, slots=True)
class Rule:
    """An activity: what it needs, groups of which one is enough, and where each part goes (from where: '' anywhere)."""

    id: str
    needs: Where
    one_of: tuple[Where, ...]
    changes: Mapping[str, tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Needed:
    """What is needed, in bits: none of `not_in`, and one of each of `some_of`."""

    not_in: int
    some_of: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """An activity in bits: what it needs, what it clears and sets, and for parts moved from one position alone, each
    with that position's bit, what it clears and sets then."""

    id: str
    needs: Needed
    clear: int
    set: int
    sometimes: tuple[tuple[int, int, int], ...]

    def after(self, state: int) -> int:
        """The state after it."""
        there = state & ~self.clear | self.set
        for was, clear, to in self.sometimes:
            if state & was:
                there = there & ~clear | to
        return there


class Ways:
    """A search for ways: parts with their positions, and the activities between them."""

    def __init__(self, parts: Where, rules: Sequence[Rule]) -> None:
        self.bits: dict[tuple[str, str], int] = {}
        self.all_of: dict[str, int] = {}
        place = 0
        for part, positions in parts.items():
            self.all_of[part] = 0
            for position in (*positions, UNKNOWN):
                self.bits[part, position] = 1 << place
                self.all_of[part] |= 1 << place
                place += 1
        self.of_part = tuple(self.all_of.values())
        self.moves = tuple(self._move(one) for one in rules)

    def state(self, now: Mapping[str, str]) -> int:
        """The bits of where the parts stand; a part that is not named is not known."""
        return sum(self.bits[part, now.get(part, UNKNOWN)] for part in self.all_of)

    def needed(self, needs: Where, one_of: tuple[Where, ...]) -> Needed:
        """What is needed, in bits."""
        not_in = 0
        for part, where in needs.items():
            not_in |= self.all_of[part] & ~sum(self.bits[part, one] for one in where)
        return Needed(
            not_in,
            tuple(sum(self.bits[part, one] for part, where in group.items() for one in where) for group in one_of),
        )

    def _move(self, rule: Rule) -> Move:
        clear = to = 0
        sometimes = []
        for part, (where, only_from) in rule.changes.items():
            if only_from:
                sometimes.append((self.bits[part, only_from], self.all_of[part], self.bits[part, where]))
            else:
                clear |= self.all_of[part]
                to |= self.bits[part, where]
        return Move(rule.id, self.needed(rule.needs, rule.one_of), clear, to, tuple(sometimes))

    def way(
        self,
        needs: Where,
        one_of: tuple[Where, ...],
        now: Mapping[str, str],
        *,
        without: Collection[str] = (),
        most: int = MOST_STATES,
    ) -> list[str] | None:
        """The ids of a short way to where some needs are met, [] where they are; None where no way leads there.

        It gives up, with None, after `most` states. No step of the way can be left out; it is at most twice as long
        as the shortest, and most often as short. It is
        always the same, and each activity stands in it as early as its place in the table and the others let it.
        """
        begin = self.state(now)
        goal = self.needed(needs, one_of)
        search = _Search(goal, self._possible(begin, without), self.of_part)
        found = search.way(begin, most)
        return None if found is None else [one.id for one in self._in_order(_needful(found, begin, goal), begin, goal)]

    def _possible(self, begin: int, without: Collection[str]) -> list[Move]:
        """The activities that can be come to at all, were nothing ever undone."""
        waiting = [(number, one) for number, one in enumerate(self.moves) if one.id not in without]
        found: list[tuple[int, Move]] = []
        seen, more = begin, True
        while more:
            more = False
            left = []
            for number, one in waiting:
                if self._is_possible(one, seen):
                    found.append((number, one))
                    seen |= one.set
                    for _, _, to in one.sometimes:
                        seen |= to
                    more = True
                else:
                    left.append((number, one))
            waiting = left
        return [one for _, one in sorted(found, key=lambda pair: pair[0])]

    def _is_possible(self, move: Move, seen: int) -> bool:
        return all(seen & bits & ~move.needs.not_in for bits in self.of_part) and all(
            seen & some for some in move.needs.some_of
        )

    def _in_order(self, way: list[Move], begin: int, goal: Needed) -> list[Move]:
        """A way with each activity as early in it as the table has it, as far as the way still goes: stretches of it
        are moved before others as long as one can be."""
        place = {one.id: number for number, one in enumerate(self.moves)}
        while True:
            better = next(
                (one for one in _moved_forward(way, place) if _goes(one, begin, goal)),
                None,
            )
            if better is None:
                return way
            way = better


def _moved_forward(way: list[Move], place: Mapping[str, int]) -> Iterator[list[Move]]:
    """Every way in which a stretch stands earlier, before an activity that comes after its first in the table."""
    for to, first in enumerate(way):
        for begin in range(to + 1, len(way)):
            if place[way[begin].id] < place[first.id]:
                for end in range(begin + 1, min(begin + LONGEST_STRETCH, len(way)) + 1):
                    yield [*way[:to], *way[begin:end], *way[to:begin], *way[end:]]


class _Search:
    """A search that goes first where the least is left to do (A*, with what is left weighted)."""

    def __init__(self, goal: Needed, moves: Sequence[Move], of_part: Sequence[int]) -> None:
        self.goal = goal
        self.moves = moves
        self.of_part = of_part
        self._asked: dict[int, tuple[int, int]] = {}

    def way(self, begin: int, most: int) -> list[Move] | None:
        """A way from a state; None where there is none, or none was found before the limit of states."""
        first = self.left(begin)
        if first is None:
            return None
        came: dict[int, tuple[int, Move] | None] = {begin: None}
        steps = {begin: 0}
        count = 0
        waiting = [(EAGER * first, count, begin)]
        while waiting and len(came) <= most:
            total, _, state = heapq.heappop(waiting)
            if is_met(self.goal, state):
                return _back(state, came)
            done = steps[state]
            if total > done + EAGER * (self.left(state) or 0):
                continue  # a shorter way to it was found meanwhile
            for move in reversed(self.moves):  # of equals, the last that waits is taken first
                if not is_met(move.needs, state):
                    continue
                there = move.after(state)
                if steps.get(there, done + 2) <= done + 1:
                    continue
                left = self.left(there)
                if left is None:
                    continue
                steps[there], came[there] = done + 1, (state, move)
                count += 1
                heapq.heappush(waiting, (done + 1 + EAGER * left, -count, there))
        return None

    def left(self, state: int) -> int | None:
        """At least so many activities are left to do; None where the goal cannot be come to any more.

        Each part that is not where it must be takes an activity that brings it there, and what all such activities need
        must be so before. Of those sets of activities, so many have none in common.
        """
        wanted = [bits & ~self.goal.not_in for bits in self.of_part if state & bits & self.goal.not_in]
        wanted += [some for some in self.goal.some_of if not state & some]
        seen = set(wanted)
        sets = []
        while wanted:
            bringing, never = self._bringing(wanted.pop())
            if not bringing:
                return None
            sets.append(bringing)
            wrong = state & never
            for bits in self.of_part:
                if wrong & bits and (more := bits & ~never) not in seen:
                    seen.add(more)
                    wanted.append(more)
        taken = count = 0
        for one in sorted(sets, key=int.bit_count):
            if not one & taken:
                taken |= one
                count += 1
        return count

    def _bringing(self, wanted: int) -> tuple[int, int]:
        """The activities that bring a part where it is wanted, a bit for each, and the positions in which none of them
        may be done."""
        known = self._asked.get(wanted)
        if known is None:
            bringing, never = 0, -1
            for number, move in enumerate(self.moves):
                if move.set & wanted or any(to & wanted for _, _, to in move.sometimes):
                    bringing |= 1 << number
                    never &= move.needs.not_in
            known = self._asked[wanted] = (bringing, never if bringing else 0)
        return known


def is_met(needed: Needed, state: int) -> bool:
    """Whether a state meets what is needed."""
    if state & needed.not_in:
        return False
    for some in needed.some_of:  # noqa: SIM110 -- a loop takes half the time of all(), and this is asked most
        if not state & some:
            return False
    return True


def _needful(way: list[Move], begin: int, goal: Needed) -> list[Move]:
    """A way without the steps, or pairs of steps, that can be left out."""
    for at in range(len(way)):
        for other in range(at, len(way)):
            shorter = [one for number, one in enumerate(way) if number not in (at, other)]
            if _goes(shorter, begin, goal):
                return _needful(shorter, begin, goal)
    return way


def _goes(way: Sequence[Move], begin: int, goal: Needed) -> bool:
    state = begin
    for one in way:
        if not is_met(one.needs, state):
            return False
        state = one.after(state)
    return is_met(goal, state)


def _back(state: int, came: Mapping[int, tuple[int, Move] | None]) -> list[Move]:
    way = []
    step = came[state]
    while step is not None:
        way.append(step[1])
        step = came[step[0]]
    return way[::-1]

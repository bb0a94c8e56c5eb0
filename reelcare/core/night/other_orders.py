"""Whether another order would gain more than a tenth: looked for by trying, with a bounded count of trials.

The rules of this file: an order is a list of lanes; each goes to the machine that is home from it first. Neighbours of
the best order so far are tried, two lanes exchanged or one moved, until none is better or the trials are used up. The
result is the same each time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from reelcare.core.night.field import Lane
from reelcare.core.night.order import done, earliest_set, plan_set, start
from reelcare.core.night.plan import Night, NightAsked

STEPS = 8_000
"""Sets that are tried in all (some tenths of a second)."""
MOST_LANES = 24
"""Lanes that are looked at: those that are planned, and the next."""
A_TENTH = 0.1


@dataclass(frozen=True, slots=True)
class Better:
    """An order that gains more than a tenth: how many sets more, or how much earlier [s] the last hose is home."""

    night: Night
    more: int
    earlier: int


def worth(night: Night) -> tuple[int, int, int]:
    """What is less is better: more sets first, then home earlier, then begun earlier."""
    return -len(night.sets), night.last, sum(one.starts for one in night.sets)


def in_order(asked: NightAsked, lanes: Sequence[Lane]) -> Night:
    """The night of lanes one after the other, each on the machine that is home from it first."""
    course = start(asked)
    for lane in lanes:
        found = [one for rig in asked.rigs if (one := earliest_set(course, rig, lane)) is not None]
        if found:
            plan_set(course, min(found, key=lambda one: (one.set.ends, one.set.tag)))
    return done(course)


def search(asked: NightAsked, found: Night) -> Night:
    """The best night that is found from the one of the rule by trying others."""
    planned = [one.lane for one in found.sets]
    numbers = {one.number for one in planned}
    more = [one for one in asked.lanes if one.number not in numbers and any(rig.reaches(one) for rig in asked.rigs)]
    order = [*planned, *more[: max(MOST_LANES - len(planned), 0)]]
    asked = replace(asked, lanes=tuple(order))
    best, tries = found, STEPS // max(len(order) * len(asked.rigs), 1)
    going = True
    while going and tries > 0:
        going = False
        for other in _neighbours(order):
            if tries <= 0:
                break
            tries -= 1
            night = in_order(asked, other)
            if worth(night) < worth(best):
                best, order, going = night, other, True
                break
    return best


def _neighbours(order: list[Lane]) -> Iterator[list[Lane]]:
    """The same order first, then with two lanes exchanged, then with one moved elsewhere."""
    yield order
    many = len(order)
    for one in range(many):
        for other in range(one + 1, many):
            changed = list(order)
            changed[one], changed[other] = changed[other], changed[one]
            yield changed
    for one in range(many):
        for to in range(many):
            if abs(one - to) > 1:
                changed = list(order)
                changed.insert(to, changed.pop(one))
                yield changed


def better(asked: NightAsked, found: Night) -> Better | None:
    """The order that gains more than a tenth over the one of the rule; None where none was found."""
    other = search(asked, found)
    more = len(other.sets) - len(found.sets)
    if more > A_TENTH * len(found.sets):
        return Better(other, more, 0)
    earlier = found.last - other.last
    if more == 0 and earlier > A_TENTH * max(found.last - asked.begins, 1):
        return Better(other, 0, earlier)
    return None

"""Which lanes are still to be run in this round.

The rules of this file: a round is over when every lane was run; a lane that is run again before that begins the next
round, so that one that was left out is not waited for. A run that did not come home has not watered its lane.
"""

from __future__ import annotations

from collections.abc import Iterable

from reelcare.core.night.field import Field, Lane, Name


def done_in_round(field: Field, runs: Iterable[Name]) -> set[Name]:
    """The lanes that were run in the round at hand, from the lanes of all runs in their order.

    >>> from reelcare.core.night.field import read_field
    >>> lanes = [{"number": one, "hydrant": one, "length": "300 m"} for one in (1, 2, 3)]
    >>> done_in_round(read_field({"id": "f", "lanes": lanes}), [1, 3, 1])
    {1}
    """
    numbers = {one.number for one in field.lanes}
    done: set[Name] = set()
    for number in runs:
        if number not in numbers:
            continue
        done = {number} if number in done else done | {number}
        if done == numbers:
            done = set()
    return done


def lane_of_hydrant(field: Field, hydrant: str, done: Iterable[Name]) -> Lane | None:
    """The lane that a set at a hydrant is for: its only one, else the first that was not run in this round."""
    lanes = field.at_hydrant(hydrant)
    used = set(done)
    return next((one for one in lanes if one.number not in used), lanes[0] if lanes else None)

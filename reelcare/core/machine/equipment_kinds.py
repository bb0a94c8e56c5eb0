"""The kinds of machine that a card can describe, as far as they differ in parts and activities.

The rules of this file: it makes cards, and says nothing about machines.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from functools import cache

from reelcare.core.machine.card import ARMS_OUT, Card, Cart, Compensation, Drive, Drum, Jack, Legs

LEGS = (
    (Legs("cranked", False), Jack("screw")),
    (Legs("cranked", False), Jack("hydraulic")),
    (Legs("hydraulic", False), Jack("screw")),
    (Legs("hydraulic", True), Jack("screw")),
)
CARTS = (Cart("gun"), Cart("boom", arms_out=ARMS_OUT[0]), Cart("boom", arms_out=ARMS_OUT[1]))
WINDING = ((False, False), (True, False), (False, True), (True, True))
"""PTO input and hand crank."""
_Choice = tuple[bool, str, int, str, int, int]


def every_kind() -> Iterator[Card]:
    """Every kind of equipment that differs in parts or activities.

    >>> sum(1 for one in every_kind())
    384
    """
    return (_kind(one) for one in _choices())


@cache
def few_kinds() -> tuple[Card, ...]:
    """A few kinds in which each two pieces of equipment meet that can meet: those first that add the most pairs.

    >>> len(few_kinds())
    18
    """
    pairs = {one: frozenset(itertools.combinations(enumerate(one), 2)) for one in _choices()}
    missing = set().union(*pairs.values())
    found = []
    while missing:
        best = max(pairs, key=lambda one: len(pairs[one] & missing))
        found.append(best)
        missing -= pairs[best]
    return tuple(map(_kind, found))


def _choices() -> Iterator[_Choice]:
    return itertools.product(
        (True, False),
        ("turbine", "engine"),
        range(len(LEGS)),
        ("mechanical", "electronic"),
        range(len(CARTS)),
        range(len(WINDING)),
    )


def _kind(choice: _Choice) -> Card:
    turntable, drive, legs, control, cart, winding = choice
    pto, crank = WINDING[winding]
    return Card(
        "R1",
        drum=Drum(turntable=turntable),
        # a stop that frees the winding drive goes with one kind of winding: it changes nothing else
        drive=Drive(drive, pto=pto, crank=crank, stop_frees_winding=pto and not crank),
        legs=LEGS[legs][0],
        jack=LEGS[legs][1],
        compensation=Compensation(control),
        cart=CARTS[cart],
    )

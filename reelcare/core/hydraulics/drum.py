"""The drum: hose in layers of coils, metres and turns, and what the layers do to the cart's speed and time.

The rules of this file: every coil is a circle through the middle of the hose (a helix is longer by less than 0.03 %).
The inner layers fill first. Each further layer stands `packing` hose diameters farther out: 1 where coils lie square on
each other, 0.866 where they nest. Metres and turns are counted from the hub, where the hose begins; lengths in m,
speeds in m/s, times in s. A drum that turns evenly pulls faster with each layer. Readings of the machine itself go
before the card.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from reelcare.core.text import _, mark

MECHANICAL_LEAVES, ELECTRONIC_LEAVES = 0.15, 0.05
"""How far two readings of the speed may differ with each kind of compensation (published: French extension sheet on
reel machines, 2017; a machine beyond is out of adjustment)."""
HAIR = 1e-6
"""Metres by which one length may differ from itself where it was written in feet and in metres."""


LEAST_OF_LAYER = 0.01
"""So many metres of hose make no layer: one that just fills the drum does not begin another by the last digit of its
length, nor is what is left of a layer at pull-out one of the run."""


def turn_length(radius: float) -> float:
    """Hose in one turn [m] at a centre-line radius.

    >>> round(11 * turn_length(0.805), 4)
    55.6376
    """
    return 2 * math.pi * radius


@dataclass(frozen=True)
class Wind:
    """Hose wound on a drum: diameters [m] of the bare core and of the hose, coils in a layer, and packing.

    Raises ValueError where a value cannot be. `layers` is how many the drum has room for (None: not known).
    """

    core_diameter: float
    outside: float
    coils_per_layer: float
    packing: float = 1.0
    layers: int | None = None

    def __post_init__(self) -> None:
        for name in ("core_diameter", "outside", "packing"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueError(_("{name}: {value:g} cannot be right; it must be above 0", name=name, value=value))
        if not (math.isfinite(self.coils_per_layer) and self.coils_per_layer >= 1):
            says = mark("coils_per_layer: {coils_per_layer:g} cannot be right; it must be 1 or more")
            raise ValueError(_(says, coils_per_layer=self.coils_per_layer))

    def radius(self, layer: int) -> float:
        """Centre-line radius [m] of a layer, from 1.

        >>> [round(Wind(1.5, 0.11, 11).radius(layer), 3) for layer in (1, 2, 3, 4)]
        [0.805, 0.915, 1.025, 1.135]
        """
        return (self.core_diameter + self.outside) / 2 + (layer - 1) * self.packing * self.outside

    def below(self, layer: int) -> float:
        """Hose in all full layers under a layer [m]."""
        under = layer - 1
        first = turn_length(self.radius(1))
        step = turn_length(self.packing * self.outside)
        return self.coils_per_layer * (under * first + step * under * (under - 1) / 2)

    @cached_property
    def capacity(self) -> float:
        """Hose that the drum can hold [m]; infinite where its layers are not known."""
        return math.inf if self.layers is None else self.below(self.layers + 1)

    def metres(self, turns: float) -> float:
        """Hose in a number of turns from the hub [m].

        >>> round(Wind(1.5, 0.11, 11).metres(44), 4)
        268.1663
        """
        if turns <= 0:
            return 0.0
        layer = self._layer_of(turns)
        return self.below(layer) + (turns - (layer - 1) * self.coils_per_layer) * turn_length(self.radius(layer))

    def turns(self, metres: float) -> float:
        """Turns from the hub that hold a length of hose [m]. The inverse of `metres`.

        >>> round(Wind(1.5, 0.11, 11).turns(55.6376 + 63.2403), 3)
        22.0
        """
        if metres <= 0:
            return 0.0
        layer = self.layer_at(metres)
        return (layer - 1) * self.coils_per_layer + (metres - self.below(layer)) / turn_length(self.radius(layer))

    def _layer_of(self, turns: float) -> int:
        return max(1, math.ceil(turns / self.coils_per_layer - 1e-12))

    def layer_at(self, metres: float) -> int:
        """The layer in which a length of hose on the drum ends.

        >>> Wind(1.5, 0.11, 11).layer_at(55.0), Wind(1.5, 0.11, 11).layer_at(60.0)
        (1, 2)
        """
        if metres <= 0:
            return 1
        # coils x (n first + step n (n-1) / 2) = metres, solved for the full layers n; then put right by one
        first = turn_length(self.radius(1))
        step = turn_length(self.packing * self.outside)
        b = first - step / 2
        full = (math.sqrt(b * b + 2 * step * metres / self.coils_per_layer) - b) / step
        layer = max(1, math.ceil(full - 1e-12))
        while layer > 1 and self.below(layer) >= metres - 1e-9:
            layer -= 1
        # a full layer ends in that layer, whatever the last digit of a float says
        while self.below(layer + 1) < metres - 1e-9:
            layer += 1
        return layer

    def layer_left(self, length: float, out: float) -> int:
        """The layer in which a run begins that pulls `out` metres of a hose out: that of what is left on the drum."""
        return self.layer_at(max(length - out, 0.0) + LEAST_OF_LAYER)


class Spread(NamedTuple):
    """How much faster the cart is at its fastest than at its slowest, as a part; `left` after compensation."""

    bare: float
    left: float


def speed_spread(wind: Wind, length: float, out: float, compensation: str | None = None) -> Spread:
    """Spread of the cart's speed over a run, at a drum that turns evenly.

    `length` is the whole hose, `out` what is pulled out [m]; compensation is mechanical, electronic, none or None.

    >>> round(speed_spread(Wind(1.5, 0.11, 11), 268.1, 268.0).bare, 4)
    0.4099
    """
    slowest = wind.radius(wind.layer_left(length, out))
    fastest = wind.radius(wind.layer_at(length - LEAST_OF_LAYER))
    bare = max(0.0, fastest / slowest - 1)
    leaves = {"mechanical": MECHANICAL_LEAVES, "electronic": ELECTRONIC_LEAVES}.get(compensation or "none", math.inf)
    return Spread(bare, min(bare, leaves))


class WoundLayer(NamedTuple):
    """A layer of a run: its number from the core, metres still out where it begins and ends, and its radius [m]."""

    layer: int
    begins: float
    ends: float
    radius: float


def layers_of(wind: Wind, length: float, out: float) -> tuple[WoundLayer, ...]:
    """The layers that a run of `out` metres of a hose winds, in their order.

    >>> [(one.layer, round(one.begins), round(one.ends)) for one in layers_of(Wind(1.5, 0.11, 11), 150, 140)]
    [(1, 140, 94), (2, 94, 31), (3, 31, 0)]
    """
    begins = min(out, length)
    found = []
    layer = wind.layer_left(length, begins)
    while begins > 1e-9:
        ends = length - wind.below(layer + 1)
        ends = ends if ends > LEAST_OF_LAYER else 0.0
        found.append(WoundLayer(layer, begins, ends, wind.radius(layer)))
        begins, layer = ends, layer + 1
    return tuple(found)


def time_without_setting(layers: tuple[WoundLayer, ...], speed: float) -> float:
    """How long a run takes [s] where the speed is set at its first layer and left.

    >>> round(time_without_setting(layers_of(Wind(1.5, 0.11, 11), 150, 140), 20 / 3600) / 3600, 2)
    6.29
    """
    return sum((one.begins - one.ends) * layers[0].radius / (one.radius * speed) for one in layers)


class Fit(NamedTuple):
    """Core diameter [m] and packing from a machine's own readings, each with its standard error, and the scatter
    of the metres about the fit [m]."""

    core_diameter: float
    core_error: float
    packing: float
    packing_error: float
    scatter: float


def fit(readings: Sequence[tuple[float, float]], outside: float, coils_per_layer: float) -> Fit:
    """Core diameter and packing by least squares from (turns on the drum, metres on the drum).

    Metres are a straight function of both, so the answer is exact. Raises ValueError where the readings cannot
    tell: fewer than three, none from a second layer, or a drum that would come out as none can be.

    >>> wind = Wind(1.6, 0.1, 12, 0.92)
    >>> found = fit([(t, wind.metres(t)) for t in (5, 15, 25, 35, 45)], 0.1, 12)
    >>> round(found.core_diameter, 6), round(found.packing, 6)
    (1.6, 0.92)
    """
    if len(readings) < 3:
        raise ValueError(
            _("metres against turns: three or more readings are needed, not {readings}", readings=len(readings))
        )
    if any(not (math.isfinite(t) and math.isfinite(m)) or t < 0 or m < 0 for t, m in readings):
        raise ValueError(_("metres against turns: every reading is nothing or more"))
    # metres = pi (core + outside) turns + 2 pi packing outside lifts, with lifts = the sum over turns of (layer - 1)
    rows = [(turns, _lifts(turns, coils_per_layer), metres) for turns, metres in readings]
    if not any(lifts > 0 for _turns, lifts, _m in rows):
        raise ValueError(_("metres against turns: no reading from a second layer, so packing cannot be told"))
    tt = sum(t * t for t, _lifted, _m in rows)
    tl = sum(t * lifts for t, lifts, _m in rows)
    ll = sum(lifts * lifts for _turns, lifts, _m in rows)
    tm = sum(t * m for t, _lifted, m in rows)
    lm = sum(lifts * m for _turns, lifts, m in rows)
    bottom = tt * ll - tl * tl
    if bottom <= 1e-12 * tt * ll:
        raise ValueError(_("metres against turns: the readings lie too close together to tell core and packing apart"))
    first, second = (ll * tm - tl * lm) / bottom, (tt * lm - tl * tm) / bottom
    core, packing = first / math.pi - outside, second / (2 * math.pi * outside)
    if core <= 0 or not 0.5 <= packing <= 1.5:
        says = mark(
            "metres against turns: they would make a core of {core:.2f} m and a packing of {packing:.2f}; measure "
            "again, or put coils_per_layer right on the card"
        )
        raise ValueError(_(says, core=core, packing=packing))
    left = sum((m - first * t - second * lifts) ** 2 for t, lifts, m in rows)
    scatter = math.sqrt(left / (len(rows) - 2))
    return Fit(
        core, scatter * math.sqrt(ll / bottom) / math.pi,
        packing, scatter * math.sqrt(tt / bottom) / (2 * math.pi * outside), scatter,
    )  # fmt: skip


def _lifts(turns: float, coils_per_layer: float) -> float:
    full = int(turns / coils_per_layer)
    return coils_per_layer * full * (full - 1) / 2 + (turns - full * coils_per_layer) * full

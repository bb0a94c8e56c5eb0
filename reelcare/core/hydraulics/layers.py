"""The layers that a run winds, and what the cart's speed and time become if nobody sets them again.

The rules of this file: a drum that turns evenly pulls faster with each layer. Lengths in m, of hose still out on the
ground; speeds in m/s, times in s.
"""

from __future__ import annotations

from typing import NamedTuple

from reelcare.core.hydraulics.drum import LEAST_OF_LAYER, Wind


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
    out = min(out, length)
    found = []
    layer = wind.layer_at(max(length - out, 0.0) + LEAST_OF_LAYER)
    begins = out
    while begins > 1e-9:
        ends = length - wind.below(layer + 1)
        ends = ends if ends > LEAST_OF_LAYER else 0.0
        if begins - ends > 1e-9:
            found.append(WoundLayer(layer, begins, ends, wind.radius(layer)))
        begins, layer = min(begins, ends), layer + 1
    return tuple(found)


def time_without_setting(layers: tuple[WoundLayer, ...], speed: float) -> float:
    """How long a run takes [s] where the speed is set at its first layer and left.

    >>> round(time_without_setting(layers_of(Wind(1.5, 0.11, 11), 150, 140), 20 / 3600) / 3600, 2)
    6.29
    """
    return sum((one.begins - one.ends) * layers[0].radius / (one.radius * speed) for one in layers)

"""The drum in section along its axis: which coils are on it, and which are out.

The rules of this file: the inner layers fill first, and each layer is laid back from where the one below it
ended. A coil that has begun to leave counts as off. Counts may be fractions: a layer may hold half a coil
more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.text import _

ON, OFF, KEEP, LEAVING = "on", "off", "keep", "leaving"
"""Tags: coils on the drum, off it, those that must stay, and the one that the hose leaves from."""
SIGN = {ON: "●", OFF: "·", KEEP: "◎", LEAVING: "◉"}
NARROWEST = 12


@dataclass(frozen=True, slots=True)
class Wound:
    """A drum with hose: coils in one layer, layers, coils on it now, and how many must stay."""

    coils_per_layer: float
    layers: int
    coils_on: float
    least: float = 2.0

    def __post_init__(self) -> None:
        if not (self.coils_per_layer >= 1 and self.layers >= 1 and math.isfinite(self.coils_per_layer)):
            raise ValueError(_(
                "a drum of {coils:g} coils by {layers} layers: at least one of each",
                coils=self.coils_per_layer, layers=self.layers,
            ))  # fmt: skip
        if not (math.isfinite(self.coils_on) and self.coils_on >= 0):
            raise ValueError(_("{coils:g} coils on the drum: must be 0 or more", coils=self.coils_on))

    @property
    def capacity(self) -> float:
        """Coils that the drum holds."""
        return self.coils_per_layer * self.layers

    @property
    def places(self) -> int:
        """Places side by side in one layer; the last may hold part of a coil."""
        return math.ceil(self.coils_per_layer - 1e-9)

    def place(self, coils: float) -> tuple[int, float]:
        """The layer (from 1) and the coil in it at which `coils` coils end.

        >>> Wound(12, 5, 30).place(30)
        (3, 6.0)
        >>> Wound(12, 5, 30).place(24)
        (2, 12.0)
        """
        coils = min(max(coils, 0.0), self.capacity)
        layer = max(1, min(self.layers, math.ceil(coils / self.coils_per_layer - 1e-9)))
        return layer, float(coils - (layer - 1) * self.coils_per_layer)

    def tag(self, layer: int, coil: int) -> str:
        """What the coil at place `coil` (from 0 at the left flange) of a layer (from 1) is."""
        turn = coil if layer % 2 else self.places - 1 - coil
        below = (layer - 1) * self.coils_per_layer
        end = below + min(turn + 1, self.coils_per_layer)
        if end > self.coils_on + 1e-9:
            return OFF
        rest = self.coils_per_layer - turn - 1
        if end + (min(1.0, rest) if rest > 0 else 1.0) > self.coils_on + 1e-9:
            return LEAVING
        return KEEP if end <= self.least + 1e-9 else ON


def draw(wound: Wound, *, width: int = 34, height: int = 14) -> Picture:
    """The drum cut through its axis, both halves where they fit, else the upper one."""
    shown = min(wound.layers, max(1, height - 1))
    both = height >= 2 * shown + 3
    inner = max(NARROWEST, width - 2)
    pitch = 2 if 2 * wound.places + 1 <= inner else 1
    across = min(wound.places, inner // pitch)
    # a layer lies in the hollows of the one below, half a coil aside
    span = across * pitch + (1 if pitch == 2 else 0)
    canvas = Canvas(max(width, span + 2), shown + 1 if not both else 2 * shown + 3)
    for row in range(shown):
        layer = _layer(wound, row, shown)
        for y in (row, 2 * shown + 2 - row) if both else (row,):
            _layer_row(canvas, wound, layer, y, across, pitch)
            for x in (0, span + 1):
                canvas.put(x, y, "┃", "drum")
    _core(canvas, shown, span, both)
    return canvas.picture(frozenset({LEAVING}))


def _layer(wound: Wound, row: int, shown: int) -> int:
    """The layer of a row, the outermost on top; several layers share a row where there are too many."""
    return max(1, round((shown - row) * wound.layers / shown))


def _layer_row(canvas: Canvas, wound: Wound, layer: int, y: int, across: int, pitch: int) -> None:
    count = wound.places
    aside = (layer + 1) % 2 if pitch == 2 else 0
    for place in range(across):
        first, last = place * count // across, max(place * count // across, (place + 1) * count // across - 1)
        tags = [wound.tag(layer, coil) for coil in range(first, last + 1)]
        tag = next((one for one in (LEAVING, KEEP, ON) if one in tags), OFF)
        canvas.put(1 + aside + place * pitch, y, SIGN[tag], tag)


def _core(canvas: Canvas, shown: int, span: int, both: bool) -> None:
    if not both:
        canvas.put(0, shown, "┗" + "━" * span + "┛", "drum")
        return
    canvas.put(0, shown, "┣" + "━" * span + "┫", "drum")
    canvas.put(0, shown + 1, "╂" + "┄" * span + "╂", "axle")
    canvas.put(0, shown + 2, "┣" + "━" * span + "┫", "drum")


def in_words(wound: Wound) -> str:
    """The section as one line.

    >>> in_words(Wound(12, 5, 30.5))
    '30.5 coils on the drum of 60: layer 3 of 5, coil 7 of 12'
    >>> in_words(Wound(12, 5, 1))
    '1.0 coils on the drum of 60: layer 1 of 5, coil 1 of 12; fewer than 2'
    """
    if wound.coils_on <= 0:
        return _("no hose on the drum")
    layer, coil = wound.place(wound.coils_on)
    text = _(
        "{on:.1f} coils on the drum of {capacity:g}: layer {layer} of {layers}, coil {coil} of {coils:g}",
        on=wound.coils_on, capacity=wound.capacity, layer=layer, layers=wound.layers,
        coil=math.ceil(coil - 1e-9), coils=wound.coils_per_layer,
    )  # fmt: skip
    few = "; " + _("fewer than {least:g}", least=wound.least)
    return text + few if wound.coils_on < wound.least else text

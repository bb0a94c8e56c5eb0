"""The mean number of failures of one machine against its age, as steps with their span.

The rules of this file: age to the right, failures upward, both from nothing. The span is drawn light, the mean bright;
a span of which nothing is known is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.evidence.failures.counts import Mean
from reelcare.core.text import _, localized

MEAN, SPAN, SCALE = "mean", "span", "scale"
"""Tags: the mean, its span, the scale."""
MARGIN = 6


def draw(curve: Sequence[Mean], watched: float, *, unit: str = "h", width: int = 60, height: int = 10) -> Picture:
    """The steps up to the age watched by any machine."""
    canvas = Canvas(max(width, MARGIN + 12), max(height, 4))
    if not curve or watched <= 0:
        return canvas.picture()
    top, room = canvas.height - 2, canvas.width - MARGIN
    # the span of few machines may be far above: the mean decides the scale
    most = min(curve[-1].high, 2.5 * curve[-1].mean)
    step = 0
    for x in range(room):
        age = watched * (x + 0.5) / room
        while step < len(curve) and curve[step].age <= age:
            step += 1
        if step:
            here = curve[step - 1]
            for y in _rows_of_span(here, most, top):
                canvas.put(MARGIN + x, y, "░", SPAN)
            canvas.put(MARGIN + x, _row(here.mean, most, top), "━", MEAN)
        else:
            canvas.put(MARGIN + x, top, "━", MEAN)
    canvas.put(0, 0, localized(f"{most:5.1f}"), SCALE)
    canvas.put(0, top, localized(f"{0:5.1f}"), SCALE)
    canvas.put(MARGIN, canvas.height - 1, "0", SCALE)
    end = f"{watched:.0f} {unit}"
    canvas.put(canvas.width - len(end), canvas.height - 1, end, SCALE)
    return canvas.picture()


def _rows_of_span(here: Mean, most: float, top: int) -> range:
    if math.isinf(here.high):
        return range(0)
    return range(_row(here.high, most, top), _row(here.low, most, top) + 1)


def _row(value: float, most: float, top: int) -> int:
    return max(0, round(top - min(value, most) / most * top))


def in_words(curve: Sequence[Mean], unit: str = "h") -> str:
    """The curve as one line.

    >>> in_words([Mean(100.0, 0.5, 0.2, 1.1, 4), Mean(300.0, 1.0, 0.5, 2.0, 1)])
    'failures of a machine: 0.5 (0.2 to 1.1; 4 watched) by 100 h, 1.0 (0.5 to 2.0; 1 watched) by 300 h'
    """
    if not curve:
        return _("no failure")
    shown = [curve[0], curve[-1]] if len(curve) > 1 else [curve[0]]
    return _("failures of a machine: {told}", told=", ".join(_point_in_words(one, unit) for one in shown))


def _point_in_words(one: Mean, unit: str) -> str:
    values = {"mean": one.mean, "low": one.low, "high": one.high, "watched": one.at_risk, "age": one.age, "unit": unit}
    if math.isinf(one.high):
        return _("{mean:.1f} (of one machine) by {age:.0f} {unit}", **values)
    return _("{mean:.1f} ({low:.1f} to {high:.1f}; {watched} watched) by {age:.0f} {unit}", **values)

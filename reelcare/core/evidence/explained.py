"""What other than wear may move a signal: the field, the operator or the wind, where enough runs tell of it.

The rules of this file: what is recorded for at least eight runs on either side is looked at, and only where a signal
drifts. If the drift goes once the difference between the two sides is taken out, it is told as that and not as wear.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean, median
from typing import Literal

from reelcare.core.text import _, mark

By = Literal["field", "operator", "wind"]
EITHER_SIDE = 8
"""Runs on either side, at the least."""
APART = 3.0
"""Standard errors by which both sides must differ."""


@dataclass(frozen=True, slots=True)
class SignalRun:
    """One run on a signal: when it ended, how far off it was [percent], and where, with whom and in what wind [m/s]."""

    at: datetime
    value: float
    field: str = ""
    operator: str = ""
    wind: float | None = None


@dataclass(frozen=True, slots=True)
class Explained:
    """By what a signal differs, on which side, by how much (in its own unit), and in how many runs."""

    by: By
    side: str
    size: float
    runs: int

    def says(self) -> str:
        """Where it differs, in words."""
        told = {"field": mark("in field {side}"), "operator": mark("with {side}"), "wind": mark("in more wind")}
        return _(told[self.by], side=self.side)


def explanations(runs: Sequence[SignalRun]) -> list[tuple[Explained, list[float]]]:
    """What both sides differ by, the surest first, each with the values that it leaves."""
    found = []
    for by, side, here in _sides(runs):
        known = [(run, is_here) for run, is_here in zip(runs, here, strict=True) if is_here is not None]
        inside = [run.value for run, is_here in known if is_here]
        outside = [run.value for run, is_here in known if not is_here]
        if min(len(inside), len(outside)) < EITHER_SIDE:
            continue
        size = fmean(inside) - fmean(outside)
        squares = sum((one - fmean(some)) ** 2 for some in (inside, outside) for one in some)
        error = math.sqrt(squares / (len(known) - 2) * (1 / len(inside) + 1 / len(outside)))
        if abs(size) > APART * error:
            left = [run.value - (size if is_here else 0.0) for run, is_here in zip(runs, here, strict=True)]
            found.append((abs(size) / max(error, 1e-12), Explained(by, side, size, len(inside)), left))
    found.sort(key=lambda one: (-round(one[0], 9), one[1].runs))  # of two sides that say the same, the rarer
    return [(explained, left) for _, explained, left in found]


def _sides(runs: Sequence[SignalRun]) -> Iterator[tuple[By, str, list[bool | None]]]:
    """Each way to part the runs in two: what it is, and which run lies on its side (None: not recorded)."""
    for name in sorted({one.field for one in runs} - {""}):
        yield "field", name, [one.field == name if one.field else None for one in runs]
    for name in sorted({one.operator for one in runs} - {""}):
        yield "operator", name, [one.operator == name if one.operator else None for one in runs]
    winds = [one.wind for one in runs if one.wind is not None]
    if winds:
        middle = median(winds)
        yield "wind", "more wind", [one.wind > middle if one.wind is not None else None for one in runs]

"""How finely a gauge was read: the step between readings, and what it makes of a signal.

The rules of this file: the step is the smallest distance between two readings of a machine; where all are the same it
is the widest common step that they are a multiple of (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from statistics import median_high

from reelcare.core import entries as e

STEPS = (50_000, 25_000, 20_000, 10_000, 5_000, 2_000, 1_000)
"""Common steps of gauges, wide ones first [Pa]."""
PART = 1 / 3
"""The least spread, in steps: a reading that is rounded is off by 0.29 of one (one standard deviation)."""
A_MINUTE = 60.0


def step(readings: Iterable[int]) -> float:
    """The step of a gauge, from its readings [Pa]; 0 where they are too few to tell, or follow no step.

    >>> step([430_000, 440_000, 430_000, 450_000]), step([430_000] * 5), step([])
    (10000, 10000, 0)
    """
    found = sorted(set(readings))
    if not found:
        return 0
    if len(found) == 1:
        return next((one for one in STEPS if found[0] and found[0] % one == 0), 0)
    return min(min(b - a for a, b in pairwise(found)), STEPS[0])


def least_spread(name: str, runs: Sequence[e.Run]) -> float:
    """The smallest spread of a signal that its gauges can tell, in 100 ln of a ratio (near to percent)."""
    if not runs:
        return 0.0
    if name == "speed":
        return 100 * PART * A_MINUTE / median_high((one.ended - one.started).total_seconds() for one in runs)
    steps = {
        field: step(read for one in runs if (read := getattr(one, field)) is not None)
        for field in ("inlet", "gun", "drive_loss")
    }
    return 100 * PART * median_high(_off(name, one, steps) for one in runs)


def _off(name: str, run: e.Run, steps: dict[str, float]) -> float:
    """By what part a step of each gauge moves a signal, taken together, in a run that tells of it (`residual`)."""
    drive, gun, inlet = float(run.drive_loss or 0), float(run.gun or 0), float(run.inlet or 0)
    if name == "drive loss":
        return steps["drive_loss"] / drive
    left = inlet - drive
    behind = math.hypot(steps["inlet"], steps["drive_loss"])
    if name == "gun pressure":
        return math.hypot(steps["gun"] / gun, behind / left)
    lost = left - gun
    # half of ln(lost / gun): a step at the gun moves both
    return math.hypot(behind / lost, steps["gun"] * (1 / lost + 1 / gun)) / 2

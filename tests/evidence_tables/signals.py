"""How often a signal gives a false alarm, how soon it finds a change, and what gauges and dwell do to it."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from statistics import median

from reelcare.core import entries as e
from reelcare.core.evidence.baseline import LEARNT
from reelcare.core.evidence.charts import RUN_LENGTH
from reelcare.core.evidence.signals import Event, Signal, signals
from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from tests.simulated import run_log

TOGETHER = (0.0, 0.2, 0.4, 0.6)
"""How much of a run's noise the next one keeps (a first-order autoregression)."""
RUNS_BEFORE = ("400", "135-149", "61-62", "33")
LATE_BEFORE = {(0.05, 0.03): "5 (99)", (0.03, 0.03): "13 (69)", (0.08, 0.03): "3 (100)"}
"""Runs until a change was found in the median, and the part that was found within 18 [%], after 30 good runs."""
LEARNING_BEFORE = {10.0: "283-288", 25.0: "272-285"}
"""Of 400 machines those that were still learning the gun pressure after 100 runs."""


def told(happened: Sequence[Event], name: str) -> Signal:
    """One signal of a machine."""
    return next(one for one in signals(happened, Card("R1"), Plan.empty()) if one.name == name)


def alarms(happened: Sequence[Event], name: str) -> list[int]:
    """The places of the runs at which a signal gives its alarm."""
    return [place for place, point in enumerate(told(happened, name).chart.points) if point.alarm]


def false_alarms(size: int, seed: int) -> None:
    """Print after how many runs a machine that is as it should be gives its first alarm in the mean."""
    print(f"False alarms of the speed: one in so many runs (wanted {RUN_LENGTH:.0f}); {size} machines; seed {seed}")
    for phi, before in zip(TOGETHER, RUNS_BEFORE, strict=True):
        watched = given = 0
        for number in range(size):
            runs = 400
            first = alarms(run_log(random.Random(f"{seed} {phi} {number}"), runs, phi=phi), "speed")
            watched += (first[0] + 1 if first else runs) - LEARNT
            given += bool(first)
        apart = watched / given if given else math.inf
        print(f"  AR(1) {phi:.1f}: {apart:5.0f} ({given} in {watched} runs); before {before}")


def delays(size: int, seed: int) -> None:
    """Print how many runs pass until a slower speed is found, after 30 good runs."""
    print(f"Delay: runs until found in the median (found within 18 [%]), after 30 good ones; seed {seed}")
    print(f"{'':26}" + "".join(f"{f'AR(1) {phi:.1f}':>12}" for phi in TOGETHER) + f"{'before':>12}")
    for slow, noise in ((0.03, 0.03), (0.05, 0.03), (0.05, 0.05), (0.08, 0.03)):
        cells = ""
        for phi in TOGETHER:
            found = []
            for number in range(size):
                chance = random.Random(f"{seed} {slow} {noise} {phi} {number}")
                happened = run_log(chance, 90, late=30, slow=slow, phi=phi, noise=noise)
                after = [place for place in alarms(happened, "speed") if place >= 30]
                found.append(after[0] - 29 if after else math.inf)
            soon = 100 * sum(one <= 18 for one in found) / size
            cells += f"{f'{median(found):.0f} ({soon:.0f})':>12}"
        before = LATE_BEFORE.get((slow, noise), "")
        print(f"  {100 * slow:.0f} % slower, noise {100 * noise:.0f} %  {cells}{before:>12}")


def gauges(size: int, seed: int) -> None:
    """Print what coarse gauges leave of the gun-pressure signal."""
    print(f"Gauges: gun pressure 18 % lower from run 41 of 60; seed {seed}")
    for step in (1.0, 10.0, 25.0, 50.0):
        learning = found = false = 0
        for number in range(size):
            chance = random.Random(f"{seed} {step} {number}")
            learning += told(run_log(chance, 100, step=step), "gun pressure").state == "learning"
            given = alarms(run_log(chance, 60, late=40, lost=0.18, step=step), "gun pressure")
            found += any(place >= 40 for place in given)
            false += any(place < 40 for place in given)
        shares = [100 * one / size for one in (learning, found, false)]
        before = f"; before, learning: {LEARNING_BEFORE[step]} of 400" if step in LEARNING_BEFORE else ""
        print(
            f"  read to {step / 100:.2f} bar: learning after 100 runs {shares[0]:.0f} %, found {shares[1]:.0f} %, "
            f"alarm before it {shares[2]:.0f} %{before}"
        )


def dwell(size: int, seed: int) -> None:
    """Print how often an hour of planned dwell is read as slower speed."""
    given = silent = 0
    for number in range(size):
        happened = run_log(random.Random(f"{seed} dwell {number}"), 40, noise=0.01)
        for says in (3600, None):
            longer = [
                (at + timedelta(hours=1), replace(run, ended=run.ended + timedelta(hours=1), dwell=says))
                for at, run in happened[25:]
                if isinstance(run, e.Run)
            ]
            late = any(place >= 25 for place in alarms([*happened[:25], *longer], "speed"))
            given += late and says is not None
            silent += late and says is None
    print(
        f"Dwell of an hour in 15 runs read as slower: {100 * given / size:.0f} % where it is told, "
        f"{100 * silent / size:.0f} % where it is not; before 100 % (it could not be told); seed {seed}"
    )


def show(size: int, seed: int) -> None:
    """Print all tables of signals."""
    false_alarms(5 * size, seed)
    delays(2 * size, seed)
    gauges(2 * size, seed)
    dwell(size, seed)

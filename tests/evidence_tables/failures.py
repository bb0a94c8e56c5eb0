"""How often spans of lives, counts and trends hold, and how often chance is taken for wear."""

from __future__ import annotations

import random
from collections import Counter

from reelcare.core.evidence.failures.counts import FailuresError, mean_cumulative
from reelcare.core.evidence.failures.lives import weibull
from reelcare.core.evidence.failures.power_law import power_law
from reelcare.core.evidence.failures.renewal import advise
from tests import simulated

COUNTS = (2, 3, 4, 5, 6, 8, 10, 20)
WORN_BEFORE = {2: "17-18", 3: "10", 6: "8-10", 8: "8-10", 10: "8-10"}
"""How often 'wears out' was said of lives by chance [%]."""
MACHINES = (2, 3, 5, 10, 20)
MEAN_BEFORE = {"all watched alike": {2: "61", 3: "74-75", 5: "83-84", 10: "90-92"},
               "unequal ages": {2: "47", 3: "60", 5: "72", 10: "78"}}  # fmt: skip
"""How often the span of 95 % of the mean cumulative function held [%]."""


def lives(size: int, seed: int) -> None:
    """Print what is said of lives of each shape, by failures, about a quarter censored."""
    print(f"Lives: [%] span of the shape held / said to wear out / to fail early / an interval told; seed {seed}")
    print(f"{'failures':14}" + "".join(f"{count:>20}" for count in COUNTS))
    for name, shape in simulated.LIVES.items():
        cells = ""
        for count in COUNTS:
            told: Counter[str] = Counter()
            for number in range(size):
                times, lost = simulated.lives(random.Random(f"{seed} {name} {count} {number}"), count, shape)
                try:
                    fit = weibull(times, lost)
                except FailuresError:
                    continue  # all but alike: nothing is told of them
                told["asked"] += 1
                advice = advise(fit, 1, 5)
                told["held"] += fit.shape_span[0] <= shape <= fit.shape_span[1]
                told["wears"] += fit.wears is True
                told["early"] += fit.wears is False
                told["interval"] += advice is not None and advice.sure
            asked = max(told["asked"], 1)
            held, wears, early, interval = (100 * told[key] / asked for key in ("held", "wears", "early", "interval"))
            cells += f"{held:6.0f} /{wears:4.1f}/{early:3.0f}/{interval:3.0f}"
        print(f"{name:14}{cells}")
    print(f"{'before, chance':14}" + "".join(f"{WORN_BEFORE.get(count, ''):>14}{'':6}" for count in COUNTS))


def means(size: int, seed: int) -> None:
    """Print how often the spans of the mean cumulative function hold at the last failure, by machines."""
    print(f"Mean cumulative function: 95 % span held at the last failure [%]; seed {seed}")
    print(f"{'':40}" + "".join(f"{machines:>8}" for machines in MACHINES) + " machines")
    for name, alike in (("all watched alike", True), ("unequal ages", False)):
        for unlike in (0.0, 0.5):
            for mean in (1.0, 3.0, 10.0):
                cells = ""
                for machines in MACHINES:
                    asked = held = 0
                    for number in range(size):
                        chance = random.Random(f"{seed} {name} {unlike} {mean} {machines} {number}")
                        found = mean_cumulative(simulated.fleet(chance, machines, mean, alike=alike, unlike=unlike))
                        if found:
                            asked += 1
                            held += found[-1].low <= mean * found[-1].age / 1000 <= found[-1].high
                    cells += f"{100 * held / asked:8.0f}"
                apart = ", machines differ by half" if unlike else ""
                print(f"{name + apart:34}{mean:4.0f}  {cells}")
        print(f"{'before (3 failures a machine)':40}" + "".join(f"{MEAN_BEFORE[name].get(m, ''):>8}" for m in MACHINES))


def trends(size: int, seed: int) -> None:
    """Print how often the span of the power law holds over machines of unequal ages, new ones and such with hours."""
    print(f"Power law: 95 % span held / said to worsen / to improve [%]; scatter of its logarithm; seed {seed}")
    print(f"{'':26}" + "".join(f"{machines:>22}" for machines in (1, 2, 5, 10)) + " machines")
    for came in (False, True):
        for shape in (0.7, 1.0, 1.5, 2.5):
            cells = ""
            for machines in (1, 2, 5, 10):
                told: Counter[str] = Counter()
                for number in range(size):
                    chance = random.Random(f"{seed} {came} {shape} {machines} {number}")
                    try:
                        law = power_law(simulated.growing(chance, machines, shape, came=came))
                    except FailuresError:
                        continue
                    told["asked"] += 1
                    told["held"] += law.shape_span[0] <= shape <= law.shape_span[1]
                    told["worse"] += law.worse is True
                    told["better"] += law.worse is False
                held, worse, better = (100 * told[key] / max(told["asked"], 1) for key in ("held", "worse", "better"))
                cells += f"{held:11.0f} /{worse:4.0f} /{better:3.0f}"
            print(f"{'came with hours' if came else 'watched from new':20}{shape:6.1f}{cells}")


def show(size: int, seed: int) -> None:
    """Print all tables of failures."""
    for table in (lives, means, trends):
        table(10 * size, seed)

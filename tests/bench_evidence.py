"""What forecasts, signals and failure statistics claim, held against simulated truth; and how fast they are.

Run it with `python tests/bench_evidence.py [forecasts|signals|failures|speed ...] [--size N] [--seed S]`. Each table
prints its seed, and beside its figures those of before (version 0.2 as it was handed on). Nothing is asserted here:
what may be reached stands in DEVELOPERS.md, under Budgets.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from reelcare.core.evidence.signals import signals
from reelcare.core.forecast.forecast import forecast
from reelcare.core.forecast.usage_rate import pace
from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from tests import simulated
from tests.evidence_tables import failures, forecasts
from tests.evidence_tables import signals as signal_tables

MACHINES, ITEMS = 200, 20
"""Machines of the fleet of which forecasts are timed, with so many items each."""


def fleet_of(chance: random.Random) -> list[list[simulated.Case]]:
    """Machines with some years behind them, each with the items of its plan on one day."""
    found: list[list[simulated.Case]] = []
    while len(found) < MACHINES:
        played = simulated.play(chance.choice(simulated.SHAPES), chance)
        cases = [case for _, case in simulated.cases(played, chance, [chance.randrange(400, 1500)], ITEMS)]
        if cases:
            found.append((cases * ITEMS)[:ITEMS])
    return found


def foreseen(machines: list[list[simulated.Case]]) -> None:
    """Every item of every machine, as a register does it: the pace of a machine is worked out once."""
    for cases in machines:
        first = cases[0]
        known = pace(first.use, first.now.day, first.season)
        for case in cases:
            forecast(case.limits, case.now, known, case.season)


def speed(size: int, seed: int) -> None:
    """Print what time of the processor 20,000 forecasts and the signals of 100 machines over a season take."""
    chance = random.Random(seed)
    machines = fleet_of(chance)
    times = 20_000 / (MACHINES * ITEMS)
    took = []
    for _ in range(3):
        began = time.process_time()
        foreseen(machines)
        took.append(times * (time.process_time() - began))
    began = time.process_time()
    sum(number * number % 7 for number in range(3_000_000))
    print(f"yardstick, a loop of three million steps: {time.process_time() - began:.2f} s")
    print(f"20,000 forecasts, {ITEMS} items of each of {20_000 // ITEMS} machines: {min(took):.2f} s (2 s at the most)")
    fleet = [simulated.run_log(chance, 120) for _ in range(100)]
    began = time.process_time()
    for one in fleet:
        signals(one, Card("R1"), Plan.empty())
    print(f"signals of 100 machines, 120 runs each: {time.process_time() - began:.2f} s (2 s at the most)")


TABLES = {"forecasts": forecasts.show, "signals": signal_tables.show, "failures": failures.show, "speed": speed}


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("tables", nargs="*", help="forecasts, signals, failures, speed; all where none is named")
    parser.add_argument("--size", type=int, default=60, help="machines of each shape; ten times as many fleets")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for name in asked.tables or TABLES:
        if name not in TABLES:
            parser.error(f"{name}: {', '.join(TABLES)} are right")
        begun = time.process_time()
        TABLES[name](asked.size, asked.seed)
        print(f"{name}: {time.process_time() - begun:.1f} s\n")


if __name__ == "__main__":
    main()

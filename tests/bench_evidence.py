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
from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from tests import simulated
from tests.evidence_tables import failures, forecasts
from tests.evidence_tables import signals as signal_tables


def speed(size: int, seed: int) -> None:
    """Print how long 20,000 forecasts and the signals of 100 machines over a season take."""
    chance = random.Random(seed)
    cases: list[simulated.Case] = []
    while len(cases) < 2000:
        played = simulated.play(chance.choice(simulated.SHAPES), chance)
        asked = [chance.randrange(100, 1500) for _ in range(20)]
        cases += [case for _, case in simulated.cases(played, chance, asked, 5)]
    began = time.process_time()
    for case in cases[:2000] * 10:
        forecasts.told_days(case)
    print(f"20,000 forecasts: {time.process_time() - began:.2f} s (2 s at the most)")
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

"""Signals on simulated fleets whose truth is known: false alarms, delay of detection, coverage, and time.

Run it with `python tests/bench_signals.py [--machines N]`. Nothing is asserted: what may be reached stands in
DEVELOPERS.md, under Budgets. The fleets are invented.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import time
from datetime import UTC, datetime, timedelta

from reelcare.core import entries as e
from reelcare.core.evidence import failures
from reelcare.core.evidence.baseline import LEARNT
from reelcare.core.evidence.charts import RUN_LENGTH
from reelcare.core.evidence.signals import Event, signals
from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan

START = datetime(2026, 4, 1, 6, tzinfo=UTC)


def season(
    chance: random.Random, runs: int, *, slow_from: int = 10**9, slow: float = 0.0, worn: float = 0.0
) -> list[Event]:
    """Runs with 3 % of noise on the speed and gauges read to a hundredth of a bar; from one on, slower or worn."""
    found: list[Event] = []
    at = START
    for number in range(runs):
        late = number >= slow_from
        speed = 25 * (1 - (slow if late else 0.0)) * (1 + chance.gauss(0, 0.03))
        metres = chance.randrange(200, 390)
        ended = at + timedelta(hours=metres / speed)
        bore = 1 + (worn if late else 0.0)
        # the hose loses as the square of the flow; the gun has what is left: lost = r bore^4 gun
        left = chance.gauss(600, 10)
        gun = left / (1 + 0.24 * bore**4)
        run = e.Run(
            started=at, ended=ended, metres=metres * 1000, planned_speed=25_000, inlet=round((left + 50) * 1000),
            gun=round(1000 * (gun + chance.gauss(0, 3))), drive_loss=round(1000 * chance.gauss(50, 2)),
            stopped_by="end stop",
        )  # fmt: skip
        found.append((ended, run))
        at = ended + timedelta(hours=8)
    return found


def alarms(happened: list[Event], name: str) -> list[int]:
    """The places of the runs at which a signal gives its alarm."""
    (one,) = [one for one in signals(happened, Card("R1"), Plan.empty()) if one.name == name]
    return [place for place, point in enumerate(one.chart.points) if point.alarm]


def false_alarms(machines: int, runs: int) -> None:
    """Print how often a machine that is as it should be gives an alarm."""
    chance = random.Random(1)
    watched = given = 0
    for _ in range(machines):
        first = alarms(season(chance, runs), "speed")
        watched += (first[0] if first else runs) - LEARNT
        given += bool(first)
    apart = watched / max(given, 1)
    print(f"false alarms      one in {apart:.0f} runs ({given} in {watched}); wanted one in {RUN_LENGTH:.0f}")


def delays(machines: int, says: str, name: str, **how: float) -> None:
    """Print how many runs pass until a change is found."""
    chance = random.Random(2)
    for before in (LEARNT, 25, 60):
        found = []
        for _ in range(machines):
            happened = season(chance, before + 40, slow_from=before, **how)
            after = [place for place in alarms(happened, name) if place >= before]
            found.append(after[0] - before + 1 if after else math.inf)
        missed = sum(one == math.inf for one in found)
        middle = statistics.median(found)
        print(f"{says:<18}after {before:>2} good runs: found in {middle:.0f} runs in the median, {missed} missed")


def coverage(fleets: int) -> None:
    """Print how often the 95 % intervals of the Weibull fit hold the truth."""
    chance = random.Random(3)
    held = [0, 0]
    for _ in range(fleets):
        times = [1000 * (-math.log(1 - chance.random())) ** (1 / 1.8) for _ in range(40)]
        fit = failures.weibull([min(one, 1200.0) for one in times], [one <= 1200 for one in times])
        held[0] += fit.scale_span[0] <= 1000 <= fit.scale_span[1]
        held[1] += fit.shape_span[0] <= 1.8 <= fit.shape_span[1]
    scale, shape = (100 * one / fleets for one in held)
    print(f"Weibull, 95 %     scale held in {scale:.1f} %, shape in {shape:.1f} % of {fleets}")


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--machines", type=int, default=400)
    machines = asked.parse_args().machines
    false_alarms(machines, 150)
    delays(machines // 2, "speed 5 % slower", "speed", slow=0.05)
    delays(machines // 2, "bore 3 % wider", "flow", worn=0.03)
    coverage(2 * machines)
    chance = random.Random(4)
    fleet = [season(chance, 120) for _ in range(100)]
    began = time.perf_counter()
    for one in fleet:
        signals(one, Card("R1"), Plan.empty())
    print(f"a season of 100 machines, 120 runs each, four signals: {time.perf_counter() - began:.2f} s")


if __name__ == "__main__":
    main()

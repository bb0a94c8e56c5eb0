"""Seasons of machines, run logs and lives of parts whose truth is known, for the benchmark of the evidence.

Everything here is invented and played by script: what it has in common with real seasons (spells of weather, stops,
lumps of one run, years that differ) is common practice, no source.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import accumulate

from reelcare.core import entries as e
from reelcare.core.evidence.failures.counts import System
from reelcare.core.evidence.signals import Event
from reelcare.core.forecast.season import in_season
from reelcare.core.forecast.usage_history import GrowingUse, Use
from reelcare.core.machine.card import Season
from reelcare.core.scales import ScalePoint, Threshold

SHAPES = (
    "even", "rotation", "gap", "droughty", "bell", "ends early", "front-loaded", "back-loaded", "every second day",
)  # fmt: skip
OPEN = (("04-15", "09-30"), ("03-01", "10-31"), ("05-10", "09-10"), ("10-01", "03-31"))
YEARS = 8
FIRST = date(2018, 1, 1).toordinal()
BEYOND = 3 * 366

Day = tuple[tuple[int, int], ...]
"""The runs of one day: seconds, millimetres."""


@dataclass(frozen=True)
class Played:
    """One machine's years: the card, and by day its runs."""

    shape: str
    season: Season
    days: tuple[Day, ...]


@dataclass(frozen=True)
class Case:
    """What is known on a day of one item of one machine, and in how many days it came true."""

    season: Season
    use: Use
    now: ScalePoint
    limits: tuple[Threshold, ...]
    true: int


# seasons


def _rotation(chance: random.Random, length: int) -> list[float]:
    found: list[float] = []
    here = chance.random() < 0.5
    while len(found) < length:
        found += [1.0 if here else 0.0] * (chance.randint(4, 8) if here else chance.randint(3, 7))
        here = not here
    return found[:length]


def _spells(chance: random.Random, length: int) -> list[float]:
    dry, wet = chance.uniform(6, 20), chance.uniform(3, 14)
    is_dry, found = chance.random() < dry / (dry + wet), []
    for _ in range(length):
        found.append(1.0 if is_dry else 0.1)
        if chance.random() < 1 / (dry if is_dry else wet):
            is_dry = not is_dry
    return found


def _gap(chance: random.Random, length: int) -> list[float]:
    found = [1.0] * length
    begins, long = chance.randrange(length), chance.randint(14, 35)
    found[begins : begins + long] = [0.0] * len(found[begins : begins + long])
    return found


def readiness(shape: str, chance: random.Random, length: int, own: float) -> list[float]:
    """How ready a machine is to work on each day of one season; `own` (0 to 1) is the machine's, in all its years."""
    part = [(day + 0.5) / length for day in range(length)]
    if shape == "rotation":
        return _rotation(chance, length)
    if shape == "droughty":
        return _spells(chance, length)
    if shape == "gap":
        return _gap(chance, length)
    if shape == "bell":
        middle = 0.42 + 0.16 * own + chance.gauss(0, 0.03)
        return [0.12 + math.exp(-(((u - middle) / 0.2) ** 2) / 2) for u in part]
    if shape == "ends early":
        ends = 0.55 + 0.2 * own + chance.gauss(0, 0.03)
        return [1.0 if u < ends else 0.0 for u in part]
    if shape in ("front-loaded", "back-loaded"):
        steep = 0.6 + 0.3 * own + chance.gauss(0, 0.04)
        falling = [max(1 + steep * (1 - 2 * u), 0.05) for u in part]
        return falling if shape == "front-loaded" else falling[::-1]
    return [1.0] * length


def _seasons(season: Season) -> Iterator[tuple[int, int]]:
    """The first and the last but one day of each season that was played from its beginning."""
    begins = None
    for day in range(YEARS * 366 + 400):
        inside = in_season(season, date.fromordinal(FIRST + day))
        if inside and begins is None:
            begins = day
        elif not inside and begins is not None:
            if begins > 0:
                yield begins, day
            begins = None


def play(shape: str, chance: random.Random) -> Played:
    """One machine's invented years of a shape; what its card says of a year is off as cards are."""
    opens, closes = chance.choice(OPEN)
    runs_a_day, hours, scatter = chance.uniform(0.3, 0.75), chance.uniform(6, 12), chance.uniform(0.05, 0.3)
    speed, own = chance.uniform(25, 40), chance.random()
    days: list[Day] = [()] * (YEARS * 366 + 400)
    used, years = 0.0, 0
    for begins, ends in _seasons(Season(opens, closes)):
        begins, ends = begins + round(chance.gauss(2, 3)), ends - round(chance.gauss(2, 3))
        ready = readiness(shape, chance, ends - begins, own)
        year = math.exp(chance.gauss(0, 0.3 if shape == "droughty" else 0.15))
        scale = runs_a_day * year / (sum(ready) / len(ready))
        for number, one in enumerate(ready):
            if shape == "every second day":
                many = number % 2
            else:
                wanted = min(one * scale, 1.9)
                many = (chance.random() < min(wanted, 0.95)) + (chance.random() < max(wanted - 0.95, 0.0))
            lengths = [hours * max(chance.gauss(1, scatter), 0.2) for _ in range(many)]
            used += sum(lengths)
            if 0 <= begins + number < len(days):
                days[begins + number] = tuple(
                    (round(h * 3600), round(h * speed * max(chance.gauss(1, 0.08), 0.5) * 1000)) for h in lengths
                )
        years += 1
    a_year = used / years * math.exp(chance.gauss(0, 0.25))
    return Played(shape, Season(opens, closes, round(a_year), round(a_year * speed)), tuple(days))


# forecasts that are asked of them

INTERVALS: tuple[dict[int, int], ...] = (
    {0: 50 * 3600}, {0: 100 * 3600}, {0: 250 * 3600}, {0: 500 * 3600, 3: 365}, {1: 25_000_000, 3: 365},
    {1: 50_000_000}, {2: 100, 3: 365}, {0: 50 * 3600, 1: 1_600_000}, {0: 100 * 3600, 1: 3_200_000},
    {0: 250 * 3600, 1: 8_000_000, 2: 27}, {2: 25},
)  # fmt: skip
"""Intervals of items by scale: seconds, millimetres, runs, days."""
NAMES = ("hours", "metres", "runs", "date")


def after_run(use: Use, day: date, seconds: int, millimetres: int) -> Use:
    """The use after one more run that ended on a day."""
    growing = GrowingUse.of(use)
    growing.add(day, seconds, millimetres)
    return growing.freeze()


def cases(
    played: Played, chance: random.Random, asked: Sequence[int], items: int, begins: int = 0
) -> Iterator[tuple[int, Case]]:
    """Forecasts asked on some days (numbers from the first), of a machine whose runs are known from a day on."""
    totals = [list(accumulate((sum(run[s] for run in day) for day in played.days), initial=0)) for s in (0, 1)]
    totals.append(list(accumulate((len(day) for day in played.days), initial=0)))
    use, since = Use(), begins
    for at in sorted(asked):
        for day in range(since, at + 1):
            for seconds, metres in played.days[day]:
                use = after_run(use, date.fromordinal(FIRST + day), seconds, metres)
        since = at + 1
        here = [total[at + 1] for total in totals]
        now = ScalePoint(date.fromordinal(FIRST + at), *here)
        for _ in range(items):
            limits, true = _item(chance, here, totals, at)
            if limits is not None:
                yield at, Case(played.season, use, now, limits, true)


def _item(
    chance: random.Random, here: Sequence[int], totals: Sequence[Sequence[int]], at: int
) -> tuple[tuple[Threshold, ...] | None, int]:
    every, used = chance.choice(INTERVALS), chance.random() * 0.98
    limits, reached = [], []
    for scale, interval in every.items():
        # scales of one item run side by side, not in step: each counts from a base a little off
        part = min(max(used + chance.uniform(-0.08, 0.08), 0), 0.99) if scale else used
        base = (here[scale] if scale < 3 else FIRST + at) - round(part * interval)
        due = base + interval
        limits.append(Threshold(NAMES[scale], base, due, due + interval // 10))  # type: ignore[arg-type]
        if scale == 3:
            reached.append(due - FIRST)
        elif totals[scale][-1] >= due:
            reached.append(bisect_right(totals[scale], due - 1) - 1)
    if not reached or not 0 < min(reached) - at <= BEYOND:
        return None, 0
    return tuple(limits), min(reached) - at


# run logs

START = datetime(2026, 4, 1, 6, tzinfo=UTC)


def correlated(chance: random.Random, many: int, spread: float, phi: float) -> list[float]:
    """Noise of one spread whose neighbours go together (a first-order autoregression, stationary)."""
    found = [chance.gauss(0, spread)]
    for _ in range(many - 1):
        found.append(phi * found[-1] + chance.gauss(0, spread * math.sqrt(1 - phi * phi)))
    return found


def run_log(
    chance: random.Random,
    runs: int,
    *,
    late: int = 10**9,
    slow: float = 0.0,
    worn: float = 0.0,
    lost: float = 0.0,
    phi: float = 0.0,
    step: float = 1.0,
    noise: float = 0.03,
) -> list[Event]:
    """Runs with noise on the speed, and gauges read to a step [kPa]; from one on slower, of a wider bore, or with less
    pressure at the gun."""
    found: list[Event] = []
    at = START
    for number, off in enumerate(correlated(chance, runs, noise, phi)):
        is_late = number >= late
        speed = 25 * (1 - (slow if is_late else 0.0)) * math.exp(off)
        metres = chance.randrange(200, 390)
        ended = at + timedelta(hours=metres / speed)
        bore = 1 + (worn if is_late else 0.0)
        # the hose loses as the square of the flow; the gun has what is left: lost = r bore^4 gun
        left = chance.gauss(600, 8)
        gun = left / (1 + 0.24 * bore**4) * (1 - (lost if is_late else 0.0)) + chance.gauss(0, 3)
        drive = chance.gauss(50, 2)
        read = [1000 * step * round(one / step) for one in (left + drive, gun, drive)]
        what = e.Run(
            started=at, ended=ended, metres=metres * 1000, planned_speed=25_000, inlet=round(read[0]),
            gun=round(read[1]), drive_loss=round(read[2]), stopped_by="end stop",
        )  # fmt: skip
        found.append((ended, what))
        at = ended + timedelta(hours=8)
    return found


# lives of parts

LIVES = {"early (0.7)": 0.7, "by chance (1)": 1.0, "wears (2)": 2.0, "wears fast (4)": 4.0}


def lives(chance: random.Random, failures: int, shape: float) -> tuple[list[float], list[bool]]:
    """Lives of one shape until so many have failed, each watched to an age of its own that has nothing to do with how
    long it lasts: about a quarter of them go on."""
    times: list[float] = []
    failed: list[bool] = []
    while sum(failed) < failures:
        lasts, watched = 1000 * (-math.log(1 - chance.random())) ** (1 / shape), chance.uniform(300, 3000)
        times.append(min(lasts, watched))
        failed.append(lasts <= watched)
    return times, failed


def fleet(
    chance: random.Random, machines: int, mean: float = 3.0, *, alike: bool = True, unlike: float = 0.0
) -> list[System]:
    """Machines that fail by chance, so many times on the average up to the age of 1000, all watched to it or not; their
    rates differ by a part, if wanted (gamma)."""
    found = []
    for _ in range(machines):
        watched = 1000.0 if alike else chance.uniform(300, 1000)
        rate = mean / 1000 * (chance.gammavariate(unlike**-2, unlike**2) if unlike else 1)
        age, ages = 0.0, []
        while (age := age + chance.expovariate(rate)) < watched:
            ages.append(age)
        found.append(System(tuple(ages), watched))
    return found


def growing(chance: random.Random, machines: int, shape: float, *, came: bool = False) -> list[System]:
    """Machines of one power law, four failures up to the age of 1000, watched to unequal ages; about half of them from
    an age on, if they came with hours."""
    found = []
    for _ in range(machines):
        since = chance.uniform(100, 600) if came and chance.random() < 0.5 else 0.0
        watched = since + chance.uniform(400, 1400)
        count, ages = 4 * (since / 1000) ** shape, []
        while (age := 1000 * ((count := count + chance.expovariate(1)) / 4) ** (1 / shape)) < watched:
            ages.append(age)
        found.append(System(tuple(ages), watched, since))
    return found

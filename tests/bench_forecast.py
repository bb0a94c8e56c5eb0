"""How good the forecasts of due days are, and how fast: simulated seasons of five kinds, played by script.

Run it with `python tests/bench_forecast.py [--machines N] [--seed S]`. It prints, for each kind of season, how
often the 80 % interval held the true day (of all cases, and of the open ones that no date alone decides), and the
pinball loss beside that of two plain ways: 'average use so far' and 'the last 14 days', each as a bare day and with
a spread from its own scatter. The seasons are invented; what they have in common with real ones (spells of weather,
stops, lumps of one run) is common practice, no source. Pinball loss and its use: Gneiting & Raftery 2007, JASA
102:359-378.
"""

from __future__ import annotations

import argparse
import math
import random
import time
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import accumulate
from statistics import NormalDist

from reelcare.core.forecast.forecast import Use, forecast, in_season, pace, season_days
from reelcare.core.machine.card import Season
from reelcare.core.scales import ScalePoint, Threshold

KINDS = ("steady", "showery", "two-peaked", "stopped", "growing")
QUANTILES = (0.1, 0.5, 0.9)
SEASONS = (("04-15", "09-30"), ("03-01", "10-31"), ("05-10", "09-10"), ("10-01", "03-31"))
YEARS = 6
FIRST = date(2018, 1, 1).toordinal()
BEYOND = 3 * 366


# scores, checked against published rows in tests/core/forecast/test_forecast.py


def pinball(quantile: float, true: float, told: float) -> float:
    """The pinball loss of a quantile that was told."""
    return quantile * (true - told) if true >= told else (1 - quantile) * (told - true)


def interval_score(alpha: float, low: float, high: float, true: float) -> float:
    """The interval (Winkler) score of a central 1 - alpha interval."""
    return (high - low) + 2 / alpha * (max(low - true, 0) + max(true - high, 0))


def wilson(hits: int, cases: int) -> tuple[float, float]:
    """The Wilson 95 % interval of a share."""
    z, share = NormalDist().inv_cdf(0.975), hits / cases
    middle = share + z * z / (2 * cases)
    half = z * math.sqrt(share * (1 - share) / cases + z * z / (4 * cases * cases))
    return (middle - half) / (1 + z * z / cases), (middle + half) / (1 + z * z / cases)


# seasons


@dataclass(frozen=True)
class Played:
    """One machine's years: the card, and by day the seconds, millimetres and runs that it made."""

    kind: str
    season: Season
    days: tuple[tuple[tuple[int, int], ...], ...]  # for each day its runs: seconds, millimetres


def _intensity(kind: str, chance: random.Random, length: int) -> list[float]:
    """How ready a machine is to work on each day of one season, about 1 on the average."""
    if kind == "two-peaked":
        first, second = chance.uniform(0.2, 0.35), chance.uniform(0.65, 0.85)
        width, low = chance.uniform(0.09, 0.14), chance.uniform(0.1, 0.3)
        curve = [
            low + max(math.exp(-(((d / length - peak) / width) ** 2) / 2) for peak in (first, second))
            for d in range(length)
        ]
    elif kind == "growing":
        begin = chance.uniform(0.15, 0.4)
        curve = [begin + (1 - begin) * d / length for d in range(length)]
    elif kind == "showery":
        dry, wet = chance.uniform(6, 14), chance.uniform(3, 8)
        is_dry, curve = chance.random() < dry / (dry + wet), []
        for _ in range(length):
            curve.append(1.0 if is_dry else 0.08)
            if chance.random() < 1 / (dry if is_dry else wet):
                is_dry = not is_dry
    else:
        curve = [1.0] * length
        if kind == "stopped":
            for _ in range(chance.choice((1, 1, 2))):
                begins, long = chance.randrange(length), chance.randint(10, 32)
                curve[begins : begins + long] = [0.0] * len(curve[begins : begins + long])
    return curve


def play(kind: str, chance: random.Random) -> Played:
    """One machine's invented years of a kind."""
    opens, closes = chance.choice(SEASONS)
    card = Season(opens, closes)
    runs_a_day, hours = chance.uniform(0.3, 0.9), chance.uniform(6, 12)
    scatter, speed = chance.uniform(0.05, 0.35), chance.uniform(25, 40)
    days: list[tuple[tuple[int, int], ...]] = [()] * (YEARS * 366 + 400)
    years, used = 0, 0.0
    for begins, ends in _seasons(card):
        begins += round(chance.gauss(3, 5))
        ends -= round(chance.gauss(3, 5))
        curve = _intensity(kind, chance, ends - begins)
        scale = runs_a_day * math.exp(chance.gauss(0, 0.15)) / (sum(curve) / len(curve))
        for number, ready in enumerate(curve):
            wanted = min(ready * scale, 1.8)
            count = (chance.random() < min(wanted, 0.95)) + (chance.random() < max(wanted - 0.95, 0.03 * ready))
            made = []
            for _ in range(count):
                h = hours * max(chance.gauss(1, scatter), 0.2)
                made.append((round(h * 3600), round(h * speed * max(chance.gauss(1, 0.08), 0.5) * 1000)))
                used += h
            if 0 <= begins + number - FIRST < len(days):
                days[begins + number - FIRST] = tuple(made)
        years += 1
    off = math.exp(chance.gauss(0, 0.25))
    return Played(
        kind, Season(opens, closes, round(used / years * off), round(used / years * off * speed)), tuple(days)
    )


def _seasons(season: Season) -> Iterator[tuple[int, int]]:
    inside = [in_season(season, date.fromordinal(FIRST + d)) for d in range(YEARS * 366 + 400)]
    begins = None
    for d, now in enumerate(inside):
        if now and begins is None:
            begins = d
        if not now and begins is not None:
            if begins > 0:
                yield FIRST + begins, FIRST + d
            begins = None


# cases: one forecast of one item of one machine on one day


@dataclass(frozen=True)
class Case:
    """What is known on the day, and the day that came true (days from then)."""

    played: Played
    today: int
    use: Use
    history: tuple[tuple[int, int, int, int], ...]
    now: ScalePoint
    limits: tuple[Threshold, ...]
    true: int


def cases(played: Played, chance: random.Random, dates: int, items: int) -> Iterator[Case]:
    """Some forecasts for one machine: its history begins at some day of its second year."""
    totals = [list(accumulate((sum(r[s] for r in d) for d in played.days), initial=0)) for s in (0, 1)]
    totals.append(list(accumulate((len(d) for d in played.days), initial=0)))
    carded = chance.randrange(200, 560)
    asked = sorted(chance.randrange(carded, carded + 3 * 365) for _ in range(dates))
    use, day, history = Use(), carded, []
    for at in asked:
        for d in range(day, at + 1):
            for seconds, metres in played.days[d]:
                use = use.after_run(date.fromordinal(FIRST + d), seconds, metres)
            if played.days[d]:
                s, m = (sum(r[k] for r in played.days[d]) for k in (0, 1))
                history.append((FIRST + d, s, m, len(played.days[d])))
        day = at + 1
        here = [t[at + 1] for t in totals]
        now = ScalePoint(date.fromordinal(FIRST + at), *here)
        for _ in range(items):
            limits, true = _item(chance, here, totals, at)
            if limits is not None:
                yield Case(played, at, use, tuple(history), now, limits, true)


INTERVALS: tuple[dict[int, int], ...] = (
    {0: 50 * 3600}, {0: 100 * 3600}, {0: 250 * 3600}, {0: 500 * 3600, 3: 365}, {1: 25_000_000, 3: 365},
    {1: 50_000_000, 3: 365}, {2: 100, 3: 365}, {0: 50 * 3600, 1: 15_000_000}, {0: 100 * 3600, 1: 3_200_000},
    {0: 250 * 3600, 1: 8_000_000, 2: 27},
)  # fmt: skip
NAMES = ("hours", "metres", "runs", "date")


def _item(
    chance: random.Random, here: Sequence[int], totals: Sequence[Sequence[int]], at: int
) -> tuple[tuple[Threshold, ...] | None, int]:
    every, used = chance.choice(INTERVALS), chance.random() * 0.98
    thresholds, reached = [], []
    for scale, interval in every.items():
        # thresholds of one item run side by side, not in step: each counts from a base a little off
        part = min(max(used + chance.uniform(-0.08, 0.08), 0), 0.99) if scale else used
        base = (here[scale] if scale < 3 else FIRST + at) - round(part * interval)
        due = base + interval
        thresholds.append(Threshold(NAMES[scale], base, due, due + interval // 10))  # type: ignore[arg-type]
        if scale == 3:
            reached.append(due - FIRST)
        elif totals[scale][-1] >= due:
            reached.append(_first(totals[scale], due) - 1)
    if not reached or min(reached) - at > BEYOND or min(reached) <= at:
        return None, 0
    return tuple(thresholds), min(reached) - at


def _first(totals: Sequence[int], due: int) -> int:
    return bisect_right(totals, due - 1)


# the plain ways to compare with


def _plain(case: Case, window: int | None) -> tuple[list[float], list[float]]:
    """The day told by a plain average: bare (three times the same), and with a spread from its own scatter."""
    season, today = case.played.season, FIRST + case.today
    first = case.history[0][0] if case.history else today
    begins = max(first, today - window + 1) if window else first
    past = [d for d in range(begins, today + 1) if in_season(season, date.fromordinal(d))] if case.history else []
    by_day = (
        {d: (s, m, r) for d, s, m, r in case.history[-400:]}
        if window
        else {d: (s, m, r) for d, s, m, r in case.history}
    )
    inside = [one for d, one in by_day.items() if begins <= d <= today]
    if window and not inside and case.history:
        return _plain(case, None)
    here = (*case.now.totals, today)
    bare: list[float] = []
    spread: list[list[float]] = []
    for one in case.limits:
        left, scale = one.due - here[NAMES.index(one.by)], NAMES.index(one.by)
        if scale == 3:
            bare.append(left)
            spread.append([left] * 3)
            continue
        count = max(len(past), 1)
        if inside:
            rate = sum(one[scale] for one in inside) / count
            var = sum(one[scale] ** 2 for one in inside) / count - rate * rate
        else:
            year = (
                (season.hours_a_year or 0) * 3600,
                (season.metres_a_year or 0) * 1000,
                (season.hours_a_year or 0) / 10,
            )
            rate = year[scale] / season_days(season)
            var = rate * rate
        needed = [_normal_crossing(left, rate, max(var, 0.0), q) for q in QUANTILES]
        bare.append(_calendar(left / rate, today, season))
        spread.append([_calendar(n, today, season) for n in needed])
    return [min(bare)] * 3, [min(one[k] for one in spread) for k in range(3)]


def _normal_crossing(left: float, rate: float, var: float, q: float) -> float:
    z = NormalDist().inv_cdf(q)
    root = (z * math.sqrt(var) + math.sqrt(z * z * var + 4 * rate * left)) / (2 * rate)
    return root * root


def _calendar(needed: float, today: int, season: Season) -> float:
    if needed > BEYOND:
        return BEYOND
    count, day = 0, today
    while count < needed and day - today < BEYOND:
        day += 1
        count += in_season(season, date.fromordinal(day))
    return day - today


# what came of it


@dataclass
class Sum:
    """Cases gathered: hits of the interval, and losses by way. Days that a date alone decides are no merit."""

    cases: int = 0
    hits: int = 0
    below: int = 0
    open: int = 0
    open_hits: int = 0
    loss: dict[str, float] | None = None

    def add(self, told: Sequence[float], others: Mapping[str, Sequence[float]], true: int, certain: bool) -> None:
        """Count one case."""
        self.cases += 1
        self.hits += told[0] <= true <= told[2]
        self.open += not certain
        self.open_hits += not certain and told[0] <= true <= told[2]
        self.below += true < told[0]
        self.loss = self.loss or {}
        for name, days in {"ours": told, **others}.items():
            here = sum(pinball(q, true, day) for q, day in zip(QUANTILES, days, strict=True)) / 3
            self.loss[name] = self.loss.get(name, 0.0) + here
            self.loss[name + " middle"] = self.loss.get(name + " middle", 0.0) + pinball(0.5, true, days[1])


def told_days(case: Case) -> list[float]:
    """Ours, as days from the day of asking."""
    ahead = forecast(case.limits, case.now, pace(case.use, case.now.day, case.played.season), case.played.season)
    days = (ahead.early, ahead.likely, ahead.late) if ahead else (None, None, None)
    return [(d - case.now.day).days if d is not None else BEYOND for d in days]


def measure(machines: int, seed: int, dates: int = 8, items: int = 4, on_card: bool = True) -> dict[str, Sum]:
    """Play the seasons and gather the scores by kind, and by what was known and how far ahead.

    Without `on_card` the card does not say when the season opens and closes.
    """
    found: dict[str, Sum] = {}
    for name in (*KINDS, "all"):
        found[name] = Sum()
    for kind in KINDS:
        for number in range(machines):
            chance = random.Random(f"{seed} {kind} {number}")
            played = play(kind, chance)
            card = played.season
            if not on_card:
                played = replace(played, season=Season(None, None, card.hours_a_year, card.metres_a_year))
            for case in cases(played, chance, dates, items):
                average, recent = _plain(case, None), _plain(case, 14)
                others = {
                    "average, a bare day": average[0], "average, with spread": average[1],
                    "14 days, a bare day": recent[0], "14 days, with spread": recent[1],
                }  # fmt: skip
                told = told_days(case)
                months = len({d // 30 for d, *_ in case.history})
                known = (
                    "no history"
                    if not months
                    else "first weeks"
                    if months <= 1
                    else "some months"
                    if months < 6
                    else "a season"
                )
                far = (
                    "up to 7 days"
                    if case.true <= 7
                    else "8 to 30"
                    if case.true <= 30
                    else "31 to 90"
                    if case.true <= 90
                    else "beyond 90"
                )
                several = f"{sum(one.by != 'date' for one in case.limits)} scales of use"
                certain = any(one.by == "date" and one.due - case.now.day.toordinal() == told[0] for one in case.limits)
                season = "asked: in season" if in_season(card, case.now.day) else "asked: out of season"
                for name in (kind, "all", f"known: {known}", f"ahead: {far}", several, season):
                    found.setdefault(name, Sum()).add(told, others, case.true, certain)
    return {name: found[name] for name in (*KINDS, "all", *sorted(set(found) - {*KINDS, "all"}))}


def speed(machines: int = 1000) -> float:
    """Seconds for the forecasts of 20 items of each of so many machines, the pace included."""
    work: list[tuple[Use, Season, ScalePoint, list[tuple[Threshold, ...]]]] = []
    for number in range(machines):
        chance = random.Random(number)
        if number < 40:
            played = play(KINDS[number % 5], chance)
            got = list(cases(played, chance, 2, 14))[-20:]
            kept = (got[-1].use, played.season, got[-1].now)
        limits = [one.limits for one in got if one.now == got[-1].now]
        work.append((*kept, (limits * 20)[:20]))
    begun = time.perf_counter()
    for use, season, now, limits in work:
        known = pace(use, now.day, season)
        for one in limits:
            forecast(one, now, known, season)
    return time.perf_counter() - begun


def show(found: dict[str, Sum], say: Callable[[str], None] = print) -> None:
    """Print the table."""
    say(
        f"{'':24}{'cases':>7}{'held':>8}{'95 %':>16}{'open':>7}{'held':>8}{'early':>7}{'loss':>7}"
        "   loss of the others (ours is less by)"
    )
    for name, one in found.items():
        assert one.loss is not None
        low, high = wilson(one.hits, one.cases)
        mine = one.loss["ours"] / one.cases
        rest = ", ".join(
            f"{other} {loss / one.cases:.2f} ({1 - one.loss['ours'] / loss:+.0%})"
            for other, loss in one.loss.items()
            if other != "ours" and not other.endswith("middle")
        )
        middle = ", ".join(f"{1 - one.loss['ours middle'] / one.loss[k]:+.0%}" for k in (
            "average, with spread middle", "14 days, with spread middle"))  # fmt: skip
        say(
            f"{name:24}{one.cases:7}{one.hits / one.cases:8.1%}{f'{low:.1%} {high:.1%}':>16}"
            f"{one.open:7}{one.open_hits / max(one.open, 1):8.1%}"
            f"{one.below / one.cases:7.1%}{mine:7.2f}   {rest}; middle {middle}"
        )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=int, default=60, help="machines of each kind")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    begun = time.perf_counter()
    show(measure(asked.machines, asked.seed))
    print("\nthe card does not say when the season opens and closes:")
    show(
        {
            name: one
            for name, one in measure(max(asked.machines // 3, 1), asked.seed, on_card=False).items()
            if name in (*KINDS, "all")
        }
    )
    print(f"played and scored in {time.perf_counter() - begun:.1f} s")
    print(f"forecasts for 1,000 machines of 20 items: {min(speed() for _ in range(3)):.2f} s")


if __name__ == "__main__":
    main()

"""How often the spans of forecasts hold, in each shape of season and at each moment of it.

Scores: Gneiting & Raftery 2007, JASA 102:359-378; the interval of a share: Wilson 1927, JASA 22:209-212.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from statistics import NormalDist, median

from reelcare.core.forecast.forecast import forecast
from reelcare.core.forecast.season import in_season
from reelcare.core.forecast.usage_rate import pace
from tests import simulated
from tests.simulated import BEYOND, Case

MOMENTS = ("first weeks", "early", "late", "closed")
"""When a forecast is asked: less than four weeks after the first run, in the first and second half of a season, and
while it is closed with a season known."""


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


# forecasts


@dataclass
class Held:
    """Forecasts gathered: how often the span held the day, on which side it did not, how wide it was, and the loss."""

    asked: int = 0
    none: int = 0
    before: int = 0
    after: int = 0
    widths: list[float] = field(default_factory=list)
    loss: float = 0.0

    def add(self, told: Sequence[float] | None, true: int) -> None:
        """Count one forecast, in days from the day of asking."""
        self.asked += 1
        if told is None:
            self.none += 1
            return
        self.before += true < told[0]
        self.after += true > told[2]
        self.widths.append(told[2] - told[0])
        self.loss += sum(pinball(q, true, day) for q, day in zip((0.1, 0.5, 0.9), told, strict=True)) / 3

    @property
    def told(self) -> int:
        """How many were told."""
        return self.asked - self.none

    def share(self, many: int) -> float:
        """A percentage of those told."""
        return 100 * many / self.told if self.told else math.nan

    @property
    def held(self) -> float:
        """How often the span held the day [%]."""
        return self.share(self.told - self.before - self.after)


def told_days(case: Case) -> list[float] | None:
    """The days that are told, from the day of asking; None where nothing is told."""
    ahead = forecast(case.limits, case.now, pace(case.use, case.now.day, case.season), case.season)
    if ahead is None:
        return None
    return [(day - case.now.day).days if day is not None else BEYOND for day in (ahead.early, ahead.likely, ahead.late)]


def moment(case: Case) -> str | None:
    """At which of the moments a forecast is asked; None at another."""
    today, first = case.now.day, case.use.first
    if first is None:
        return None
    open_now = in_season(case.season, today)
    if (today - first).days < 28:
        return "first weeks" if open_now else None
    if not open_now:
        return "closed"
    opens = f"{today.year}-{case.season.opens}"
    begun = date.fromisoformat(opens)
    if begun > today:
        begun = date.fromisoformat(f"{today.year - 1}-{case.season.opens}")
    closes = date.fromisoformat(f"{begun.year}-{case.season.closes}")
    if closes < begun:
        closes = closes.replace(year=begun.year + 1)
    return "early" if (today - begun).days < (closes - begun).days / 2 else "late"


def forecasts(machines: int, seed: int) -> dict[tuple[str, str], Held]:
    """Forecasts by shape and moment, those left out that a date alone decides."""
    found: dict[tuple[str, str], Held] = defaultdict(Held)
    for shape in simulated.SHAPES:
        for number in range(machines):
            chance = random.Random(f"{seed} {shape} {number}")
            played = simulated.play(shape, chance)
            begins = chance.randrange(330, 330 + 400)
            worked = [day for day in range(begins, begins + 500) if played.days[day]]
            first = [chance.randrange(worked[0] + 1, worked[0] + 28) for _ in range(3)]
            asked = [chance.randrange(worked[0] + 28, worked[0] + 28 + 3 * 365) for _ in range(9)]
            for _, case in simulated.cases(played, chance, first + asked, 3, begins):
                when = moment(case)
                if when is None:
                    continue
                told = told_days(case)
                by_date = [limit.due - case.now.day.toordinal() for limit in case.limits if limit.by == "date"]
                if told is None or told[0] not in by_date:
                    found[shape, when].add(told, case.true)
    return found


def show(size: int, seed: int) -> None:
    """Print how often spans of 80 % hold, by shape and moment."""
    print(f"Forecasts: spans of 80 %, held [%] / day before the early one / after the late one; seed {seed}")
    found = forecasts(size, seed)
    print(f"{'':18}" + "".join(f"{one:>22}" for one in MOMENTS) + f"{'all':>20}{'in season, wide':>17}{'loss':>7}")
    for shape in simulated.SHAPES:
        cells, whole = "", Held()
        for when in MOMENTS:
            one = found[shape, when]
            cells += f"{one.held:10.0f} /{one.share(one.before):3.0f} /{one.share(one.after):3.0f}"
            cells += f" -{100 * one.none / max(one.asked, 1):2.0f}"
            whole = Held(
                whole.asked + one.asked, whole.none + one.none, whole.before + one.before, whole.after + one.after,
                whole.widths, whole.loss + one.loss,
            )  # fmt: skip
        wide = median(found[shape, "early"].widths + found[shape, "late"].widths)
        cells += f"{whole.held:10.1f} /{whole.share(whole.before):3.0f} /{whole.share(whole.after):3.0f}"
        print(f"{shape:18}{cells}{wide:17.1f}{whole.loss / max(whole.told, 1):7.2f}")
    print(f"{sum(one.asked for one in found.values())} forecasts")

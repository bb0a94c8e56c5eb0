"""What the failures of one part say, worked out and in the words of a mechanic.

The rules of this file: every figure stands with what it rests on; where tests disagree it says so; where there is too
little it says that, and never a figure for its own sake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core.evidence import failures
from reelcare.core.evidence.exposure import Exposure
from reelcare.core.evidence.failures import FailuresError, Mean, PowerLaw, Trend, Weibull
from reelcare.core.evidence.renewal import Renewal, best_renewal


@dataclass(frozen=True, slots=True)
class Told:
    """What is known of one part's failures over all machines. None is 'cannot say', and `notes` say why."""

    part: str
    unit: str
    machines: int
    failures: int
    watched: float
    mean_time: tuple[float | None, float, float]
    curve: tuple[Mean, ...]
    trends: tuple[Trend, ...]
    power: PowerLaw | None
    weibull: Weibull | None
    renewal: Renewal | None
    notes: tuple[str, ...]

    @property
    def disagree(self) -> bool:
        """Whether some tests find a trend and others do not, or they point different ways."""
        sure = {one.sure for one in self.trends}
        return len(sure) > 1 or len({one.worse for one in self.trends if one.sure}) > 1


def tell(
    part: str, exposed: Sequence[Exposure], *, unit: str = "h", planned: float = 1.0, unplanned: float = 5.0
) -> Told:
    """Everything that the exposures of a part say; costs of planned and unplanned renewal in any one unit."""
    systems = [one.system for one in exposed if one.system is not None]
    lives = [life for one in exposed for life in one.lives]
    count = sum(len(one.failures) for one in systems)
    watched = sum(one.watched for one in systems)
    notes: list[str] = []
    curve: tuple[Mean, ...] = ()
    trends: list[Trend] = []
    power = fit = renewal = None
    low, high = failures.mean_time_span(watched, count) if watched > 0 else (0.0, float("inf"))
    if systems and count:
        curve = tuple(failures.mean_cumulative(systems))
    if count > 1:
        for test in (failures.laplace, failures.military):
            _try(lambda test=test: trends.append(test(systems)), notes)
        if len(systems) == 1:
            _try(lambda: trends.append(failures.reversals(systems[0])), [])
        try:
            power = failures.power_law(systems)
        except FailuresError as why:
            notes.append(str(why))
        try:
            fit = failures.weibull([one.time for one in lives], [one.failed for one in lives])
            renewal = best_renewal(fit.scale, fit.shape, planned, unplanned)
        except FailuresError as why:
            notes.append(f"time since renewal: {why}")
    if count < failures.FEW:
        many = f"{count} failure{'s' if count != 1 else ''} in all"
        notes.append(
            f"{many}: few, so every figure is wide" if count > 1 else f"{many}: no trend and no interval from that"
        )
    came = sum(one.before > 0 for one in exposed)
    if came:
        many = f"{came} machine" + ("s" if came != 1 else "")
        word = "hours" if unit == "h" else "metres"
        notes.append(
            f"{many} came with {word} on the counter, of which no failure is known here: the {part} may fail more "
            "often than that, and a trend may be none"
        )
    return Told(
        part, unit, len(systems), count, watched, (watched / count if count else None, low, high), curve,
        tuple(trends), power, fit, renewal, tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _try(what: object, notes: list[str]) -> None:
    try:
        what()  # type: ignore[operator]
    except FailuresError as why:
        notes.append(str(why))


def sentences(told: Told) -> list[str]:
    """What is known, in sentences."""
    found = []
    mean, low, high = told.mean_time
    span = f"{low:.0f} {told.unit} or more" if high == float("inf") else f"{low:.0f} to {high:.0f} {told.unit}"
    machines = f"{told.machines} machine" + ("s" if told.machines != 1 else "")
    if mean is None:
        found.append(f"no failure of the {told.part} in {told.watched:.0f} {told.unit} on {machines}: one in {span}")
    else:
        many = f"{told.failures} failure" + ("s" if told.failures != 1 else "")
        found.append(f"{many} in {told.watched:.0f} {told.unit} on {machines}: one in {mean:.0f} {told.unit} ({span})")
    if told.trends:
        found.append("; ".join(_trend(one) for one in told.trends) + ("; they disagree" if told.disagree else ""))
    fit = told.weibull
    if fit is not None:
        kind = "wears out" if fit.shape_span[0] > 1 else "fails early" if fit.shape_span[1] < 1 else "fails by chance"
        sure = ", so far as can be said" if fit.shape_span[0] <= 1 <= fit.shape_span[1] else ""
        found.append(
            f"since it was renewed it {kind}{sure}: shape {fit.shape:.2f} ({fit.shape_span[0]:.2f} to "
            f"{fit.shape_span[1]:.2f}), 63 % gone by {fit.scale:.0f} {told.unit}"
        )
    if told.renewal is not None:
        if told.renewal.time is None:
            found.append("renewing it before it fails does not pay: no finite interval is best")
        else:
            less = 100 * (1 - told.renewal.cost / told.renewal.cost_unplanned_only)
            found.append(
                f"renewing it every {told.renewal.time:.0f} {told.unit} costs least, {less:.0f} % less than waiting"
            )
    return [*found, *told.notes]


def _trend(one: Trend) -> str:
    word = ("worsening" if one.worse else "improving") if one.sure else "no trend"
    return f"{one.test}: {word} ({100 * one.chance:.0f} % by chance)"

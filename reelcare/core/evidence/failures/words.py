"""What the failures of one part say, worked out and in the words of a mechanic.

The rules of this file: 'few' stands first; every figure is followed by its span (95 %) and the count that it rests on;
nothing is said that the span does not carry; where there is too little it says that. Costs are asked, never assumed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reelcare.core import units
from reelcare.core.evidence.failures.counts import (
    FEW,
    FailuresError,
    Mean,
    about,
    count_of,
    mean_cumulative,
    mean_time_span,
)
from reelcare.core.evidence.failures.exposure import Exposure, Unit
from reelcare.core.evidence.failures.lives import Weibull, weibull
from reelcare.core.evidence.failures.power_law import PowerLaw, power_law
from reelcare.core.evidence.failures.renewal import RenewalAdvice, advise
from reelcare.core.evidence.failures.trends import Trend, laplace, military, reversals
from reelcare.core.text import _, plural

Costs = tuple[float, float]
"""Of a planned and of an unplanned renewal, in any one unit."""


@dataclass(frozen=True, slots=True)
class FailureFigures:
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
    costs: Costs | None
    renewal: RenewalAdvice | None
    notes: tuple[str, ...]

    @property
    def few(self) -> bool:
        """Whether it rests on few failures."""
        return self.failures < FEW

    @property
    def disagree(self) -> bool:
        """Whether some tests find a trend and others do not, or they point different ways."""
        sure = {one.sure for one in self.trends}
        return len(sure) > 1 or len({one.worse for one in self.trends if one.sure}) > 1


def tell_each(
    exposed: Mapping[str, Sequence[Exposure]], *, unit: Unit, costs: Costs | None = None,
    system: units.System = "metric",
) -> list[FailureFigures]:  # fmt: skip
    """As `tell` of one part alone; of several those that failed, the most often first."""
    told = [tell(part, some, unit=unit, costs=costs, system=system) for part, some in exposed.items()]
    return told if len(told) == 1 else sorted((one for one in told if one.failures), key=lambda one: -one.failures)


def tell(
    part: str, exposed: Sequence[Exposure], *, unit: Unit = "hours", costs: Costs | None = None,
    system: units.System = "metric",
) -> FailureFigures:  # fmt: skip
    """Everything that the exposures of a part say, those by metres in the person's units; costs None: nothing is said
    of when renewal pays."""
    name = "h" if unit == "hours" else units.unit_for("length", system)
    if unit == "metres" and system == "us":
        exposed = [one.scaled(units.in_unit(1, name)) for one in exposed]
    systems = [one.system for one in exposed if one.system is not None]
    lives = [life for one in exposed for life in one.lives]
    count = sum(len(one.failures) for one in systems)
    watched = sum(one.exposed for one in systems)
    notes: list[str] = []
    trends: list[Trend] = []
    power = fit = None
    low, high = mean_time_span(watched, count, 0.95) if watched > 0 else (0.0, math.inf)
    if count > 1:
        for test in (laplace, military):
            trends += _or_note(lambda test=test: [test(systems)], notes) or []  # type: ignore[misc]
        if len(systems) == 1:
            trends += _or_note(lambda: [reversals(systems[0])], []) or []
        power = _or_note(lambda: power_law(systems), notes)
        fit = _or_note(
            lambda: weibull([one.time for one in lives], [one.failed for one in lives]),
            notes,
            _("time since renewal: "),
        )
    came = sum(one.before > 0 for one in exposed)
    if came:
        notes.append(_came(part, came, unit))
    if found := sum(one.found for one in exposed):
        notes.append(_found(found))
    return FailureFigures(
        part, name, len(systems), count, watched,
        (watched / count if count else None, low, high),
        tuple(mean_cumulative(systems)) if systems else (), tuple(trends), power, fit, costs,
        advise(fit, *costs) if fit is not None and costs is not None else None, tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _or_note(what: Callable[[], Any], notes: list[str], about: str = "") -> Any:
    """What it gives; None where there is too little for it, which is noted."""
    try:
        return what()
    except FailuresError as why:
        notes.append(about + str(why))
        return None


def _came(part: str, machines: int, unit: Unit) -> str:
    return plural(
        "{n} machine came with {counter} on the counter: watched from there; how old its {part} was is not known",
        "{n} machines came with {counter} on the counter: watched from there; how old their {part} was is not known",
        machines,
        counter=_(unit),
        part=part,
    )


def _found(failures: int) -> str:
    return plural(
        "{n} failure was there when its machine came: nobody watched it happen, so it is not counted",
        "{n} failures were there when their machine came: nobody watched them happen, so they are not counted",
        failures,
    )


def sentences(told: FailureFigures) -> list[str]:
    """What is known, in sentences."""
    found = findings(told)
    often = 1 if told.few and told.failures else 0
    return [*found[:often], _often(told), *found[often:]]


def findings(told: FailureFigures) -> list[str]:
    """The sentences without the one that says how often it fails: what that rests on, and what follows from it."""
    found = [_few(told)] if told.few and told.failures else []
    if told.power is not None:
        found.append(_trend(told.power))
        if told.disagree:
            tests = ", ".join(
                _("{test} {chance:.0f} %", test=_(one.test), chance=100 * one.chance) for one in told.trends
            )
            found.append(_("tests of a trend disagree (by chance: {tests}): look at the curve", tests=tests))
    fit = told.weibull
    if fit is not None:
        found.append(_wear(fit, told.unit))
        found.append(_renewal(told, fit))
    return [*(one for one in found if one), *told.notes]


def _few(told: FailureFigures) -> str:
    if told.failures > 1:
        return _("rough: {n} failures in all, so every span is wide", n=told.failures)
    return _("rough: 1 failure in all, too few for a trend or an interval")


def how_often(told: FailureFigures) -> str:
    """The time to one failure with its span (95 %), as short as a table has it."""
    mean, low, high = told.mean_time
    values = {"unit": told.unit, "low": about(low), "high": about(high)}
    if mean is None:
        return _("{low} {unit} or more", **values)
    return _("{mean} {unit} ({low} to {high} {unit})", mean=about(mean), **values)


def _often(told: FailureFigures) -> str:
    mean, low, high = told.mean_time
    machines = plural("{n} machine", "{n} machines", told.machines)
    values: dict[str, Any] = {
        "watched": told.watched, "unit": told.unit, "machines": machines, "part": told.part,
        "low": about(low), "high": about(high),
    }  # fmt: skip
    if mean is None:
        return _("no failure of the {part} in {watched:.0f} {unit} on {machines}: one in {low} {unit} or more "
                 "(95 %; 0 failures)", **values)  # fmt: skip
    return _(
        "one failure in {mean} {unit} (95 %: {low} to {high} {unit}; {many}), watched {watched:.0f} {unit} "
        "on {machines}",
        mean=about(mean), many=count_of(told.failures), **values,
    )  # fmt: skip


def _trend(law: PowerLaw) -> str:
    low, high = law.shape_span
    values = {"shape": law.shape, "low": low, "high": high, "many": count_of(law.failures)}
    if law.worse:
        return _("worsening with age: growth {shape:.2f} ({low:.2f} to {high:.2f}; {many}; 1 is steady)", **values)
    if law.worse is False:
        return _("improving with age: growth {shape:.2f} ({low:.2f} to {high:.2f}; {many}; 1 is steady)", **values)
    return _("no trend with age shows: growth {shape:.2f} ({low:.2f} to {high:.2f}; {many}; 1 is steady)", **values)


def _wear(fit: Weibull, unit: str) -> str:
    low, high = fit.shape_span
    begin, end = fit.scale_span
    values = {
        "shape": fit.shape, "low": low, "high": high, "many": count_of(fit.failures), "kept": fit.kept,
        "scale": about(fit.scale), "begin": about(begin), "end": about(end), "unit": unit,
    }  # fmt: skip
    rests = _("shape {shape:.2f} ({low:.2f} to {high:.2f}; {many}, {kept} still good)", **values)
    if fit.wears:
        text = _("since it was renewed it wears out: {rests}", rests=rests)
    elif fit.wears is False:
        text = _("since it was renewed it fails early: {rests}", rests=rests)
    else:
        text = _("whether it wears out cannot be said: {rests}", rests=rests)
    if math.isinf(end):
        return text
    return text + _("; 63 % failed by {scale} {unit} ({begin} to {end} {unit}; {many})", **values)


def _renewal(told: FailureFigures, fit: Weibull) -> str:
    if not fit.wears:
        return "" if told.costs is None else _("no interval: renewing mends no failure that may come by chance")
    if told.costs is None or told.renewal is None:
        return _("when renewing pays is said once the costs of planned and unplanned work are told")
    (soon, late), (least, most) = told.renewal.times, told.renewal.saves
    values = {
        "planned": told.costs[0], "unplanned": told.costs[1], "many": count_of(fit.failures), "unit": told.unit,
        "time": about(told.renewal.time), "soon": about(soon), "late": about(late),
        "less": 100 * told.renewal.saving, "least": 100 * least, "most": 100 * most,
    }  # fmt: skip
    if not told.renewal.sure:
        return _(
            "whether renewing it before it fails pays cannot be said ({many}; costs {planned:g} and {unplanned:g})",
            **values,
        )
    return _(
        "renewing it every {time} {unit} ({soon} to {late} {unit}; {many}) costs least: {less:.0f} % "
        "({least:.0f} to {most:.0f} %) less than waiting, at costs of {planned:g} and {unplanned:g}",
        **values,
    )

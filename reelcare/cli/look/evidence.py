"""`signals` and `failures`: what the run log and the faults tell."""

from __future__ import annotations

import argparse
import math
from typing import Any

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core.evidence.failures.lives import Weibull
from reelcare.core.evidence.failures.power_law import PowerLaw
from reelcare.core.evidence.failures.words import FailureFigures, findings, how_often, sentences, tell_each
from reelcare.core.evidence.signals import Signal, percent
from reelcare.core.parts import PARTS
from reelcare.core.text import _, localized, mark, plural
from reelcare.register.views import evidence
from reelcare.register.views.due_list import part_named

SIGNALS = (
    mark("machine"), TextColumn(mark("signal"), whole=True), TextColumn(mark("state"), 3),
    TextColumn(mark("change from usual"), figures=True), TextColumn(mark("runs"), 4, figures=True),
    TextColumn(mark("since"), 2, whole=True), mark("look at"),
)  # fmt: skip
FAILURES = (
    mark("part"), TextColumn(mark("failures"), figures=True), TextColumn(mark("one in (95 %)"), amounts=True),
    TextColumn(mark("watched"), 3, figures=True), TextColumn(mark("machines"), 4, figures=True),
    TextColumn(mark("what that says"), amounts=True),
)  # fmt: skip


def signals(asked: argparse.Namespace) -> int:
    """The signals of one machine, or of all."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machine = register.machine_id(asked.tag) if asked.tag else None
        found = evidence.signals_of(register, machine, at if past else None, run_length=asked.run_length)
    pairs = [(one.tag, signal) for one in found for signal in one.signals]
    if asked.json:
        common.print_json([_signal_json(tag, signal) for tag, signal in pairs])
    else:
        _print_signals(pairs, everything=bool(asked.tag))
    return 0


def _print_signals(found: list[tuple[str, Signal]], *, everything: bool) -> None:
    shown = [(tag, one) for tag, one in found if everything or one.state == "drifting"]
    rows = [_signal_row(tag, one) for tag, one in shown]
    common.print_table(SIGNALS, rows, empty=_("nothing drifts, as far as the run logs show"))
    if left_out := len(found) - len(shown):
        common.say(
            plural(
                "{n} other signal does not drift: `reelcare signals TAG` shows those of a machine",
                "{n} other signals do not drift: `reelcare signals TAG` shows those of a machine",
                left_out,
            )
        )


def _signal_row(tag: str, one: Signal) -> tuple[str, ...]:
    change = "" if one.change is None else localized(f"{one.change:+.0f} % ± {one.span:.2g}")
    since = f"{one.since:%Y-%m-%d}" if one.since else ""
    return tag, _(one.name), _(one.state), change, str(one.told_by), since, _look_at(one)


def _look_at(one: Signal) -> str:
    """What to do about a signal, or why there is nothing to do."""
    if one.state == "learning":
        return one.chart.why or _("no run has this figure")
    if one.explained is not None:
        return one.says()
    return "; ".join(_(each) for each in one.look_at) if one.state == "drifting" else _("as usual")


def _signal_json(tag: str, one: Signal) -> dict[str, Any]:
    return {
        "machine": tag,
        "signal": one.name,
        "state": one.state,
        "since": one.since.isoformat() if one.since else None,
        "runs": one.told_by,
        "change_percent": None if one.change is None else round(one.change, 3),
        "error_percent": None if one.error is None else round(one.error, 3),
        "between": [moment.isoformat() for moment in one.between] if one.between else None,
        "look_at": list(one.look_at),
        "item": one.item or None,
        "explained": None
        if one.explained is None
        else {
            "by": one.explained.by,
            "side": one.explained.side,
            "change_percent": round(percent(one.explained.size), 3),
            "runs": one.explained.runs,
        },
        "says": one.says(),
    }


def failures(asked: argparse.Namespace) -> int:
    """What is known of the failures of one part, or of every part that failed."""
    part = part_named(asked.part or "")
    if (asked.planned is None) != (asked.unplanned is None):
        missing = "--unplanned" if asked.unplanned is None else "--planned"
        raise Problem(_("{missing}: missing; give both costs, or neither", missing=missing))
    costs = None if asked.planned is None else (asked.planned, asked.unplanned)
    parts = (part,) if part else PARTS
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        found = evidence.exposures_of(register, parts, at if past else None, unit=asked.by_counter)
    told = tell_each(found, unit=asked.by_counter, costs=costs, system=common.system(asked))
    if asked.json:
        common.print_json([_told_json(one) for one in told])
    else:
        _print_failures(told)
    return 0


def _print_failures(told: list[FailureFigures]) -> None:
    rows = [
        (_(one.part), str(one.failures), how_often(one), f"{one.watched:.0f} {one.unit}", str(one.machines),
         "; ".join(findings(one)))
        for one in told
    ]  # fmt: skip
    common.print_table(FAILURES, rows, empty=_("no failure is in the register; `reelcare log fault` writes one"))


def _told_json(one: FailureFigures) -> dict[str, Any]:
    mean, low, high = one.mean_time
    return {
        "part": one.part,
        "unit": one.unit,
        "machines": one.machines,
        "failures": one.failures,
        "watched": one.watched,
        "mean_time_between": mean,
        "mean_time_span_95": _ends((low, high)),
        "mean_cumulative": [
            {
                "age": point.age, "mean": point.mean, "low": point.low,
                "high": None if math.isinf(point.high) else point.high, "at_risk": point.at_risk,
            }
            for point in one.curve
        ],
        "trends": [
            {
                "test": trend.test, "statistic": trend.statistic, "chance": trend.chance,
                "worsening": trend.worse if trend.sure else None,
            }
            for trend in one.trends
        ],
        "tests_disagree": one.disagree,
        "trend": None if one.power is None or one.power.worse is None else TRENDS[one.power.worse],
        "power_law": _power_json(one.power),
        "weibull": _weibull_json(one.weibull),
        "renewal": _renewal_json(one),
        "few": one.few,
        "notes": list(one.notes),
        "says": sentences(one),
    }  # fmt: skip


TRENDS = {True: "worsening", False: "improving"}


def _power_json(one: PowerLaw | None) -> dict[str, Any] | None:
    if one is None:
        return None
    low, high = _ends(one.shape_span)
    return {
        "shape": one.shape, "low": low, "high": high, "scale": one.scale, "mean_time": one.mean_time,
        "failures": one.failures,
    }  # fmt: skip


def _weibull_json(one: Weibull | None) -> dict[str, Any] | None:
    if one is None:
        return None
    low, high = _ends(one.shape_span)
    return {
        "shape": one.shape, "low": low, "high": high, "scale": one.scale, "scale_span_95": _ends(one.scale_span),
        "wears_out": one.wears, "failures": one.failures, "censored": one.kept,
    }  # fmt: skip


def _renewal_json(told: FailureFigures) -> dict[str, Any] | None:
    one, costs = told.renewal, told.costs
    if one is None or costs is None or not one.sure:
        return None
    return {
        "time": one.best.time, "time_span_95": _ends(one.times),
        "saving_percent": 100 * one.saving, "saving_percent_span_95": [100 * part for part in one.saves],
        "cost_ratio": costs[1] / costs[0],
    }  # fmt: skip


def _ends(span: tuple[float, float]) -> list[float | None]:
    """A span for JSON, which has no infinite number."""
    return [None if math.isinf(one) else one for one in span]

"""`marks`: how checks were answered, beside what is usual. It accuses nobody."""

from __future__ import annotations

import argparse
from datetime import timedelta
from typing import Any

from reelcare.cli import common
from reelcare.cli.table import TextColumn
from reelcare.core.checks.quality import PersonMarks, RepeatedReading, Share, people, same_readings
from reelcare.core.text import _, localized, mark
from reelcare.register.views import marks as marking
from reelcare.register.views import ungated
from reelcare.register.views.ungated import ungated_text

HEADS = (
    mark("who"), TextColumn(mark("checks"), figures=True), mark("found something"), TextColumn(mark("share"), 3),
    TextColumn(mark("answers under 1 s"), 2), TextColumn(mark("looked at early"), 5),
    TextColumn(mark("median time"), 4, figures=True),
)  # fmt: skip
NOTE = mark("A fast answer is not always a bad one; ask, and look at the machine together.")


def marks(asked: argparse.Namespace) -> int:
    """Print the marks of the last weeks."""
    with common.open_register(asked) as register:
        at, _past = common.as_of(asked, register, common.now())
        since = at - timedelta(weeks=asked.weeks)
        checks = marking.checks_between(register, since, at)
        without = ungated.between(register, since, at)
        seen = {one.machine for one in checks} | {one.machine for one in without}
        tags = {id: register.card(id).tag for id in seen}
    everyone, each = people(checks)
    same = same_readings(checks)
    if asked.json:
        common.print_json({
            "weeks": asked.weeks,
            "all": _person_json(everyone),
            "people": [_person_json(one) for one in each],
            "same_readings": [_same_json(one, tags) for one in same],
            "runs_without_gates": [{"machine": tags[one.machine], "runs": one.runs, "of": one.of} for one in without],
        })  # fmt: skip
        return 0
    common.print_table(HEADS, [_line(_("all"), everyone), *(_line(one.name, one) for one in each)])
    says = mark("{tag}: {question} read as {seen} in {checks} checks in a row, {since:%Y-%m-%d} to {until:%Y-%m-%d}")
    for one in same:
        told = {"question": one.question, "checks": one.checks, "since": one.since, "until": one.until}
        common.print_text(_(says, tag=tags[one.machine], seen=localized(one.seen), **told))
    for runs in without:
        common.print_text(ungated_text(tags[runs.machine], runs))
    common.print_text(_(NOTE))
    return 0


def _line(name: str, one: PersonMarks) -> tuple[str, ...]:
    middle = "" if one.middle is None else f"{one.middle:.0f} s"
    return (name, str(one.checks), _count(one.found), _span(one.found), _count(one.fast), _count(one.early), middle)


def _count(share: Share) -> str:
    return _("{count} of {of}", count=share.count, of=share.of)


def _span(share: Share) -> str:
    if share.span is None:
        return ""
    low, high = (f"{100 * end:.0f}" for end in share.span)
    return _("{low} to {high} %", low=low, high=high)


def _person_json(one: PersonMarks) -> dict[str, Any]:
    return {
        "who": one.name,
        "checks": one.checks,
        "found_something": {"count": one.found.count, "of": one.found.of, "interval_95": one.found.span},
        "answers_under_1_s": {"count": one.fast.count, "of": one.fast.of, "interval_95": one.fast.span},
        "looked_at_early": {"count": one.early.count, "of": one.early.of},
        "middle_time_s": one.middle,
    }


def _same_json(one: RepeatedReading, tags: dict[str, str]) -> dict[str, Any]:
    return {
        "machine": tags[one.machine],
        "question": one.question,
        "seen": one.seen,
        "checks": one.checks,
        "since": one.since.isoformat(),
        "until": one.until.isoformat(),
    }

"""`corrections`: what was taken back, by whom and how late; and where a clock went back."""

from __future__ import annotations

import argparse
from datetime import timedelta, tzinfo
from typing import Any

from reelcare.cli import common
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.text import _, mark
from reelcare.core.wording import how_long
from reelcare.register.proof import corrections as corrected
from reelcare.register.proof.corrections import Corrected, SteppedBack
from reelcare.register.reading.foreign import recorded_here
from reelcare.register.views.book import UNCOUNTED

HEADS = (
    TextColumn(mark("when"), 3, whole=True), mark("machine"), mark("what was written"), TextColumn(mark("by"), 2),
    TextColumn(mark("taken back by"), 2),
    TextColumn(mark("after"), 4, whole=True), mark("why"),
)  # fmt: skip


def corrections(asked: argparse.Namespace) -> int:
    """What was corrected within some weeks, newest first."""
    with common.open_register(asked) as register:
        at, _past = common.as_of(asked, register, common.now())
        since, zone = at - timedelta(weeks=asked.weeks), register.zone
        found, back = corrected.corrections(register, since, at), corrected.stepped_back(register)
        restores, recovered, decided = (
            recorded_here(register, one.kind, since, at) for one in (e.Restored, e.Recovered, e.CarryDecision)
        )
    if asked.json:
        common.print_json({
            "corrections": [_json(one) for one in found],
            "clocks": [_clock(one) for one in back],
            "restores": [_restore(one) for one in restores],
            "recoveries": [{"entry": one.id, "when": e.time_text(one.recorded), "by": one.by} for one in recovered],
            "carried": [line for one in decided for line in _decision(one)],
        })  # fmt: skip
        return 0
    nothing = _("no entry was taken back in this time; --weeks looks further back")
    common.print_table(HEADS, [_row(one, zone, common.system(asked)) for one in found], empty=nothing)
    for entry in (*restores, *recovered, *decided):
        common.say(f"{entry.recorded.astimezone(zone):%Y-%m-%d %H:%M}  {entry.by}: {entry.what.describe()}")
    says = mark(
        "the clock of terminal {terminal} went back at its entry {place}: "
        "from {before:%Y-%m-%d %H:%M} to {after:%Y-%m-%d %H:%M}"
    )
    for step in back:
        before, after = (one.astimezone(zone) for one in (step.before, step.after))
        common.say(_(says, terminal=step.terminal, place=step.place, before=before, after=after))
    return 0


def _row(one: Corrected, zone: tzinfo, system: units.System) -> tuple[str, ...]:
    when = f"{one.correction.recorded.astimezone(zone):%Y-%m-%d %H:%M}"
    what = f"{_(one.entry.what.kind)}: {one.entry.what.describe(system)}" if one.entry else _("not here yet")
    by = one.entry.by if one.entry else ""
    return when, one.tag, what, by, one.correction.by, how_long(one.after), _why(one)


def _why(one: Corrected) -> str:
    """The reason of a correction, and what keeps it from counting."""
    why = one.correction.what.why if isinstance(one.correction.what, e.Correction) else ""
    return f"{why} ({_(UNCOUNTED[one.uncounted])})" if one.uncounted else why


def _json(one: Corrected) -> dict[str, Any]:
    what = one.correction.what
    assert isinstance(what, e.Correction)
    return {
        "entry": one.correction.id,
        "takes_back": what.entry,
        "machine": one.tag,
        "by": one.correction.by,
        "written_by": one.entry.by if one.entry else None,
        "kind": one.entry.what.kind if one.entry else None,
        "hours_after": round(one.after.total_seconds() / 3600, 2),
        "why": what.why,
        "uncounted": one.uncounted or None,
    }


def _restore(one: e.Entry) -> dict[str, Any]:
    what = one.what
    assert isinstance(what, e.Restored)
    return {
        "entry": one.id,
        "when": e.time_text(one.recorded),
        "by": one.by,
        "why": what.why,
        "before": dict(what.before),
        "after": dict(what.after),
    }


def _decision(one: e.Entry) -> list[dict[str, Any]]:
    what = one.what
    assert isinstance(what, e.CarryDecision)
    at = e.time_text(one.recorded)
    return [{"id": id, "accepted": what.accepted, "by": one.by, "why": what.why, "at": at} for id in what.entries]


def _clock(one: SteppedBack) -> dict[str, Any]:
    return {
        "terminal": one.terminal,
        "place": one.place,
        "before": e.time_text(one.before),
        "after": e.time_text(one.after),
    }

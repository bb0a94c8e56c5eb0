"""What may be written: the rules of the door, as pure checks that name the place and the cure.

The rules of this file: `problems` is asked before anything is written, with the machine's tally as it stood
when the thing happened. It knows no database; what needs a look at neighbouring entries (two runs at once)
is handed in.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from reelcare.core import entries as e
from reelcare.core.machine.card import Card
from reelcare.core.parts import PARTS
from reelcare.core.service.plan import Plan
from reelcare.core.state import counters as counting
from reelcare.core.state.tally import Tally, day_of

STOPPED_BY = ("end stop", "operator", "fault")
AHEAD = timedelta(minutes=5)
"""How far a clock may be ahead before a time counts as lying in the future."""
BEFORE_CARDED = timedelta(days=5 * 366)
"""How much history a machine may be given that was carded without saying since when it is in use."""
LONGEST_RUN = timedelta(days=7)
MOST_PRESSURE = 4_000_000  # Pa; beyond what any hose of this trade bears
MOST_SPEED = 500_000  # mm/h: 500 m/h
MOST_METRES = 2_000_000  # mm: 2 km


@dataclass(frozen=True, slots=True)
class Place:
    """What the door knows around an entry: when (for a run its own end counts), and the machine as it stood then."""

    at: datetime
    now: datetime
    zone: tzinfo
    tally: Tally | None = None
    card: Card | None = None
    plan: Plan | None = None
    in_use_since: date | None = None
    carded: datetime | None = None


def problems(what: e.What, place: Place) -> list[str]:
    """Everything that speaks against writing this, each with its cure; empty where nothing does."""
    found = [*_time(what, place)]
    rule = _RULES.get(type(what))
    if rule is not None:
        found += rule(what, place)
    return found


def nearest(word: str, known: Sequence[str]) -> str:
    """' (did you mean ...?)' where one of `known` is close, else the list of them.

    >>> nearest("gearbax", ("gearbox", "chain"))
    '; did you mean gearbox?'
    """
    as_written = {one.lower(): one for one in known}
    close = difflib.get_close_matches(word.lower(), as_written, n=1, cutoff=0.6)
    return f"; did you mean {as_written[close[0]]}?" if close else f"; known are: {', '.join(known)}"


def _time(what: e.What, place: Place) -> Iterator[str]:
    moment = what.ended if isinstance(what, e.Run) else place.at
    if moment > place.now + AHEAD:
        yield f"the time {_said(moment, place)} lies in the future (it is {_said(place.now, place)} now)"
    if isinstance(what, (e.Carded, e.Planned, e.Enrolled)):
        return
    first = what.started if isinstance(what, e.Run) else place.at
    if place.in_use_since is not None and (day := day_of(first, place.zone)) < place.in_use_since:
        yield (
            f"{day} is before the machine's beginning ({place.in_use_since}): give a later time, "
            "or revise the card's `in_use_since`"
        )
    elif place.in_use_since is None and place.carded is not None and first < place.carded - BEFORE_CARDED:
        yield (
            f"{day_of(first, place.zone)} is more than five years before the machine was carded "
            f"({day_of(place.carded, place.zone)}): give a later time, or say `in_use_since` on its card"
        )


def _said(moment: datetime, place: Place) -> str:
    return moment.astimezone(place.zone).isoformat(sep=" ", timespec="minutes")


def _reading(what: e.Reading, place: Place) -> Iterator[str]:
    if what.value < 0:
        yield f"{what.counter}: a counter does not show less than nothing"
        return
    counters = place.tally.counters if place.tally is not None else counting.start()
    try:
        counting.after_reading(counters, what, place.at)
    except counting.CounterError as why:
        yield str(why)
        return
    yield from counting.impossible(counters, what, place.at)


def _run(what: e.Run, place: Place) -> Iterator[str]:
    if what.ended <= what.started:
        yield "ended: not after started" + _clock_changed(what, place.zone)
    elif what.ended - what.started > LONGEST_RUN:
        yield f"ended: a run of more than {LONGEST_RUN.days} days; look at the dates"
    if what.metres < 0:
        yield "metres: less than nothing"
    hose = place.card.hose.length if place.card is not None else None
    if hose is not None and what.metres > round(hose * 1000):  # to the millimetre, as a run is kept
        yield f"metres: {what.metres / 1000:g} m is more than the card's hose ({hose:g} m)"
    elif what.metres > MOST_METRES:
        yield f"metres: {what.metres / 1000:g} m is longer than any hose"
    if what.planned_speed is not None and not 0 < what.planned_speed <= MOST_SPEED:
        yield f"planned speed: {what.planned_speed / 1000:g} m/h; between 0 and {MOST_SPEED // 1000} m/h is right"
    for name in ("inlet", "gun", "drive_loss"):
        value = getattr(what, name)
        if value is not None and not 0 <= value <= MOST_PRESSURE:
            yield f"{name.replace('_', ' ')}: {value / 1000:g} kPa; between 0 and {MOST_PRESSURE // 1000} kPa is right"
    if what.stopped_by and what.stopped_by not in STOPPED_BY:
        yield f"stopped by: {what.stopped_by!r}{nearest(what.stopped_by, STOPPED_BY)}"


def _clock_changed(what: e.Run, zone: tzinfo) -> str:
    """The cure where the clock was set on or back around a run: a time without an offset may be meant in two ways."""
    a_while = timedelta(hours=3)
    if what.started - what.ended > a_while:
        return ""  # no clock is set back by so much
    before, after = ((moment.astimezone(zone)).utcoffset() for moment in (what.ended - a_while, what.started + a_while))
    return "; the clock was changed then, so write both with their offset, as in 02:10+01:00" if before != after else ""


def _service(what: e.Service, place: Place) -> Iterator[str]:
    known = [item.id for item in place.plan.items] if place.plan is not None else []
    if what.item not in known:
        yield f"{what.item}: not an item of this machine's plan{nearest(what.item, known)}"


def _fault(what: e.Fault, place: Place) -> Iterator[str]:
    if what.part not in PARTS:
        yield f"{what.part}: not a part{nearest(what.part, PARTS)}"
    if not what.says:
        yield "says: nothing; say what is wrong"
    if what.fix_by_day is not None:
        try:
            day = date.fromisoformat(what.fix_by_day)
        except ValueError:
            yield f"fix by: {what.fix_by_day!r} is not a day such as 2026-05-31"
        else:
            if day < day_of(place.at, place.zone):
                yield f"fix by: {day} is already past"


def _about_fault(what: e.Repair | e.Retest | e.Release, place: Place) -> Iterator[str]:
    fault = place.tally.fault(what.fault) if place.tally is not None else None
    if fault is None:
        yield f"{what.fault}: no open fault of this machine at that time"
        return
    if isinstance(what, e.Repair) and not what.says:
        yield "says: nothing; say what was done"
    if isinstance(what, e.Retest) and fault.status == "open":
        yield f"{fault.what.part}: not yet repaired; log the repair before its re-test"
    if isinstance(what, e.Release):
        if fault.status == "open":
            yield f"{fault.what.part}: not yet repaired; log the repair before the release"
        elif fault.status == "repaired" and fault.what.retest:
            yield f"{fault.what.part}: its re-test has not passed yet ({fault.what.retest})"


def _enrolled(what: e.Enrolled, place: Place) -> Iterator[str]:
    if not what.name:
        yield "name: empty"
    if what.role not in ("operator", "mechanic", "supervisor"):
        yield f"role: {what.role!r}{nearest(what.role, ('operator', 'mechanic', 'supervisor'))}"


def _correction(what: e.Correction, place: Place) -> Iterator[str]:
    if len(what.why) < 3:
        yield "why: say in a few words why the entry is taken back"


_RULES: dict[type[e.What], Callable[..., Iterator[str]]] = {
    e.Reading: _reading,
    e.Run: _run,
    e.Service: _service,
    e.Fault: _fault,
    e.Repair: _about_fault,
    e.Retest: _about_fault,
    e.Release: _about_fault,
    e.Enrolled: _enrolled,
    e.Correction: _correction,
}

ALONE: frozenset[type[e.What]] = frozenset(
    (e.Sheeted, e.CheckBegun, e.Answered, e.CheckEnded, e.Measured, e.SetPlanned)
)
"""Kinds that nothing speaks against but their time: no other entry, and nothing that the machine has done."""

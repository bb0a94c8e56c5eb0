"""The order of sets of a night, by a plain rule.

The rule: the machine that is free first takes the lane on which it can begin first; of several such, one of the hydrant
where it stands, else the next by number (of the next `LOOKED` ones). A set begins only where it ends inside the
hours in which water may be taken; a machine is moved only by daylight, unless that is allowed; and no flow is taken
twice at a time. Lanes that somebody chose for a machine come first, in their order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from reelcare.core.night.field import Lane, Name
from reelcare.core.night.hours import Span, first_fit, first_free
from reelcare.core.night.plan import LaneSet, Night, NightAsked, PlannedSet, Rig, Wait

LOOKED = 24
"""Lanes that a machine is tried on for its next set: those of its hydrant, then the next by number."""


LITRE = 0.001
"""How far a volume may be past what a licence leaves [m3]: what was worked out ends in what a float can say."""


@dataclass(slots=True)
class NightCourse:
    """A night while it is planned: where each machine stands and from when it is free, and what is taken."""

    asked: NightAsked
    free: dict[str, int]
    at: dict[str, Lane | None]
    flow_of: dict[Name, str]
    flows: dict[str, list[tuple[int, int, str]]]
    days: dict[Span, float]
    season: float | None
    sets: list[PlannedSet] = field(default_factory=list)
    waits: list[Wait] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Approach:
    """The set that a machine would run, and why not at once: what it waits for, with whom."""

    set: PlannedSet
    why: str = ""
    by: str = ""


def start(asked: NightAsked) -> NightCourse:
    """The night before anything is planned: runs at hand take their flow and the water of the day on which they come
    home, and their machines are not free."""
    course = NightCourse(
        asked, {one.tag: max(one.free, asked.begins) for one in asked.rigs}, {one.tag: one.lane for one in asked.rigs},
        asked.field.flows(), {}, dict(asked.taken), asked.season_left,
    )  # fmt: skip
    for run in asked.running:
        lanes = [run.lane] if run.lane is not None else asked.field.at_hydrant(run.hydrant)
        for flow in sorted({course.flow_of[one.number] for one in lanes}):
            course.flows.setdefault(flow, []).append((run.starts, run.ends, run.tag))
        _use(course, run.ends, run.volume or 0.0)
    return course


def earliest_set(course: NightCourse, rig: Rig, lane: Lane) -> Approach | None:
    """The earliest set of a machine on a lane; None where it cannot run it within the night."""
    of = rig.set_of(lane)
    if of.cannot or (course.season is not None and of.volume > course.season + LITRE):
        return None
    asked, free = course.asked, course.free[rig.tag]
    move = round(asked.field.move(course.at[rig.tag], lane))
    moves = first_free(free, move, asked.dark) if move else free
    arrives = begins = moves + move
    why, by = "", ""
    taken = course.flows.get(course.flow_of[lane.number], ())
    while True:
        at = first_fit(begins, of.run, asked.water)
        if at is None or at + of.run > asked.ends:
            return None
        if at > begins:
            why, by = "hours", ""
        begins = at
        other = next((one for one in taken if begins < one[1] and one[0] < begins + of.run), None)
        if other is not None:
            begins, why, by = other[1], "hydrant", other[2]
            continue
        day = _day_of(asked, begins + of.run)
        if day is None or course.days.get(day, 0.0) + of.volume <= (asked.field.licence.day or 0.0) + LITRE:
            break
        begins, why, by = day[1] - of.run + 1, "licence", ""
    planned = PlannedSet(lane, rig.tag, moves, move, begins, begins + of.run, of.volume, of.energy)
    return Approach(planned, why if begins > arrives else "", by)


def _day_of(asked: NightAsked, at: int) -> Span | None:
    """The day for which the licence counts what is home then; None where it says nothing of days."""
    if asked.field.licence.day is None:
        return None
    return next((one for one in asked.days if one[0] <= at < one[1]), None)


def plan_set(course: NightCourse, found: Approach) -> None:
    """Plan a set: the machine is free after it, its flow and the licence are used."""
    planned = found.set
    tag, lane = planned.tag, planned.lane
    free = course.free[tag]
    if planned.moves > free:
        course.waits.append(Wait(tag, free, planned.moves, "dark", lane))
    if found.why:
        course.waits.append(Wait(tag, planned.moves + planned.move, planned.starts, found.why, lane, found.by))
    course.sets.append(planned)
    course.free[tag], course.at[tag] = planned.ends, lane
    course.flows.setdefault(course.flow_of[lane.number], []).append((planned.starts, planned.ends, tag))
    if course.season is not None:
        course.season -= planned.volume
    _use(course, planned.ends, planned.volume)


def _use(course: NightCourse, ends: int, volume: float) -> None:
    """Take water [m3] of the day for which the licence counts what is home at a moment."""
    day = _day_of(course.asked, ends)
    if day is not None:
        course.days[day] = course.days.get(day, 0.0) + volume


def by_rule(asked: NightAsked) -> Night:
    """The night by the rule."""
    course, left = start(asked), list(asked.lanes)
    chosen = {one.tag: [lane for number in one.order if (lane := asked.field.lane(number))] for one in asked.rigs}
    active = list(asked.rigs)
    while active and left:
        rig = min(active, key=lambda one: (course.free[one.tag], one.tag))
        found = _chosen(course, rig, chosen[rig.tag], left)
        if found is None:
            reserved = {one.number for tag, some in chosen.items() if tag != rig.tag for one in some}
            found = soonest(course, rig, [one for one in left if one.number not in reserved])
        if found is None:
            active.remove(rig)  # it can run nothing more in this night
            continue
        plan_set(course, found)
        left = [one for one in left if one.number != found.set.lane.number]
    return done(course)


def _chosen(course: NightCourse, rig: Rig, chosen: list[Lane], left: Sequence[Lane]) -> Approach | None:
    """The first of the lanes chosen for the machine that is still to be run, and can be."""
    numbers = {one.number for one in left}
    while chosen:
        lane = chosen.pop(0)
        found = earliest_set(course, rig, lane) if lane.number in numbers else None
        if found is not None:
            return found
    return None


def soonest(course: NightCourse, rig: Rig, lanes: Sequence[Lane]) -> Approach | None:
    """The lane on which the machine can begin first: of its own hydrant, else by number, where several are equal."""
    here = course.at[rig.tag]
    move = course.asked.field.move
    nearest = sorted(lanes, key=lambda one: move(here, one))  # stable: as the field has them
    best: Approach | None = None
    looked = 0
    before = {takes: _earliest(course, rig, round(takes)) for takes in {move(here, one) for one in nearest}}
    for lane in nearest:
        earliest = before[move(here, lane)]
        if earliest is None or (best is not None and best.set.starts <= earliest):
            break  # no lane that is as far or farther can begin before it
        if not rig.reaches(lane):
            continue
        looked += 1
        if looked > LOOKED:
            break
        if best is not None and best.why != "hydrant" and _takes_more(rig.set_of(lane), best.set):
            continue  # what runs longer fits no hours before
        found = earliest_set(course, rig, lane)
        if found is not None and (best is None or found.set.starts < best.set.starts):
            best = found
    return best


def _takes_more(of: LaneSet, than: PlannedSet) -> bool:
    return of.run >= than.ends - than.starts and of.volume >= than.volume


def _earliest(course: NightCourse, rig: Rig, move: int) -> int | None:
    """Before when nothing can begin on a lane that is so far away; None where the night is over by then."""
    free, asked = course.free[rig.tag], course.asked
    return first_fit((first_free(free, move, asked.dark) if move else free) + move, 1, asked.water)


def done(course: NightCourse) -> Night:
    """The night that was planned, in the order in which sets begin."""
    return Night(
        tuple(sorted(course.sets, key=lambda one: (one.starts, one.tag))),
        tuple(sorted(course.waits, key=lambda one: (one.begins, one.tag))),
    )

"""Why a lane is not in the night, and what would bring it in."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import tzinfo

from reelcare.core.hydraulics.volumes import beside_limit
from reelcare.core.night.field import Lane
from reelcare.core.night.hours import moment
from reelcare.core.night.order import LITRE, LOOKED, NightCourse, earliest_set, plan_set, start
from reelcare.core.night.plan import LaneSet, LeftOut, Night, NightAsked, Rig
from reelcare.core.text import _
from reelcare.core.typed_time import written
from reelcare.core.wording import duration


def with_left_out(asked: NightAsked, night: Night, zone: tzinfo) -> Night:
    """The night with the lanes that are not in it, each with why."""
    planned = {one.lane.number for one in night.sets}
    lanes = [one for one in asked.lanes if one.number not in planned]
    if not lanes:
        return night
    course, left, looked = _after(asked, night), [], 0
    for one in lanes:
        beyond = not any(rig.reaches(one) for rig in asked.rigs)
        looked += not beyond
        if looked > LOOKED and not beyond:
            left.append(LeftOut(one, _("no room in this time: it comes after the others"), is_room=True))
        else:
            left.append(_left(course, one, zone))
    return replace(night, left=tuple(left))


def _after(asked: NightAsked, night: Night) -> NightCourse:
    """The course after a night, with an end that is two days later."""
    course = start(replace(asked, ends=asked.ends + 2 * 86400))
    rigs = {one.tag: one for one in asked.rigs}
    for one in night.sets:
        found = earliest_set(course, rigs[one.tag], one.lane)
        if found is not None:
            plan_set(course, found)
    return course


def _left(course: NightCourse, lane: Lane, zone: tzinfo) -> LeftOut:
    rigs = course.asked.rigs
    if not rigs:
        return LeftOut(lane, _("no machine is there that can run it"))
    can = [(rig, of) for rig in rigs if not (of := rig.set_of(lane)).cannot]
    if not can:
        return LeftOut(lane, "; ".join(_cannot(rigs, lane)))
    rig, of = min(can, key=lambda one: one[1].run)
    why = _does_not_fit(course, rig, of)
    return LeftOut(lane, why or _too_late(course, can, lane, zone), is_room=not why)


def _cannot(rigs: Sequence[Rig], lane: Lane) -> Iterator[str]:
    """Why no machine can run a lane; machines of which the same is wrong stand together."""
    same: dict[str, list[str]] = {}
    for rig in rigs:
        of = rig.set_of(lane)
        same.setdefault(of.why or of.cannot, []).append(rig.tag)
    for rig in rigs:
        of = rig.set_of(lane)
        tags = same.pop(of.why or of.cannot, [])
        if tags:
            yield of.cannot if len(tags) == 1 or not of.why else _("with {tag}: {why}", tag=", ".join(tags), why=of.why)


def _does_not_fit(course: NightCourse, rig: Rig, of: LaneSet) -> str:
    """What no time would mend: the set is longer than any hours, or takes more than the licence leaves."""
    longest = max((end - begin for begin, end in course.asked.water), default=0)
    day, season = course.asked.field.licence.day, course.season
    if of.run > longest:
        travels, room = of.run - of.dwell, longest - of.dwell
        faster = f"{math.ceil(100 * (travels / room - 1) - 1e-9)}" if room > 0 else "-"
        return _(
            "runs {run} with {tag}, and the hours of licence and tariff allow {longest} at a time: travel {faster} % "
            "faster (less depth), or give it longer hours",
            run=duration(math.ceil(of.run / 60)), tag=rig.tag, longest=duration(longest // 60), faster=faster,
        )  # fmt: skip
    if day is not None and of.volume > day + LITRE:
        volume, most = beside_limit(course.asked.system, of.volume, day)
        return _("takes {volume}, and the licence allows {most} a day: less depth, or a part of the lane",
                 volume=volume, most=most)  # fmt: skip
    if season is not None and of.volume > season + LITRE:
        volume, left = beside_limit(course.asked.system, of.volume, max(season, 0))
        return _("takes {volume}, and the licence leaves {left} of the season", volume=volume, left=left)
    return ""


def _too_late(course: NightCourse, can: list[tuple[Rig, LaneSet]], lane: Lane, zone: tzinfo) -> str:
    found = [one.set for rig, _of in can if (one := earliest_set(course, rig, lane)) is not None]
    if not found:
        return _("no room in the next two days either")
    first = min(found, key=lambda one: one.ends)
    when = moment(first.ends).astimezone(zone)
    if first.ends <= course.asked.ends - 2 * 86400:
        return _("chosen for another machine; {tag} could be home from it at {when}", tag=first.tag,
                 when=f"{when:%Y-%m-%d %H:%M}")  # fmt: skip
    return _(
        "no room in this time: {tag} would be home from it at {when}; --until {until} has it", tag=first.tag,
        when=f"{when:%Y-%m-%d %H:%M}", until=written(when).replace(" ", "T"),
    )  # fmt: skip

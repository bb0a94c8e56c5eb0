"""A night as a page: who must be where when, what waits and why, and the water against the licence."""

from __future__ import annotations

from collections.abc import Sequence

from reelcare.core.hydraulics import volumes
from reelcare.core.night.hours import moment as moment_of
from reelcare.core.night.plan import Wait
from reelcare.core.text import _, mark, plural
from reelcare.core.units import KWH
from reelcare.core.wording import day_and_time, duration
from reelcare.register.views.night import PlannedNight
from reelcare.reports.blocks import Block, Document, Heading, Paragraph, table


def moment(found: PlannedNight, at: int) -> str:
    """A moment of the night as other programs read it."""
    return moment_of(at).astimezone(found.zone).isoformat(timespec="seconds")


def clock(found: PlannedNight, at: int) -> str:
    """A moment of the night as people read it: the time, with its day where that is not the first. Its month is a
    word: *07-01* is January to some."""
    when = moment_of(at).astimezone(found.zone)
    first = moment_of(found.asked.begins).astimezone(found.zone)
    return f"{when:%H:%M}" if when.date() == first.date() else day_and_time(when)


def because(wait: Wait) -> str:
    """Why a machine stands still."""
    if wait.why == "dark":
        return _("no move in the dark")
    if wait.why == "hydrant":
        return _("hydrant {hydrant} is {tag}'s", hydrant=wait.lane.hydrant, tag=wait.by)
    if wait.why == "licence":
        return _("the licence of the day is used")
    return _("outside the hours of licence and tariff")


def lines(found: PlannedNight) -> list[tuple[str, ...]]:
    """One line for each set: machine, lane, hydrant, move from, starts, home, water, kWh, who attends."""
    return [
        (
            one.tag, str(one.lane.number), str(one.lane.hydrant), clock(found, one.moves) if one.move else "",
            clock(found, one.starts), clock(found, one.ends), volumes.figure(one.volume, found.asked.system),
            "" if one.energy is None else f"{one.energy / KWH:.0f}", found.attends.get(one.tag, ""),
        )
        for one in found.sets
    ]  # fmt: skip


def words(found: PlannedNight) -> list[str]:
    """What is to be known of the night beside its sets, the totals first."""
    return [totals(found), *_machines(found), *_better(found), *left(found)]


def totals(found: PlannedNight) -> str:
    """Sets, water and energy, and what the licence has."""
    told = [plural("{n} set", "{n} sets", len(found.sets)), volumes.told(found.volume, found.asked.system)]
    if found.energy is not None and found.sets:
        told.append(f"{found.energy / KWH:.0f} kWh")
    licence = found.field.licence.season
    if licence is not None:
        used, of = volumes.beside_limit(found.asked.system, found.season_volume, licence)
        told.append(_("licence: {used} of {of} used after it", used=at_least(used, found.runs_unknown), of=of))
    return ", ".join(told)


def at_least(figure: object, runs_unknown: int) -> str:
    """A figure of water that was given: it is more where the water of some runs is not known."""
    return _("at least {value}", value=figure) if runs_unknown else str(figure)


def _machines(found: PlannedNight) -> list[str]:
    told = []
    if found.runs_unknown and found.field.licence.season is not None:
        told.append(plural("the water of {n} run is not known", "the water of {n} runs is not known",
                           found.runs_unknown))  # fmt: skip
    for one in found.running:
        lane = one.lane.number if one.lane is not None else "?"
        says = mark("{tag} runs, lane {lane}, home {ends}") if one.is_end_known else mark(
            "{tag} runs, lane {lane}; when it is home is not known"
        )  # fmt: skip
        told.append(_(says, tag=one.tag, lane=lane, ends=clock(found, one.ends)))
    for wait in found.found.waits:
        if found.tag in ("", wait.tag):
            told.append(_("{tag} waits {begins} to {ends}: {why}", tag=wait.tag, begins=clock(found, wait.begins),
                          ends=clock(found, wait.ends), why=because(wait)))  # fmt: skip
    told += held(found)
    if found.guessed:
        told.append(plural(
            "{n} run says no lane: taken as the next by number (`log run --lane`)",
            "{n} runs say no lane: taken as the next by number (`log run --lane`)", found.guessed,
        ))  # fmt: skip
    return told


def held(found: PlannedNight) -> list[str]:
    """The machines that are held, with why."""
    return [_("{tag} is held, and not planned: {why}", tag=tag, why=why) for tag, why in found.held]


def _better(found: PlannedNight) -> list[str]:
    one = found.better
    if one is None:
        return []
    gains = plural("{n} set more", "{n} sets more", one.more) if one.more else _(
        "home {hours} earlier", hours=duration(one.earlier // 60)
    )  # fmt: skip
    if found.is_better:
        return [_("not in the order of the rule, as this one gains more than a tenth: {gains}", gains=gains)]
    tags = [rig.tag for rig in found.asked.rigs]
    order = "; ".join(f"{tag}: {' '.join(str(each.lane.number) for each in one.night.of(tag))}" for tag in tags)
    return [_("another order gains more than a tenth, {gains}: {order}", gains=gains, order=order)]


def left(found: PlannedNight) -> list[str]:
    """The lanes that are not in the night, those for one reason together; last those that were run in this round."""
    reasons: dict[str, list[str]] = {}
    room = [one for one in found.found.left if one.is_room]
    for one in found.found.left:
        reasons.setdefault(room[0].why if one.is_room else one.why, []).append(str(one.lane.number))
    told = []
    for why, some in reasons.items():
        many = len(some)
        if many > 1 and room and why == room[0].why:
            told.append(_("lanes {lanes} have no room in this time; of the first: {why}", lanes=listed(some), why=why))
        else:
            told.append(plural("lane {lanes} is left out: {why}", "lanes {lanes} are left out: {why}", many,
                               lanes=listed(some), why=why))  # fmt: skip
    again = {str(one.lane.number) for one in found.found.sets}
    if done := [str(one) for one in found.done if str(one) not in again]:
        told.append(plural(
            "lane {lanes} was run in this round: it comes again once every lane was run, or one is run again",
            "lanes {lanes} were run in this round: they come again once every lane was run, or one is run again",
            len(done), lanes=listed(done),
        ))  # fmt: skip
    return told


def listed(numbers: Sequence[str]) -> str:
    """Lanes by their numbers, three and more in a row as a span.

    >>> listed(["1", "2", "4", "5", "6", "7", "9a"])
    '1, 2, 4-7, 9a'
    """
    told: list[list[str]] = []
    for one in numbers:
        follows = told and one.isdecimal() and told[-1][-1].isdecimal() and int(one) == int(told[-1][-1]) + 1
        if follows:
            told[-1].append(one)
        else:
            told.append([one])
    return ", ".join(", ".join(some) if len(some) < 3 else f"{some[0]}-{some[-1]}" for some in told)


def document(found: PlannedNight, stamp: str, language: str) -> Document:
    """The night on paper."""
    heads = (_("machine"), _("lane"), _("hydrant"), _("move from"), _("starts"), _("home"),
             volumes.unit(found.asked.system), "kWh", _("attends"))  # fmt: skip
    parts: list[Block] = [Paragraph(totals(found)), Heading(_("Who must be where"))]
    parts.append(table(heads, lines(found), numbers=(6, 7)))
    _totals, *told = words(found)
    if told:
        parts.append(Heading(_("Good to know")))
        parts += map(Paragraph, told)
    parts.append(Paragraph(
        _("Somebody is present at the end of each run. The machine's manual and local codes come "
          "first; no move in the dark unless somebody has allowed it."), "warning",
    ))  # fmt: skip
    place = found.field.place or found.field.id
    first, last = (moment_of(at).astimezone(found.zone) for at in (found.asked.begins, found.asked.ends))
    span = f"{first:%Y-%m-%d %H:%M} - {last:%Y-%m-%d %H:%M}"
    return Document(_("Night, {place}", place=place), span, tuple(parts), language, stamp=stamp)

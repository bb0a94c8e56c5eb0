"""A night of a field: its machines as they stand, brought before the core's rule.

What belongs here: finding the field, the machines at it, what each set takes, the run at hand, the lanes of the round,
and what the licence leaves. Nothing is decided here, and nothing is written.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from itertools import pairwise

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.machine.tag import machine_of
from reelcare.core.night.field import Field, Lane, Name
from reelcare.core.night.hours import Span, common_spans, seconds, spans_of
from reelcare.core.night.lane_sets import LaneSets
from reelcare.core.night.left_out import with_left_out
from reelcare.core.night.order import by_rule
from reelcare.core.night.other_orders import Better, better
from reelcare.core.night.plan import Night, NightAsked, PlannedSet, Rig, Running
from reelcare.core.night.rounds import done_in_round, lane_of_hydrant
from reelcare.core.settings.set_parser import read_wishes
from reelcare.core.settings.set_request import WishError, Wishes
from reelcare.core.settings.setting import work_out
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _, current_language
from reelcare.core.timestamps import day_of, time_of
from reelcare.core.wording import nearest
from reelcare.register.acts import sets
from reelcare.register.errors import Refused
from reelcare.register.reading import yard
from reelcare.register.reading.reader import Reader, of_one_tag
from reelcare.register.views import fields, water
from reelcare.register.views.fields import KnownField, RunOnLane

LEAST_NIGHT = timedelta(hours=6)


@dataclass(frozen=True, slots=True)
class SeasonWater:
    """What was taken at a place since the year began [m3], by day; and of how many runs nothing is known."""

    by_day: Mapping[Span, float]
    used: float
    unknown: int


@dataclass(frozen=True, slots=True)
class PlannedNight:
    """A night of a field as it is planned: `found` by the rule, or the `better` order that is taken in its place where
    nobody chose one; `tag` is the machine that was asked for ('': all). `held` machines are left out, with why."""

    field: Field
    asked: NightAsked
    found: Night
    better: Better | None
    is_better: bool
    running: tuple[Running, ...]
    season: SeasonWater
    zone: tzinfo
    tag: str = ""
    held: tuple[tuple[str, str], ...] = ()
    guessed: int = 0
    done: tuple[Name, ...] = ()
    """The lanes that were run in the round at hand."""

    @property
    def sets(self) -> tuple[PlannedSet, ...]:
        """The sets that were asked for: those of a machine, or all."""
        return tuple(one for one in self.found.sets if self.tag in ("", one.tag))

    @property
    def volume(self) -> float:
        """Their water [m3]."""
        return sum(one.volume for one in self.sets)

    @property
    def energy(self) -> float | None:
        """Their energy [J]; None where none is known."""
        known = [one.energy for one in self.sets if one.energy is not None]
        return sum(known) if known or not self.sets else None

    @property
    def season_volume(self) -> float:
        """What will have been taken in the season after the runs at hand and all sets of the place [m3]."""
        return self.season.used + self.to_give + sum(one.volume for one in self.found.sets)

    @property
    def to_give(self) -> float:
        """What the runs at hand are to give, as far as is known [m3]."""
        return _to_give(self.running)

    @property
    def runs_unknown(self) -> int:
        """Of how many runs of the season nobody knows the water, those at hand among them."""
        return self.season.unknown + sum(one.volume is None for one in self.running)

    @property
    def attends(self) -> dict[str, str]:
        """Who attends each machine."""
        return {one.tag: one.attends for one in self.asked.rigs}


def plan(
    reader: Reader, where: str, now: datetime, *, begins: datetime | None = None, ends: datetime | None = None,
    dark_moves: bool = False, system: units.System = "metric", past: bool = False,
) -> PlannedNight:  # fmt: skip
    """The night of a machine (by its tag) or of a place; `past` says that `now` is a moment past. Raises Refused where
    there is no such, or no field of it."""
    place, tag = _place_of(reader, where, now)
    known = fields.of_place(reader, place, now)
    begins = begins or now
    ends = ends or next_noon(begins, reader.zone)
    if ends <= begins:
        raise Refused(_("--until: not after --from"))
    there = [one for one in reader.machine_ids() if _is_there(known.field, reader.card(one, now).place, place)]
    known_there = list(_machines_then(reader, there, now, past=past, system=system))
    machines = [one for one in known_there if one.state.retired is None]
    gone = next((one for one in known_there if one.state.retired is not None and one.card.tag == tag), None)
    if gone is not None:
        raise Refused(f"{tag}: {gone.standing.because[0].says}")
    if not machines:
        raise Refused(
            _("{place}: no machine stands there; `reelcare yard` says where they are, and a field says its place",
              place=place)
        )  # fmt: skip
    for one in machines:  # lanes are given to machines by their tags
        if len(same := [other.id for other in machines if other.tag.casefold() == one.tag.casefold()]) > 1:
            raise of_one_tag(one.tag, same)
    return _planned(reader, known, machines, now, (begins, ends), dark_moves=dark_moves, system=system, tag=tag)


def _machines_then(
    reader: Reader, machines: Sequence[str], now: datetime, *, past: bool, system: units.System
) -> Iterator[MachineNow]:
    for one in machines:
        try:
            yield yard.machine_now(
                reader, one, now, past=past, forecasts=False, language=current_language(), system=system
            )
        except Refused:
            if not past:
                raise  # else nothing was known of it then


def _place_of(reader: Reader, where: str, now: datetime) -> tuple[str, str]:
    """The place that is meant, and the tag where a machine is."""
    if reader.machines_with_tag(where) or reader.is_machine(where) or machine_of(where) is not None:
        card = reader.card(reader.machine_id(where), now)
        if not card.place:
            raise Refused(_("{tag}: its card says no place, so its field is not known; `a` in the yard, or `reelcare "
                            "machine move`, says where it is", tag=card.tag))  # fmt: skip
        return card.place, card.tag
    known = fields.all_of(reader, now).values()
    places = {reader.card(one, now).place for one in reader.machine_ids()} - {""}
    names = {*places, *(one.field.id for one in known), *(one.field.place for one in known)} - {""}
    if not any(where.casefold() in name.casefold() for name in names):
        raise Refused(_("{where}: neither a machine nor a place{near}", where=where,
                        near=nearest(where, [*reader.tags().values(), *sorted(names)])))  # fmt: skip
    exact = next((one for one in places if one.casefold() == where.casefold()), None)
    return exact or where, ""


def _is_there(field: Field, place: str, asked: str) -> bool:
    """Whether a machine's place is the field's: by the field's place or id, or as it was asked for."""
    low = place.casefold()
    return field.is_at(place) or (bool(low) and (low == asked.casefold() or asked.casefold() in low)) or (
        not field.place and bool(low) and field.id.casefold() in low
    )  # fmt: skip


def next_noon(begins: datetime, zone: tzinfo) -> datetime:
    """The noon at which a night ends that begins then: the first that is some hours ahead."""
    day = day_of(begins, zone)
    while True:
        noon = datetime.combine(day, time(12), zone)
        if noon.astimezone(UTC) - begins.astimezone(UTC) >= LEAST_NIGHT:
            return noon
        day += timedelta(days=1)


def _planned(
    reader: Reader, known: KnownField, machines: Sequence[MachineNow], now: datetime, span: tuple[datetime, datetime],
    *, dark_moves: bool, system: units.System, tag: str,
) -> PlannedNight:  # fmt: skip
    field, zone = known.field, reader.zone
    begins, ends = span
    year = datetime(begins.astimezone(zone).year, 1, 1, tzinfo=zone)
    runs = fields.runs_at(reader, known, [one.id for one in machines], year, now)
    done = done_in_round(field, [one.lane.number for one in runs if one.home])
    states = [_NightMachine(reader, known, one, runs, done, now, system) for one in machines]
    free = [one for one in states if one.machine.standing.held_as is None]
    rigs = tuple(one.rig(seconds(begins)) for one in free)
    running = tuple(one.running for one in states if one.running is not None)
    chosen = {str(number) for one in rigs for number in one.order}
    busy = {one.lane.number for one in running if one.lane is not None}
    lanes = tuple(
        one for one in field.lanes if one.number not in busy and (one.number not in done or str(one.number) in chosen)
    )
    season = _season(reader, field, [one.tag for one in machines], year, now)
    licence = field.licence.season
    left = None if licence is None else licence - season.used - _to_give(running)
    asked = NightAsked(
        field, lanes, rigs, seconds(begins), seconds(ends), _water(field, begins, ends, zone),
        () if dark_moves or field.dark is None else tuple(spans_of(field.dark, begins, ends, zone)),
        _days(begins, ends, zone), dict(season.by_day), left, running, system,
    )  # fmt: skip
    found = by_rule(asked)
    other = better(asked, found)
    is_better = other is not None and not chosen
    if other is not None and is_better:
        found = other.night
    held = tuple((one.machine.tag, one.machine.standing.because[0].says) for one in states if one not in free)
    return PlannedNight(
        field, asked, with_left_out(asked, found, zone), other, is_better, running, season, zone, tag, held,
        sum(one.guessed for one in runs), tuple(one.number for one in field.lanes if one.number in done),
    )  # fmt: skip


def _water(field: Field, begins: datetime, ends: datetime, zone: tzinfo) -> tuple[Span, ...]:
    later = ends + timedelta(days=2)  # so far is looked ahead for what does not fit
    allowed = (spans_of(hours, begins, later, zone) for hours in (field.tariff, field.licence.hours))
    return tuple(common_spans(*allowed))


def _days(begins: datetime, ends: datetime, zone: tzinfo) -> tuple[Span, ...]:
    first = day_of(begins, zone)
    many = (day_of(ends, zone) - first).days + 5
    starts = [seconds(datetime.combine(first + timedelta(days=day), time(), zone)) for day in range(many)]
    return tuple(pairwise(starts))


def _to_give(running: Iterable[Running]) -> float:
    """What the runs at hand are to give, as far as is known [m3]."""
    return sum(one.volume or 0.0 for one in running)


def _season(reader: Reader, field: Field, tags: Sequence[str], year: datetime, now: datetime) -> SeasonWater:
    by_day: dict[Span, float] = {}
    unknown = 0
    if field.licence.day is None and field.licence.season is None:
        return SeasonWater(by_day, 0.0, 0)
    lines = [one for one in water.of_register(reader, year, now) if _was_there(field, one, tags)]
    for one in lines:
        start, end = (datetime.combine(one.day + timedelta(days=more), time(), reader.zone) for more in (0, 1))
        span = seconds(start), seconds(end)
        by_day[span] = by_day.get(span, 0.0) + one.volume
        unknown += one.unknown
    return SeasonWater(by_day, sum(by_day.values()), unknown)


def _was_there(field: Field, line: water.WaterLine, tags: Sequence[str]) -> bool:
    return field.is_at(line.place) or (line.machine in tags and not field.place and _is_there(field, line.place, ""))


class _NightMachine:
    """A machine of the night as it stands: its kept set, its run at hand, its lane."""

    def __init__(
        self, reader: Reader, known: KnownField, machine: MachineNow, runs: Sequence[RunOnLane], done: set[Name],
        now: datetime, system: units.System,
    ) -> None:  # fmt: skip
        self.machine = machine
        self._field, self._done, self._now = known.field, done, now
        self._mine = [one for one in runs if one.machine == machine.id]
        self._kept = reader.newest(machine.id, e.SetPlanned.kind, now)
        self._chosen = reader.newest(machine.id, e.LanesChosen.kind, now)
        self._hydrant = e.wishes_of(self._kept).get("hydrant", "")
        wishes = _wishes(self._kept, reader.zone)
        basis = sets.basis(reader, machine.id, now)
        self._start = wishes.start if wishes is not None else None
        self._sets = LaneSets(basis.card, wishes, basis.limits, system)
        ran = reader.newest(machine.id, e.Run.kind, now)
        self._last = ran.what.ended if ran is not None and isinstance(ran.what, e.Run) else None
        self.running = self._at_hand()

    def rig(self, begins: int) -> Rig:
        """The machine as the rule needs it."""
        free = begins if self._last is None else max(begins, seconds(self._last))
        lane = self._mine[-1].lane if self._mine else None
        if self.running is not None:
            free, lane = max(free, self.running.ends), self.running.lane
        elif self._is_set_up:
            lane = lane_of_hydrant(self._field, self._hydrant, self._done) or lane
            free = max(free, seconds(self._start)) if self._start is not None else free
        by = self._kept.by if self._kept is not None else ""
        return Rig(self.machine.tag, free, self._sets, lane, self._order(), by, self.machine.card.hose.length)

    @property
    def _is_set_up(self) -> bool:
        """Whether the kept set is for a run that was not made yet."""
        return self._kept is not None and (self._last is None or self._kept.happened > self._last)

    def _at_hand(self) -> Running | None:
        home_by, passed = self.machine.home_by, self.machine.state.passed.get("run")
        if passed is None or not (home_by or self.machine.standing.gate in ("water", "running")):
            return None
        lane = lane_of_hydrant(self._field, self._hydrant, self._done) if self._hydrant else None
        # past its time, or where none was planned, it is not home, and may be so any moment
        is_known = bool(home_by) and time_of(home_by) > self._now
        ends = time_of(home_by) if is_known else self._now
        # by its set, which was kept for this run; by what the lane says of flow, where the set does not
        gives = self._sets.as_kept().volume or (self._sets(lane).volume if lane is not None else 0.0) or None
        starts = min(passed.opened or passed.at, ends)
        return Running(
            self.machine.tag, lane, self._hydrant, seconds(starts), seconds(ends), gives, is_end_known=is_known
        )

    def _order(self) -> tuple[str, ...]:
        one = self._chosen
        if one is None or not isinstance(one.what, e.LanesChosen) or one.what.field != self._field.id:
            return ()
        run = {str(each.lane.number) for each in self._mine if each.ended >= one.happened}
        return tuple(number for number in one.what.lanes if number not in run)


def _wishes(kept: e.Entry | None, zone: tzinfo) -> Wishes | None:
    if kept is None:
        return None
    try:
        return read_wishes(e.wishes_of(kept), zone)
    except (WishError, KeyError):
        return None


def ahead(reader: Reader, now: datetime, system: units.System) -> list[PlannedNight]:
    """The night ahead of every field at which machines stand."""
    found = []
    for known in fields.all_of(reader, now).values():
        with contextlib.suppress(Refused):
            found.append(plan(reader, known.field.place or known.field.id, now, system=system))
    return found


def energy_of(reader: Reader, lines: Sequence[water.WaterLine], now: datetime) -> tuple[float | None, list[str]]:
    """About how much energy [J] water took, each machine by the set that was kept for it last; and the machines of
    which it is not known. None where it is of none."""
    given: dict[str, float] = {}
    for one in lines:
        given[one.machine] = given.get(one.machine, 0.0) + one.volume
    whole, unknown = None, []
    for tag, volume in sorted(given.items()):
        each = _energy_per_volume(reader, reader.machine_id(tag), now)
        if each is None:
            unknown.append(tag)
        else:
            whole = (whole or 0.0) + each * volume
    return whole, unknown


def _energy_per_volume(reader: Reader, machine: str, now: datetime) -> float | None:
    wishes = _wishes(reader.newest(machine, e.SetPlanned.kind, now), reader.zone)
    if wishes is None:
        return None
    basis = sets.basis(reader, machine, now)
    try:
        setting = work_out(basis.card, wishes, basis.limits)
    except WishError:
        return None
    return setting.energy / setting.water_used if setting.energy is not None and setting.water_used else None


STALE = 300
"""For how long a night that was planned for the yard is shown again, where nothing was written meanwhile [s]."""


def next_lane(reader: Reader, machine: MachineNow, now: datetime) -> tuple[Lane, datetime, datetime] | None:
    """The next lane of a machine, from when to when; None where nothing is planned."""
    place = machine.card.place

    def planned() -> PlannedNight | None:
        try:
            return plan(reader, machine.tag, now)
        except Refused:
            return None

    found: PlannedNight | None = reader.cache.get(("night", place, seconds(now) // STALE), planned)
    one = next(iter(found.found.of(machine.tag)), None) if found is not None else None
    if one is None:
        return None
    starts, ends = (datetime.fromtimestamp(at, reader.zone) for at in (one.starts, one.ends))
    return one.lane, starts, ends

"""The yard as it stands at a moment: every machine with its standing and what is due, for lists and for one machine.

What belongs here: bringing what is kept, or folded for a moment past, before the core's one judge. Nothing is decided
here, and nothing is written. Forecasts take longer than judging, and are made only for what is shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from reelcare.core import units
from reelcare.core.forecast.seasonal_profile import USUAL_PRIOR, Prior
from reelcare.core.forecast.usage_history import Use
from reelcare.core.forecast.usage_rate import neighbours, pace
from reelcare.core.machine.card import Season
from reelcare.core.machine.tag import is_coming
from reelcare.core.machine.tag import machine_of as machine_of_tag
from reelcare.core.scales import ScalePoint
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import Plan
from reelcare.core.state.counters import Totals
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_now import MachineNow, machine_at, with_forecast
from reelcare.core.state.machine_now import due_lines as due_lines_of
from reelcare.core.state.machine_state import MachineState, OpenNote
from reelcare.core.state.standing import Judged, Standing, judge, worded
from reelcare.core.timestamps import day_of
from reelcare.register.database.models import MachineRow
from reelcare.register.progress import Item, Progress, no_progress, with_progress
from reelcare.register.reading.reader import PAST, Reader

M = MachineRow
NEIGHBOURS = 12
"""Machines of one place that are asked about the shape of their season, the first by id."""
NO_USE, ANY_SEASON = Use(), Season()
"""What nobody asks about of a line that is due now."""
STEP = 200
"""Machines between two reports of progress."""


class ListedMachine(NamedTuple):
    """A machine as lists show it: what it is called, and how it stands. What it is judged by is read where it is told:
    the limits of a large yard would take more memory than all else of the list."""

    id: str
    tag: str
    name: str
    place: str
    totals: Totals
    last_check: datetime | None
    plan: Plan
    judged: Judged
    now: datetime
    notes: tuple[OpenNote, ...] = ()
    """The notes that are to be read, the newest last."""

    @property
    def order(self) -> tuple[int, float, str, str]:
        """Its place in the yard: holds first, then what is due soonest, then by tag; of two of one tag, by id, so that
        every register shows them in the same order."""
        return *self.judged.order(self.tag), self.id


def listed(reader: Reader, now: datetime, *, past: bool = False) -> list[ListedMachine]:
    """Every machine at `now`, holds first; `past` says that `now` is a moment past, to be folded again."""
    return sorted((one for one, _limits in judged(reader, now, past=past)), key=lambda one: one.order)


def with_limits(reader: Reader, ids: Sequence[str], now: datetime) -> dict[str, tuple[ListedMachine, Limits]]:
    """Some machines, judged at `now`, with what each was judged by; one that left the yard meanwhile is not among
    them."""
    return {one.id: (one, limits) for one, limits in _judged(reader, now, _kept(reader, ids))}


def with_due_lines(
    reader: Reader, now: datetime, *, past: bool = False, progress: Progress = no_progress
) -> tuple[list[ListedMachine], list[DueLine]]:
    """Every machine as `listed`, and every item of them with where it stands, worst first, without forecasts.

    `progress` is told how many machines of how many were judged.
    """
    machines, lines = list[ListedMachine](), list[DueLine]()
    for one, limits in judged(reader, now, past=past, progress=progress):
        machines.append(one)
        lines += due_lines(reader, one, limits)
    return sorted(machines, key=lambda one: one.order), sorted(lines, key=lambda line: line.order)


def judged(
    reader: Reader, now: datetime, *, past: bool = False, progress: Progress = no_progress
) -> Iterator[tuple[ListedMachine, Limits]]:
    """Every machine of the yard as it stands, with what it is judged by."""
    return _judged(reader, now, _folded(reader, now, progress) if past else _kept(reader, progress=progress))


def _judged(reader: Reader, now: datetime, found: Iterable[Found]) -> Iterator[tuple[ListedMachine, Limits]]:
    today = day_of(now, reader.zone)
    for id, tag, name, place, limits, plan in found:
        if limits.retired is not None:
            continue  # it left the yard
        stands = judge(limits, now, reader.zone)
        notes = tuple(one for one in limits.notes if one.is_shown(today))
        yield ListedMachine(id, tag, name, place, limits.totals, limits.last_check, plan, stands, now, notes), limits


def unproven_clear(reader: Reader, machines: Iterable[ListedMachine | MachineNow], now: datetime) -> list[str]:
    """The tags of those machines that are kept as clear, though their entries do not say so: what is kept was changed
    by another hand. Only those are folded that are called clear, which are few."""
    claimed = {one.id: one for one in machines if "clear" in (one.judged.standing.run, one.judged.standing.road)}
    found = []
    for id, state in reader.folds(list(claimed)):
        if state is None or not state.card:
            found.append(claimed[id].tag)
            continue
        card, claims = reader.card_of(state), claimed[id].judged.standing
        real = judge(limits_of(state, reader.plans().newest(id), card), now, reader.zone).standing
        sides = (claims.run, real.run), (claims.road, real.road)
        if any(claim == "clear" and word != "clear" for claim, word in sides):
            found.append(card.tag)
    return found


def reasons(
    reader: Reader, one: ListedMachine, limits: Limits, language: str = "en", system: units.System = "metric"
) -> Standing:
    """The standing of a machine with its reasons in words."""
    return worded(one.judged.standing, limits, one.plan, reader.zone, one.now, language=language, system=system)


Found = tuple[str, str, str, str, Limits, Plan]
"""A machine: id, tag, name, place, limits, plan."""


def _folded(reader: Reader, at: datetime, progress: Progress) -> Iterator[Found]:
    """What machines are judged by at a moment past."""
    for machine, state in _past(reader, at, progress):
        card, plan = reader.card_of(state), reader.plans().at(machine, at)
        yield machine, card.tag, card.name, card.place, limits_of(state, plan, card), plan


def _kept(reader: Reader, ids: Sequence[str] | None = None, progress: Progress = no_progress) -> Iterator[Found]:
    """What all machines, or those with these `ids`, are judged by as it is kept."""
    plans = reader.plans()
    wanted = M.select(M.machine, M.tag, M.name, M.place, M.limits)
    many = int(M.select().count(reader.db)) if ids is None else len(ids)
    rows = reader.db.each(wanted if ids is None else wanted.where(M.machine.in_(ids)))
    for machine, tag, name, place, text in _in_steps(rows, many, progress):
        yield machine, tag, name, place, Limits.from_plain(text), plans.newest(machine)


def _past(reader: Reader, at: datetime, progress: Progress) -> Iterator[tuple[str, MachineState]]:
    """Every machine of which anything is known at a moment past, with its state then."""
    machines = reader.machine_ids()
    for machine in _in_steps(machines, len(machines), progress):
        if (state := _state_at(reader, machine, at)) is not None:
            yield machine, state


def _state_at(reader: Reader, machine: str, at: datetime) -> MachineState | None:
    """The state of a machine at a moment past, None where nothing is known of it then. It is folded once: a list, its
    forecasts and the forecasts of neighbours all ask for it."""
    states: dict[tuple[str, datetime], MachineState | None] = reader.cache.get(PAST, dict)
    if (machine, at) not in states:
        states[machine, at] = reader.fold(machine, at)
    return states[machine, at]


def _states_at(reader: Reader, machines: Iterable[str], at: datetime) -> dict[str, MachineState]:
    """Those of these machines of which anything is known at a moment past, with their states then."""
    states = ((machine, _state_at(reader, machine, at)) for machine in machines)
    return {machine: state for machine, state in states if state is not None}


def _in_steps(items: Iterable[Item], of: int, progress: Progress) -> Iterator[Item]:
    """Items one after the other, with progress after each `STEP`; nothing is told of fewer."""
    return with_progress(items, of, progress if of > STEP else no_progress, STEP)


def yard(
    reader: Reader, now: datetime, *, past: bool = False, forecasts: bool = False, progress: Progress = no_progress,
    language: str = "en", system: units.System = "metric",
) -> list[MachineNow]:  # fmt: skip
    """Every machine at `now` with its whole state, holds first; `past` says that `now` is a moment past.

    With `forecasts` the line that comes first has one. `progress` is told how many machines of how many are seen.
    """
    states = _past(reader, now, progress) if past else reader.states().items()
    plans, seen = reader.plans(), dict(states)
    priors = _priors(reader, seen, seen, now) if forecasts else {}
    found = []
    for machine, state in seen.items():
        if state.retired is not None:
            continue  # it left the yard
        plan = plans.at(machine, now) if past else plans.newest(machine)
        found.append(
            machine_at(
                reader.card_of(state), state, plan, now, reader.zone, forecasts=forecasts, of_next=True,
                language=language, system=system, prior=priors.get(machine, USUAL_PRIOR),
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: (*one.judged.order(one.tag), one.id))


def machine_now(
    reader: Reader,
    machine: str,
    now: datetime,
    *,
    past: bool = False,
    forecasts: bool = True,
    language: str = "en",
    system: units.System = "metric",
    permits: bool = False,
) -> MachineNow:
    """One machine, by its id, at `now`; where something is permitted by what is seen, it is folded from its entries."""
    folded = _state_at(reader, machine, now) if past else reader.fold(machine) if permits else None
    kept = None if past or permits else reader.kept(machine)
    state = kept[0] if kept is not None else folded or reader.state(machine, now if past else None)
    limits = Limits.from_plain(kept[1]) if kept is not None else None
    plan = reader.plans().at(machine, now)
    prior = USUAL_PRIOR
    if forecasts:
        prior = _priors(reader, [machine], _at_places(reader, {machine: state}, now, past=past), now)[machine]
    return machine_at(
        reader.card_of(state), state, plan, now, reader.zone, limits=limits, forecasts=forecasts, language=language,
        system=system, prior=prior,
    )  # fmt: skip


def _at_places(
    reader: Reader, wanted: dict[str, MachineState], now: datetime, *, past: bool
) -> dict[str, MachineState]:
    """These machines with their states, and those that are asked about the seasons at their places."""
    places = {reader.card_of(state).place for state in wanted.values()} - {""}
    asked: dict[str, list[str]] = {}
    for machine, place in sorted(reader.db.fetch(M.select(M.machine, M.place).where(M.place.in_(sorted(places))))):
        asked.setdefault(place, []).append(machine)
    more = [one for some in asked.values() for one in some[:NEIGHBOURS] if one not in wanted]
    return {**wanted, **(_states_at(reader, more, now) if past else reader.states(more))}


def _priors(
    reader: Reader, wanted: Iterable[str], states: Mapping[str, MachineState], now: datetime
) -> dict[str, Prior]:
    """For each machine what its neighbours, which are among the states, say of the shape of its season."""
    today = day_of(now, reader.zone)
    cards = {machine: reader.card_of(states[machine]) for machine in sorted(states)}
    by_place: dict[str, dict[str, tuple[Use, Season]]] = {}
    for machine, card in cards.items():
        some = by_place.setdefault(card.place, {})
        if card.place and len(some) < NEIGHBOURS:
            some[machine] = (states[machine].use, card.season)
    pooled = {place: neighbours(some, today) for place, some in by_place.items() if len(some) > 1}
    places = {machine: cards[machine].place for machine in wanted}
    return {machine: pooled[at].prior(machine) if at in pooled else USUAL_PRIOR for machine, at in places.items()}


def due_lines(reader: Reader, one: ListedMachine, limits: Limits) -> tuple[DueLine, ...]:
    """Every item of a machine with where it stands, worst first, without forecasts."""
    return due_lines_of(one.id, one.tag, one.place, limits, one.plan, one.now, reader.zone)


def with_forecasts(reader: Reader, lines: Sequence[DueLine], now: datetime, *, past: bool = False) -> list[DueLine]:
    """These lines, each with when it will likely fall due: today, where it is due."""
    today = day_of(now, reader.zone)
    wanted = {line.machine for line in lines if not line.is_acute}
    states = _states_at(reader, wanted, now) if past else reader.states(wanted)
    priors = _priors(reader, wanted, _at_places(reader, states, now, past=past), now)
    seasons = {id: reader.card_of(state).season for id, state in states.items()}
    paces = {id: pace(state.use, today, seasons[id], priors[id]) for id, state in states.items()}
    points = {id: state.point(today) for id, state in states.items()}

    def ahead(line: DueLine) -> DueLine:
        if line.is_acute:
            return with_forecast(line, ScalePoint(today), None, NO_USE, ANY_SEASON)
        id = line.machine
        return with_forecast(line, points[id], paces[id], states[id].use, seasons[id])

    return [ahead(line) for line in lines]


def find(text: str, among: Sequence[ListedMachine], start: int) -> int | None:
    """The first machine from a place on whose tag begins with a text, else whose tag, name or place has it in it; or
    the one whose code was scanned."""
    if is_coming(text):
        return start  # a code that is being read: nothing moves before it is whole
    scanned = machine_of_tag(text)
    if scanned is not None:
        return next((place for place, one in enumerate(among) if one.id == scanned), None)
    wanted = text.casefold()
    ahead = list(enumerate(among))[start:]
    begins = next((place for place, one in ahead if one.tag.casefold().startswith(wanted)), None)
    if begins is not None:
        return begins
    return next((place for place, one in ahead if wanted in f"{one.tag} {one.name} {one.place}".casefold()), None)

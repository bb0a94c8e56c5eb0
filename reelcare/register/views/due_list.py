"""The lines of the due list, for every face: a filter, a moment, and nothing else decides what is in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from reelcare.core.entries.runs import RAN_WHILE_HELD
from reelcare.core.machine.card import Card
from reelcare.core.parts import PARTS, part_called
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import QUIET, DueFilter
from reelcare.core.state.machine_state import OpenNote
from reelcare.core.state.projected_services import lines_ahead
from reelcare.core.text import _, mark
from reelcare.core.timestamps import day_of
from reelcare.core.wording import nearest
from reelcare.register.errors import Refused
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import yard
from reelcare.register.reading.reader import Reader
from reelcare.register.views import instructions
from reelcare.register.views.instructions import ALL_MACHINES, Instruction


@dataclass(frozen=True, slots=True)
class WorkList:
    """The lines of the work list, and what is for the supervisor beside them: near misses and runs of held machines
    (each with its machine), and instruction that runs out."""

    lines: list[DueLine]
    near_misses: tuple[tuple[yard.ListedMachine, OpenNote], ...]
    instructions: tuple[Instruction, ...]

    def beside(self, wanted: DueFilter) -> WorkList:
        """What a filter lets through of what stands beside the lines, and no line."""
        misses = tuple(
            (one, note)
            for one, note in self.near_misses
            if wanted.takes_machine(one.id, one.place) and not wanted.part and not wanted.person
        )
        some = wanted.machine or wanted.place or wanted.part or wanted.person
        return WorkList([], misses, () if some else self.instructions)


def cards_of(reader: Reader, lines: Iterable[DueLine], at: datetime | None = None) -> dict[str, Card]:
    """The cards of the machines of lines, by their id, as they stood at a moment (None: now)."""
    return {machine: reader.card(machine, at) for machine in {line.machine for line in lines}}


def note_in_words(note: OpenNote) -> str:
    """What a note says; where it was not typed, in the person's language."""
    return _(note.says) if note.says == RAN_WHILE_HELD else note.says


def near_miss_in_words(machine: yard.ListedMachine, note: OpenNote) -> str:
    """A near miss, or a run of a held machine, in one line."""
    by = note.by or _("no name")
    return _(
        "{tag}: {says} ({day}, {by})", tag=machine.tag, says=note_in_words(note), day=f"{note.since:%Y-%m-%d}", by=by
    )


def instruction_in_words(one: Instruction, tags: Mapping[str, str]) -> str:
    """Instruction that runs out, in one line; `tags` of machines by their id."""
    told = mark("instruction of {name} on {tag} ran out on {day}") if one.left < 0 else mark(
        "instruction of {name} on {tag} runs out on {day}"
    )  # fmt: skip
    return _(told, name=one.person, tag=tags.get(one.machine, _("all machines")), day=one.until)


def for_supervisor(found: WorkList, tags: Mapping[str, str]) -> list[str]:
    """Near misses, runs of held machines, and instruction that runs out, a line each."""
    misses = [near_miss_in_words(machine, note) for machine, note in found.near_misses]
    return misses + [instruction_in_words(one, tags) for one in found.instructions]


def work_list(
    reader: Reader,
    wanted: DueFilter,
    now: datetime,
    *,
    past: bool = False,
    most: int | None = None,
    everything: bool = True,
    progress: Progress = no_progress,
) -> WorkList:
    """The work list at a moment, as a filter lets it through; without `everything`, what needs no action is only to be
    counted, and has no forecast."""
    machines, known = yard.with_due_lines(reader, now, past=past, progress=progress)
    misses = tuple((one, note) for one in machines for note in one.notes if note.near_miss)
    here = {ALL_MACHINES, *(one.id for one in machines)}
    every = WorkList([], misses, tuple(one for one in instructions.running_out(reader, now) if one.machine in here))
    today = day_of(now, reader.zone)
    lines = [line for line in known if wanted.takes(line)]
    if wanted.within == 0:
        lines = [line for line in lines if wanted.is_within(line, today)]
    if not wanted.within:
        lines = lines[:most]  # no more than are shown need a forecast
    seen = everything or wanted.within is not None
    shown = [line for line in lines if seen or line.due.state != QUIET]
    counted = [] if seen else [line for line in lines if line.due.state == QUIET]
    found = counted + _with_forecasts(reader, shown, now, past=past, progress=progress)
    within = [line for line in found if wanted.is_within(line, today)]
    return replace(every.beside(wanted), lines=sorted(within, key=lambda line: line.order)[:most])


def _with_forecasts(
    reader: Reader, lines: Sequence[DueLine], now: datetime, *, past: bool, progress: Progress
) -> list[DueLine]:
    """These lines with their forecasts, some machines at a time; those of one place, which ask each other, together."""
    at = {line.machine: line.place for line in lines}
    machines = sorted(at, key=lambda machine: (at[machine], machine))
    found: list[DueLine] = []
    for start in range(0, len(machines), yard.STEP):
        if len(machines) > yard.STEP:
            progress(start + yard.STEP, len(machines))
        some = set(machines[start : start + yard.STEP])
        found += yard.with_forecasts(reader, [line for line in lines if line.machine in some], now, past=past)
    return found


def lines_until(
    reader: Reader,
    wanted: DueFilter,
    now: datetime,
    until: date,
    *,
    past: bool = False,
    progress: Progress = no_progress,
) -> list[DueLine]:
    """What falls due until a day, again and again as often as it does, for the workload of the coming weeks."""
    listed, today, found = yard.listed(reader, now, past=past), day_of(now, reader.zone), list[DueLine]()
    for one in with_progress(listed, len(listed), progress if len(listed) > yard.STEP else no_progress):
        seen = yard.machine_now(reader, one.id, now, past=past)
        for line in lines_ahead(seen, today, until):
            if wanted.takes(line) and (line.planned is not None or wanted.is_within(line, today)):
                found.append(line)
    return found


def part_named(typed: str) -> str:
    """The part that is meant by its name or a usual word for it; '' for none. Raise Refused for a part that there is
    not: a slip must not read as if nothing were due."""
    part = part_called(typed)
    if typed and not part:
        raise Refused(_("{part}: no such part{hint}", part=typed, hint=nearest(typed, PARTS)))
    return part


def places_of(reader: Reader, now: datetime, *, past: bool = False) -> list[str]:
    """The places at which machines stand, in order."""
    return sorted({one.place for one in yard.listed(reader, now, past=past) if one.place})


def place_in_doubt(reader: Reader, place: str, now: datetime, *, past: bool = False) -> str:
    """What to tell of a place where no machine is; '' where one is, or no place is named."""
    places = places_of(reader, now, past=past) if place else []
    if not place or place.casefold() in {one.casefold() for one in places}:
        return ""
    return _("warning: no machine is at {place}{hint}", place=place, hint=nearest(place, places) if places else "")

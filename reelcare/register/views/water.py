"""Water given, by place, machine and day: from what each run says, or from what the meter showed.

The rules of this file: a meter counts from its reading before on the same machine, so that it also tells the water of
the runs in between that said nothing: they are counted with it, where they were at its place and in the time that is
asked about. Where it is another meter, nothing can be said of that run. A run of which nothing is known is counted, and
never taken as dry. A run that names no place was where its machine stood as it began, wherever that was moved since.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import partial

from reelcare.core import entries as e
from reelcare.core.fold import counted
from reelcare.core.hydraulics.water_meter import MeterShown, passed
from reelcare.core.timestamps import day_of
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader


@dataclass(frozen=True, slots=True)
class WaterLine:
    """What one machine gave at one place on one day [m3], over how many runs, and of how many nothing is known."""

    place: str
    machine: str
    day: date
    volume: float
    runs: int
    unknown: int


def given(
    tag: str,
    stood_at: Callable[[datetime], str],
    entries: Iterable[e.Entry],
    first: datetime,
    last: datetime,
    zone: tzinfo,
) -> list[WaterLine]:
    """The water of one machine, from its entries that count in their order; `stood_at` says where it stood when."""
    found: dict[tuple[str, date], list[float | None]] = {}
    silent: list[tuple[str, date]] = []
    meter: MeterShown | None = None
    for one in entries:
        run = one.what
        if not isinstance(run, e.Run):
            continue
        litres = run.volume
        key = run.place or stood_at(run.started), day_of(run.ended, zone)
        is_asked = first <= run.ended <= last
        if run.meter is not None:
            shown = MeterShown(run.meter, run.ended)
            if litres is None and meter is not None:
                litres = passed(meter, shown)
                if litres is not None and is_asked:
                    _count_with(found, silent, key)
            meter, silent = shown, []
        elif litres is None and is_asked:
            silent.append(key)
        elif litres is not None and meter is not None:
            meter = MeterShown(meter.litres + litres, run.ended)
        if is_asked:
            found.setdefault(key, []).append(litres / 1000 if litres is not None else None)
    return [
        WaterLine(place, tag, day, sum(one for one in some if one is not None), len(some), some.count(None))
        for (place, day), some in found.items()
    ]


def _count_with(
    found: dict[tuple[str, date], list[float | None]], silent: list[tuple[str, date]], key: tuple[str, date]
) -> None:
    """Count runs that said nothing on the day of the reading that tells their water, where they were at its place."""
    for one in silent:
        if one[0] == key[0]:
            found[one].remove(None)
            if not found[one]:
                del found[one]
            found.setdefault(key, []).append(0.0)


def of_register(reader: Reader, first: datetime, last: datetime, at: datetime | None = None) -> list[WaterLine]:
    """The water of all machines between two moments, by place, machine and day; as the register stood `at` a moment."""
    lines, known = list[WaterLine](), reader.known()
    for machine, tag in reader.tags().items():
        if at is None:
            runs = reader.select(queries.of_kind(machine, e.Run.kind, last))
        else:
            runs = counted(reader.of_machine(machine, at), known)
        lines += given(tag, partial(_place_of, reader, machine), runs, first, last, reader.zone)
    return sorted(lines, key=lambda one: (one.place, one.machine, one.day))


def _place_of(reader: Reader, machine: str, at: datetime) -> str:
    return reader.card(machine, at).place

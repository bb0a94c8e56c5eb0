"""Water given, by place, machine and day: from what each run says, or from what the meter showed.

The rules of this file: a meter counts from the run before on the same machine; where it shows less, it is another
meter, and nothing can be said of that run. A run of which nothing is known is counted, and never taken as dry.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from reelcare.core import entries as e
from reelcare.core.text import _, plural
from reelcare.core.timestamps import day_of
from reelcare.reports import tables
from reelcare.reports.blocks import Block, Document, Heading, Paragraph, table


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
    tag: str, home: str, entries: Iterable[e.Entry], first: datetime, last: datetime, zone: tzinfo
) -> list[WaterLine]:
    """The water of one machine, from its entries that count in their order; `home` is where it stands."""
    found: dict[tuple[str, date], list[float | None]] = {}
    meter: int | None = None
    for one in entries:
        run = one.what
        if not isinstance(run, e.Run):
            continue
        litres = run.volume
        if run.meter is not None:
            if litres is None and meter is not None and run.meter >= meter:
                litres = run.meter - meter
            meter = run.meter
        elif litres is not None and meter is not None:
            meter += litres
        if first <= run.ended <= last:
            key = run.place or home, day_of(run.ended, zone)
            found.setdefault(key, []).append(litres / 1000 if litres is not None else None)
    return [
        WaterLine(place, tag, day, sum(one for one in some if one is not None), len(some), some.count(None))
        for (place, day), some in found.items()
    ]


COLUMNS = ("place", "machine", "day", "volume_m3", "runs", "runs_unknown")


def as_csv(lines: Iterable[WaterLine]) -> bytes:
    """The lines as CSV."""
    return tables.table(
        COLUMNS,
        [(one.place, one.machine, one.day.isoformat(), round(one.volume, 3), one.runs, one.unknown) for one in lines],
    )


def document(
    lines: Sequence[WaterLine], first: datetime, last: datetime, made: datetime, zone: tzinfo, licence: float | None
) -> Document:
    """The lines as a document; `licence` is what may be taken [m3]."""
    whole, unknown = sum(one.volume for one in lines), sum(one.unknown for one in lines)
    told = [_("{volume} m3 in all", volume=f"{whole:.0f}")]
    if licence is not None:
        left = _("{left} m3 left", left=f"{licence - whole:.0f}") if whole <= licence else _(
            "{over} m3 over", over=f"{whole - licence:.0f}"
        )  # fmt: skip
        told.append(_("{percent} % of {licence} m3, {left}", percent=f"{100 * whole / licence:.0f}",
                      licence=f"{licence:.0f}", left=left))  # fmt: skip
    parts: list[Block] = [Paragraph("; ".join(told), "bad" if licence is not None and whole > licence else "")]
    if unknown:
        parts.append(Paragraph(
            plural("{n} run says neither volume nor meter: more was given than stands here",
                   "{n} runs say neither volume nor meter: more was given than stands here", unknown), "heed",
        ))  # fmt: skip
    for place in sorted({one.place for one in lines}):
        mine = [one for one in lines if one.place == place]
        here = f"{sum(one.volume for one in mine):.0f}"
        parts.append(Heading(_("{place}: {volume} m3", place=place or _("no place"), volume=here)))
        rows = [(one.machine, one.day.isoformat(), _figure(one), one.runs) for one in mine]
        parts.append(table((_("machine"), _("day"), "m3", _("runs")), rows, numbers=(2, 3)))
    span = f"{first.astimezone(zone):%Y-%m-%d} - {last.astimezone(zone):%Y-%m-%d}"
    return Document(_("Water given"), f"{span}; {made.astimezone(zone):%Y-%m-%d %H:%M}", tuple(parts))


def _figure(one: WaterLine) -> str:
    return f"{one.volume:.1f}" if one.unknown < one.runs else _("unknown")

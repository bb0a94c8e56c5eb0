"""Water given, by place, machine and day, as a page or a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, tzinfo

from reelcare.core import units
from reelcare.core.hydraulics import volumes
from reelcare.core.text import _, plural
from reelcare.core.units import KWH
from reelcare.core.wording import percent_of
from reelcare.register.views.night import PlannedNight
from reelcare.register.views.water import WaterLine
from reelcare.reports import tables
from reelcare.reports.blocks import Block, Document, Heading, Paragraph, table
from reelcare.reports.night import at_least, totals

COLUMNS = ("place", "machine", "day", "volume_m3", "runs", "runs_unknown")


def as_csv(lines: Iterable[WaterLine]) -> bytes:
    """The lines as CSV; of a day of which nothing is known the volume is empty, not nought."""
    rows = []
    for one in lines:
        volume = round(one.volume, 3) if _is_known(one) else ""
        rows.append((one.place, one.machine, one.day.isoformat(), volume, one.runs, one.unknown))
    return tables.table(COLUMNS, rows)


def document(
    lines: Sequence[WaterLine],
    first: datetime,
    last: datetime,
    stamp: str,
    zone: tzinfo,
    licence: float | None,
    energy: tuple[float | None, Sequence[str]] = (None, ()),
    nights: Sequence[PlannedNight] = (),
    system: units.System = "metric",
    language: str = "en",
) -> Document:
    """The lines as a document; `licence` is what may be taken [m3], `energy` about what the water took [J] and the
    machines of which that is not known, `nights` are those ahead."""
    whole, unknown = sum(one.volume for one in lines), sum(one.unknown for one in lines)
    told = [_("{volume} in all", volume=at_least(volumes.told(whole, system), unknown))]
    if licence is not None:
        volume, most, off = volumes.beside_limit(system, whole, licence, abs(whole - licence))
        left = _("{over} over", over=at_least(off, unknown))
        if whole <= licence:
            left = _("{left} left", left=_("at most {limit}", limit=off) if unknown else off)
        told = [_("{volume} in all", volume=at_least(volume, unknown)),
                _("{percent} % of {licence}, {left}", percent=at_least(percent_of(whole, licence), unknown),
                  licence=most, left=left)]  # fmt: skip
    parts: list[Block] = [Paragraph("; ".join(told), "bad" if licence is not None and whole > licence else "")]
    if energy[0] is not None:
        parts.append(Paragraph(_("about {energy} kWh at the inlets, by the set kept last for each machine",
                                 energy=f"{energy[0] / KWH:.0f}")))  # fmt: skip
        if energy[1]:
            parts.append(Paragraph(_("energy not known of {machines}", machines=", ".join(energy[1])), "warning"))
    if unknown:
        parts.append(Paragraph(
            plural("the water of {n} run is not known: more was given than is listed here",
                   "the water of {n} runs is not known: more was given than is listed here", unknown), "warning",
        ))  # fmt: skip
    after = whole
    for night in nights:
        after += night.to_give + night.volume
        parts += _ahead(night, after, licence, unknown, system)
    for place in sorted({one.place for one in lines}):
        mine = [one for one in lines if one.place == place]
        volume = at_least(volumes.told(sum(one.volume for one in mine), system), sum(one.unknown for one in mine))
        here = volume if any(map(_is_known, mine)) else _("unknown")
        parts.append(Heading(_("{place}: {volume}", place=place or _("no place"), volume=here)))
        heads = (_("machine"), _("day"), volumes.unit(system), _("runs"))
        parts.append(table(heads, list(_rows(mine, system)), numbers=(2, 3)))
    span = f"{first.astimezone(zone):%Y-%m-%d} - {last.astimezone(zone):%Y-%m-%d}"
    return Document(_("Water given"), span, tuple(parts), language, stamp=stamp)


def _ahead(night: PlannedNight, after: float, licence: float | None, unknown: int, system: units.System) -> list[Block]:
    """The night ahead of a field, its licence after it, and that of the report by the water that was given `after` it
    and the nights before it, but for the `unknown` of so many runs."""
    place = night.field.place or night.field.id
    told: list[Block] = [Heading(_("Night ahead, {place}", place=place)), Paragraph(totals(night))]
    season, used = night.field.licence.season, night.season_volume
    if season is not None:
        told.append(Paragraph(
            _("licence of the season: {percent} % of {of} after it",
              percent=at_least(percent_of(used, season), night.runs_unknown), of=volumes.told(season, system)),
            "bad" if used > season else "",
        ))  # fmt: skip
    if licence is not None:
        told.append(Paragraph(
            _("with it {percent} % of the {of} given by --licence",
              percent=at_least(percent_of(after, licence), unknown), of=volumes.told(licence, system)),
            "bad" if after > licence else "",
        ))  # fmt: skip
    return told


def _is_known(one: WaterLine) -> bool:
    """Whether a run of that day said what it gave."""
    return one.unknown < one.runs


def _rows(lines: Sequence[WaterLine], system: units.System) -> Iterator[tuple[object, ...]]:
    """Each day that says what was given; then, in one row for each machine, the days that do not."""
    for machine in sorted({one.machine for one in lines}):
        mine = [one for one in lines if one.machine == machine]
        yield from (
            (machine, one.day.isoformat(), at_least(volumes.figure(one.volume, system, 1), one.unknown), one.runs)
            for one in mine
            if _is_known(one)
        )
        silent = [one for one in mine if not _is_known(one)]
        if silent:
            days = plural("{n} day", "{n} days", len(silent))
            yield machine, days, _("unknown"), sum(one.runs for one in silent)

"""`night`: the order of sets of a machine or a place, and who must be where when."""

from __future__ import annotations

import argparse
import re
from datetime import datetime
from typing import Any

from reelcare.cli import common
from reelcare.cli.plan import report
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core.hydraulics import volumes
from reelcare.core.night.plan import Night, PlannedSet
from reelcare.core.text import _, mark
from reelcare.core.units import KWH
from reelcare.register.reading.reader import Reader
from reelcare.register.views import fields
from reelcare.register.views import night as nights
from reelcare.register.views.night import PlannedNight
from reelcare.register.writing.writer import Writer
from reelcare.reports import night as reports

SETS = (
    mark("machine"), TextColumn(mark("lane"), figures=True), TextColumn(mark("hydrant"), figures=True),
    TextColumn(mark("move from"), 2, whole=True), TextColumn(mark("starts"), whole=True),
    TextColumn(mark("home"), whole=True), TextColumn(mark("m3"), 2, figures=True),
    TextColumn(mark("kWh"), 3, figures=True), TextColumn(mark("attends"), 2),
)  # fmt: skip
BY_RULE = "rule"


def night(asked: argparse.Namespace) -> int:
    """The night of a machine or a place; with `--order`, the lanes that a machine takes first."""
    with common.open_register(asked) as register:
        now, past = common.as_of(asked, register, common.now())
        if asked.order:
            return _choose(asked, register, now)
        found = _planned(asked, register, now, past=past)
    is_nothing = bool(found.found.left) and not (found.found.sets or found.running)
    if asked.json:
        common.print_json(as_json(found))
    elif is_nothing:
        why = "; ".join((*reports.left(found), *reports.held(found)))
        raise Problem(_("nothing can be planned in this time: {why}", why=why), 1)
    else:
        _print(found)
    return 1 if is_nothing else 0


def _planned(asked: argparse.Namespace, register: Reader, now: datetime, *, past: bool) -> PlannedNight:
    begins = common.moment_of(asked.since, register.zone) if asked.since is not None else None
    ends = common.moment_of(asked.to, register.zone, ends=True) if asked.to is not None else None
    return nights.plan(
        register, asked.where, now, begins=begins, ends=ends, dark_moves=asked.dark_moves,
        system=common.system(asked), past=past,
    )  # fmt: skip


def on_paper(asked: argparse.Namespace) -> int:
    """The night as a page: who must be where when."""
    with report.printing(asked, report.file_asked(asked, report.PAGES)) as made:
        found = _planned(asked, made.register, made.at, past=made.past)
    return made.write(reports.document(found, made.stamp, common.language(asked)))


def _choose(asked: argparse.Namespace, register: Writer, now: datetime) -> int:
    machine = register.machine_id(asked.where)
    field = fields.of_place(register, register.card(machine).place, now).field
    said = [one for one in re.split(r"[\s,]+", asked.order.strip()) if one and one != BY_RULE]
    unknown = [one for one in said if field.lane(one) is None]
    if unknown:
        known = ", ".join(str(one.number) for one in field.lanes)
        raise Problem(_("--order: no lane {lanes} in {field}; its lanes are {known}", lanes=", ".join(unknown),
                        field=field.id, known=known))  # fmt: skip
    entry = common.add(asked, register, e.LanesChosen(field=field.id, lanes=tuple(said)), machine)
    told = mark("{tag} takes next: lanes {lanes}") if said else mark("{tag} takes its lanes by the rule again")
    words = _(told, tag=asked.where, lanes=", ".join(said))
    return common.answer(asked, {"entry": entry.id, "machine": asked.where, "lanes": said}, words)


def as_json(found: PlannedNight) -> dict[str, Any]:
    """The night, as CONTRACTS has it."""
    field, season = found.field.licence.season, found.season
    planned = found.found
    return {
        "field": found.field.id,
        "from": reports.moment(found, found.asked.begins),
        "until": reports.moment(found, found.asked.ends),
        "sets": [_set(found, planned, one) for one in found.sets],
        "running": [
            {
                "machine": one.tag,
                "lane": one.lane.number if one.lane else None,
                "hydrant": one.hydrant or None,
                "ends": reports.moment(found, one.ends) if one.is_end_known else None,
                "volume_m3": None if one.volume is None else round(one.volume, 1),
            }
            for one in found.running
        ],
        "waits": [
            {
                "machine": one.tag,
                "from": reports.moment(found, one.begins),
                "until": reports.moment(found, one.ends),
                "because": reports.because(one),
            }
            for one in planned.waits
            if found.tag in ("", one.tag)
        ],
        "left": [{"lane": one.lane.number, "because": one.why} for one in planned.left],
        "held": [{"machine": tag, "because": why} for tag, why in found.held],
        "dark": found.field.dark.texts if found.field.dark else None,
        "tariff": found.field.tariff.texts if found.field.tariff else None,
        "volume_m3": round(found.volume, 1),
        "energy_kwh": _kwh(found.energy),
        "licence": None
        if field is None
        else {
            "used_m3": round(found.season_volume, 1),
            "of_m3": field,
            "before_m3": round(season.used, 1),
            "runs_unknown": found.runs_unknown,
        },
        "licence_day_m3": found.field.licence.day,
        "better": None
        if found.better is None
        else {"taken": found.is_better, "more_sets": found.better.more, "earlier_minutes": found.better.earlier // 60},
    }


def _set(found: PlannedNight, planned: Night, one: PlannedSet) -> dict[str, Any]:
    later = [other for other in planned.of(one.tag) if other.starts > one.starts]
    return {
        "lane": one.lane.number,
        "hydrant": one.lane.hydrant,
        "machine": one.tag,
        "starts": reports.moment(found, one.starts),
        "ends": reports.moment(found, one.ends),
        "move_minutes": one.move // 60,
        "moves": reports.moment(found, one.moves),
        "next": later[0].lane.hydrant if later else None,
        "next_lane": later[0].lane.number if later else None,
        "volume_m3": round(one.volume, 1),
        "energy_kwh": _kwh(one.energy),
        "attends": found.attends.get(one.tag) or None,
    }


def _kwh(energy: float | None) -> float | None:
    return None if energy is None else round(energy / KWH, 1)


def _print(found: PlannedNight) -> None:
    water = volumes.unit(found.asked.system)
    heads = [one._replace(head=water) if isinstance(one, TextColumn) and one.head == "m3" else one for one in SETS]
    common.print_table(heads, reports.lines(found), empty=_("nothing can be planned in this time"))
    for told in reports.words(found):
        common.say(told)

"""`workload`: what falls due in the coming weeks, by week, place and machine."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Any

from reelcare.cli import common, filters
from reelcare.cli.look.show import due_json
from reelcare.cli.table import TextColumn
from reelcare.core import units
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.supplies import counted
from reelcare.core.service.workload import Visit, Week
from reelcare.core.service.workload import workload as gathered
from reelcare.core.text import _, mark, plural
from reelcare.core.timestamps import day_of, time_text
from reelcare.core.wording import Title, duration
from reelcare.register.views.due_list import lines_until

HEADS = (
    TextColumn(mark("week of"), band=True), TextColumn(mark("machine")), TextColumn(mark("what")),
    TextColumn(mark("left"), 3, figures=True), TextColumn(mark("for"), 2), TextColumn(mark("when"), 2),
    TextColumn(mark("place"), 2), TextColumn(mark("min"), figures=True),
)  # fmt: skip


def workload(asked: argparse.Namespace) -> int:
    """The coming weeks, with the time and the supplies they take."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        today = day_of(at, register.zone)
        many, until = filters.weeks_of(asked, today)
        told = common.tell_how_far(_("the coming weeks (Ctrl C stops it)"))
        lines = lines_until(register, filters.wanted(asked, register), at, until, past=past, progress=told)
        if not lines:
            filters.warn_of_place(asked, register, at, past=past)
    weeks = gathered(lines, today, many)
    language = common.language(asked)
    if asked.json:
        common.print_json({"as_of": time_text(at), "weeks": [_week_json(week, language) for week in weeks]})
        return 0
    common.print_table(
        HEADS,
        [row for week in weeks for row in _rows(week, language, common.system(asked), everything=asked.all)],
        empty=_("nothing falls due in this time; --weeks looks further ahead"),
    )
    _print_supplies(weeks, language)
    idle = sum(not week.visits for week in weeks)
    if idle and idle < len(weeks) and not asked.all:
        common.say(plural("{n} week without work: --all shows it", "{n} weeks without work: --all shows them", idle))
    return 0


def _visit_json(visit: Visit, language: str) -> dict[str, Any]:
    return {
        "machine": visit.machine,
        "place": visit.place,
        "minutes": visit.minutes,
        "items": [job.item.id for job in visit.jobs],
        "covered": [job.item.id for job in visit.covered],
        "together": [job.item.id for job in visit.together],
        "supplies": dict(visit.supplies(language)),
        "given_to": visit.given_to or None,
        "lines": [due_json(job) for job in visit.jobs],
    }


def _week_json(week: Week, language: str) -> dict[str, Any]:
    return {
        "week": week.begins.isoformat(),
        "minutes": week.minutes,
        "supplies": dict(week.supplies(language)),
        "visits": [_visit_json(visit, language) for visit in week.visits],
    }


def _rows(week: Week, language: str, system: units.System, *, everything: bool) -> Iterator[tuple[str, ...]]:
    """A row for each job, and for what is done with it; with `everything`, for what is worth doing too."""
    jobs = plural("{n} job", "{n} jobs", sum(len(visit.jobs) for visit in week.visits))
    load = ", ".join(one for one in (jobs, duration(week.minutes)) if one)
    of = _("{day}: {load}", day=week.begins.isoformat(), load=load)
    if everything and not week.visits:
        yield of, "", _("nothing to do"), "", "", "", "", ""
    for place, visits in week.by_place().items():
        for visit in visits:
            for job in visit.jobs:
                # of a service after the next one nothing is left yet
                left = job.left_in_words(system) if job.planned is None else ""
                title, minutes = job.item.title(language), str(job.item.minutes or "")
                yield of, visit.machine, title, left, *_given(job), place, minutes
            for job in visit.covered:
                what = _beside(mark("{title} (done with it)"), job, language)
                yield of, visit.machine, what, "", *_given(job), place, ""
            for job in visit.together if everything else ():
                what = _beside(mark("{title} (worth doing too)"), job, language)
                yield of, visit.machine, what, "", *_given(job), place, ""


def _given(job: DueLine) -> tuple[str, str]:
    return (job.given.to, job.given.day.isoformat()) if job.given else ("", "")


def _beside(form: str, job: DueLine, language: str) -> Title:
    title = job.item.title(language)
    return Title(_(form, title=title), _(form, title=title.short))


def _print_supplies(weeks: list[Week], language: str) -> None:
    for week in weeks:
        along = counted(week.supplies(language))
        if along:
            day = week.begins.isoformat()
            common.print_text(_("take along, week of {day}: {supplies}", day=day, supplies="; ".join(along)))

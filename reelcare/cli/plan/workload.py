"""`workload`: what falls due in the coming weeks, by week, place and machine."""

from __future__ import annotations

import argparse
from datetime import timedelta
from typing import Any

from reelcare.cli import common
from reelcare.cli.look.show import doubt
from reelcare.core.service.workload import WEEK, Visit, Week, monday
from reelcare.core.service.workload import workload as gathered
from reelcare.core.state.projected_services import lines_ahead
from reelcare.register.reading import yard


def workload(asked: argparse.Namespace) -> int:
    """The coming weeks, with the time and the supplies they take."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machines = yard.yard(register, at, past=past, forecasts=True)
        today = at.astimezone(register.zone).date()
        until = monday(today) + WEEK * asked.weeks - timedelta(days=1)
        lines = [
            line
            for machine in machines
            if not asked.place or machine.card.place.casefold() == asked.place.casefold()
            for line in lines_ahead(machine, today, until)
        ]
        if not lines:
            doubt(asked, register, at, past=past)
    weeks = gathered(lines, today, asked.weeks)
    if asked.json:
        common.print_json(
            {"as_of": at.isoformat(), "weeks": [_week_json(week, common.language(asked)) for week in weeks]}
        )
    else:
        for week in weeks:
            _print_week(week, common.language(asked))
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
    }


def _week_json(week: Week, language: str) -> dict[str, Any]:
    return {
        "week": week.begins.isoformat(),
        "minutes": week.minutes,
        "supplies": dict(week.supplies(language)),
        "visits": [_visit_json(visit, language) for visit in week.visits],
    }


def _print_week(week: Week, language: str) -> None:
    jobs = sum(len(visit.jobs) for visit in week.visits)
    hours, minutes = divmod(week.minutes, 60)
    common.print_text(f"week of {week.begins.isoformat()}: {jobs} jobs, {hours} h {minutes:02d} min")
    for place, visits in week.by_place().items():
        common.print_text(f"  {place or 'no place'}")
        for visit in visits:
            told = [f"{job.item.title(language)} ({job.due.why})" for job in visit.jobs]
            common.print_text(f"    {visit.machine}: {'; '.join(told)}")
            if visit.covered:
                common.print_text(f"      done with it: {', '.join(job.item.title(language) for job in visit.covered)}")
            if visit.together:
                common.print_text(
                    f"      worth doing too: {', '.join(job.item.title(language) for job in visit.together)}"
                )
    supplies = week.supplies(language)
    if supplies:
        common.print_text(
            "  take along: " + "; ".join(f"{many} x {what}" if many > 1 else what for what, many in supplies.items())
        )

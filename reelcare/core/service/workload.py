"""What falls due in the coming weeks over all machines, gathered so that a shop can plan its days by it.

The rules of this file: a line stands in the week for which it is given to somebody, else in that of its likely day;
what is held, due, overdue or unknown, and a fault without a day, stands in the present one, any other fault in the last
one at the latest. What a bigger service covers is done with it and takes no time of its own. What is open on the same
part, and inside its grace by then, is named as worth doing on the same visit, and left to the person.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import reached
from reelcare.core.wording import said

WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Visit:
    """One machine in one week: what is done, what is done with it, and what is worth doing too."""

    place: str
    machine: str
    jobs: tuple[DueLine, ...]
    covered: tuple[DueLine, ...] = ()
    together: tuple[DueLine, ...] = ()

    @property
    def given_to(self) -> str:
        """Who is given work of it, each once; '' where nobody is."""
        return ", ".join(dict.fromkeys(job.given.to for job in self.jobs if job.given is not None))

    @property
    def minutes(self) -> int:
        """The time it takes, as far as the plan says."""
        return sum(job.item.minutes or 0 for job in self.jobs)

    def supplies(self, language: str = "en") -> Mapping[str, int]:
        """What to take along, with how many jobs need it."""
        return Counter(said(one, language) for job in self.jobs for one in job.item.supplies)


@dataclass(frozen=True, slots=True)
class Week:
    """One week over all machines."""

    begins: date
    visits: tuple[Visit, ...]

    @property
    def minutes(self) -> int:
        """The time of all visits."""
        return sum(visit.minutes for visit in self.visits)

    def by_place(self) -> Mapping[str, tuple[Visit, ...]]:
        """The visits by place, in the order of places."""
        places = sorted({visit.place for visit in self.visits})
        return {place: tuple(one for one in self.visits if one.place == place) for place in places}

    def supplies(self, language: str = "en") -> Mapping[str, int]:
        """What all visits need."""
        total: Counter[str] = Counter()
        for visit in self.visits:
            total.update(visit.supplies(language))
        return total


def monday(day: date) -> date:
    """The Monday of a day's week.

    >>> monday(date(2026, 5, 1))
    datetime.date(2026, 4, 27)
    """
    return day - timedelta(days=day.weekday())


def week_of(line: DueLine, today: date) -> date | None:
    """The week in which a line is to be done; None where nothing can be told."""
    if line.planned is not None:
        return monday(line.planned)
    if line.given is not None:
        return monday(max(line.given.day, today))
    if line.is_acute or (line.kind == "fault" and line.likely is None):
        return monday(today)
    return monday(max(line.likely, today)) if line.likely is not None else None


def workload(lines: Iterable[DueLine], today: date, weeks: int) -> list[Week]:
    """The coming weeks, the present one first; each has its visits by place and machine.

    `lines` are those of all machines, with their forecasts (`ahead.lines_ahead` has the services after the next ones
    as well). What each pre-start asks anyway is left out.
    """
    by_machine: dict[str, list[DueLine]] = {}
    for line in lines:
        if line.news:
            by_machine.setdefault(line.machine, []).append(line)
    first = monday(today)
    found: dict[date, list[Visit]] = {first + WEEK * number: [] for number in range(weeks)}
    last = max(found, default=first)
    for mine in by_machine.values():
        for week in found:
            jobs = [line for line in mine if _week_of(line, today, last) == week]
            if jobs:
                later = [line for line in mine if line.planned is None and (week_of(line, today) or date.max) > week]
                found[week].append(_visit(week, jobs, mine, later))
    return [
        Week(week, tuple(sorted(visits, key=lambda one: (one.place, one.machine)))) for week, visits in found.items()
    ]


def _week_of(line: DueLine, today: date, last: date) -> date | None:
    """The week of a line; a fault, and what is given for a day, stands in the last week at the latest: none is lost."""
    week = week_of(line, today)
    return min(week, last) if week is not None and (line.given is not None or line.kind == "fault") else week


def _visit(week: date, jobs: Sequence[DueLine], mine: Sequence[DueLine], later: Sequence[DueLine]) -> Visit:
    doing = {job.item.id for job in jobs}
    items = {line.item.id: line.item for line in mine}

    def covers(id: str) -> Sequence[str]:
        return items[id].covers if id in items else ()

    with_another = {id for job in jobs for id in reached(job.item.covers, covers) if id != job.item.id}
    covered = tuple(job for job in jobs if job.item.id in with_another)
    done = tuple(job for job in jobs if job.item.id not in with_another)
    parts = {job.item.part for job in done if job.item.part}
    together = tuple(
        line
        for line in later
        if line.item.id not in doing
        and line.item.id not in with_another
        and line.item.part in parts
        and _inside_its_grace(line, week)
    )
    return Visit(jobs[0].place, jobs[0].tag, done, covered, together)


def _inside_its_grace(line: DueLine, week: date) -> bool:
    """Whether the item can be done in that week and still count as done when it was scheduled."""
    if line.due.used_fraction >= 1 - line.item.grace / 100:
        return True
    if line.likely is None:
        return False
    # the last part of the interval, in days, if it goes on as forecast
    ahead = (line.likely - week).days
    whole = ahead / max(1 - line.due.used_fraction, 1e-9)
    return ahead <= whole * line.item.grace / 100

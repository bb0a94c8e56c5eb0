"""`report`: records, lists and calendars as files."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.core import entries as e
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.workload import WEEK, Week, monday
from reelcare.core.service.workload import workload as gathered
from reelcare.core.state.projected_services import lines_ahead
from reelcare.register.acts import walk_rounds
from reelcare.register.integrity import witness
from reelcare.register.reading import yard
from reelcare.register.views import book
from reelcare.register.writing.writer import Writer
from reelcare.reports import out, page, records, season, tables
from reelcare.reports.blocks import Bars, Block, Document, Heading, Paragraph, table

LOOKS_EVERY = 2.0
"""Seconds between two looks at a register that is watched."""


PAGES = (".html", ".pdf")


def laid_out(report: Document, ending: str, made: datetime) -> bytes:
    """A report as a page, or as a PDF."""
    if ending == ".pdf":
        from reelcare.reports import pdf

        return pdf.lay_out(report, made)
    return page.lay_out(report)


def _suffix(path: Path, right: Sequence[str]) -> str:
    if path.suffix.lower() not in right:
        raise Problem(f"{path}: {path.suffix or 'no ending'}; right are {', '.join(right)}")
    return path.suffix.lower()


def machine(asked: argparse.Namespace) -> int:
    """Everything on one machine."""
    path = Path(asked.file)
    ending = _suffix(path, PAGES)
    with common.open_register(asked, create=False) as register:
        now = common.now()
        at, past = common.as_of(asked, register, now)
        id = register.machine_id(asked.tag)
        one = yard.machine_now(register, id, at, past=past)
        told = book.book(register, id, until=at if past else None)
        heads = witness.heads(register.db)
        data = records.machine(
            one, told, heads, now, register.zone, common.system(asked), common.language(asked),
            stood=at if past else None,
        )  # fmt: skip
    return _write(path, laid_out(data, ending, now), asked)


def tag(asked: argparse.Namespace) -> int:
    """A label with a code that names the machine."""
    from reelcare.reports import tag as labels

    path = Path(asked.file)
    ending = "-" if asked.file == "-" else _suffix(path, (".svg", ".png", ".pdf"))
    with common.open_register(asked, create=False) as register:
        id = register.machine_id(asked.tag)
        card = register.card(id, common.now())
    under = ", ".join(one for one in (card.name, card.place) if one)
    if ending == "-":
        shown = labels.shown(id, card.tag, under)
        _stop_without(labels.BLOCKS)
        print(shown, end="")
        return 0
    if ending == ".pdf":
        return _write(path, labels.pdf(id, card.tag, under, common.now()), asked)
    return _write(path, labels.svg(id, card.tag, under) if ending == ".svg" else labels.png(id, card.tag), asked)


def _stop_without(signs: str) -> None:
    try:
        signs.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        raise Problem(
            f"-: the code cannot be shown in {sys.stdout.encoding}; set a UTF-8 locale, or name a .svg, .png or .pdf"
        ) from None


def check(asked: argparse.Namespace) -> int:
    """One check as it was asked and answered; the last one of a machine where a tag is given."""
    path = Path(asked.file)
    ending = _suffix(path, PAGES)
    with common.open_register(asked, create=False) as register:
        found = walk_rounds.check(register, _check_id(register, asked.check))
        tag = register.card(found.machine, found.begun.happened).tag
        faults = [
            one
            for one in register.of_machine(found.machine)
            if isinstance(one.what, e.Fault) and one.what.check == found.id
        ]
        heads = witness.heads(register.db)
        now = common.now()
        data = records.check(found, tag, heads, now, register.zone, faults)
    return _write(path, laid_out(data, ending, now), asked)


def _check_id(register: Writer, named: str) -> str:
    entry = register.entry(named)
    if entry is not None and isinstance(entry.what, e.CheckBegun):
        return entry.id
    if entry is not None and isinstance(entry.what, (e.CheckEnded, e.Answered)):
        return entry.what.check
    begun = [one for one in register.of_machine(register.machine_id(named)) if isinstance(one.what, e.CheckBegun)]
    if not begun:
        raise Problem(f"{named}: no check of this machine is here yet")
    return begun[-1].id


def due(asked: argparse.Namespace) -> int:
    """What is due, as a page, a table or a calendar."""
    path = Path(asked.file)
    if asked.watch:
        if asked.as_of:
            raise Problem("--watch renews what is due now; leave --as-of out")
        return _watch(asked, path)
    ending = _suffix(path, (*PAGES, ".csv", ".ics"))
    with common.open_register(asked, create=False) as register:
        now, past = common.as_of(asked, register, common.now())
        lines = _lines(register, now, past=past)
        data = _due(lines, ending, now, register, common.language(asked))
    return _write(path, data, asked)


def _lines(register: Writer, now: datetime, *, past: bool = False) -> list[DueLine]:
    machines = yard.listed(register, now, past=past)
    lines = [line for line in yard.due_lines(register, machines, now) if line.news]
    return yard.with_forecasts(register, lines, now, past=past)


def _due(lines: Sequence[DueLine], ending: str, now: datetime, register: Writer, language: str) -> bytes:
    local = now.astimezone(register.zone)
    if ending == ".csv":
        return tables.due(lines, language)
    if ending == ".ics":
        return tables.calendar(lines, local, language)
    rows = [
        (
            line.tag,
            line.place,
            line.item.title(language),
            line.due.state,
            line.due.why,
            (line.forecast.likely if line.forecast else None) or "",
        )
        for line in lines
    ]
    heads = ("machine", "place", "what", "state", "where it stands", "likely")
    states = [line.due.state for line in lines]
    under = f"{states.count('overdue')} overdue, {states.count('due')} due; {local:%Y-%m-%d %H:%M}"
    return laid_out(Document("What is due", under, (table(heads, rows),), language), ending, now)


def workload(asked: argparse.Namespace) -> int:
    """The coming weeks as a page or a table."""
    path = Path(asked.file)
    ending = _suffix(path, (*PAGES, ".csv"))
    with common.open_register(asked, create=False) as register:
        now, past = common.as_of(asked, register, common.now())
        weeks = _weeks(register, now, asked.weeks, past=past)
        data = _workload(weeks, ending, now.astimezone(register.zone), common.language(asked))
    return _write(path, data, asked)


def _weeks(register: Writer, now: datetime, many: int, *, past: bool = False) -> list[Week]:
    today = now.astimezone(register.zone).date()
    until = monday(today) + WEEK * many - timedelta(days=1)
    machines = yard.yard(register, now, past=past, forecasts=True)
    return gathered([line for one in machines for line in lines_ahead(one, today, until)], today, many)


def _workload(weeks: Sequence[Week], ending: str, local: datetime, language: str) -> bytes:
    if ending == ".csv":
        return tables.workload(weeks, language)
    hours = tuple((f"{week.begins:%d %b}", week.minutes / 60, f"{week.minutes / 60:.1f} h") for week in weeks)
    parts: list[Block] = [Bars(hours)]
    for week in weeks:
        if week.visits:
            parts.append(Heading(f"Week of {week.begins:%d %B %Y}"))
            rows = [
                (
                    visit.place,
                    visit.machine,
                    "; ".join(job.item.title(language) for job in visit.jobs),
                    f"{visit.minutes} min",
                )
                for visit in week.visits
            ]
            parts.append(table(("place", "machine", "what", "time"), rows, numbers=(3,)))
            along = "; ".join(f"{many} x {what}" for what, many in week.supplies(language).items())
            parts.append(Paragraph(f"take along: {along}" if along else "", "small"))
    return laid_out(Document("The coming weeks", f"{local:%Y-%m-%d %H:%M}", tuple(parts), language), ending, local)


def season_(asked: argparse.Namespace) -> int:
    """A season in review."""
    path = Path(asked.file)
    ending = _suffix(path, PAGES)
    with common.open_register(asked, create=False) as register:
        now = common.now()
        last = common.moment_of(asked.to, register.zone, ends=True) if asked.to else now
        first = common.moment_of(asked.since, register.zone) if asked.since else last - timedelta(days=365)
        if first >= last:
            raise Problem("--from: not before --to")
        plans = register.plans()
        seasons = [
            season.season(one.tag, register.of_machine(one.id, last), plans, first, last)
            for one in yard.yard(register, now)
        ]
        data = season.review(
            sorted(seasons, key=lambda one: one.tag), first, last, now, register.zone, common.system(asked)
        )
    return _write(path, laid_out(data, ending, now), asked)


def _write(path: Path, data: bytes, asked: argparse.Namespace) -> int:
    out.write(path, data, replace=asked.replace)
    common.say(f"{path}: written")
    return 0


def _watch(asked: argparse.Namespace, folder: Path) -> int:
    """Renew the lists in a folder whenever the register changes, until it is stopped."""
    if not folder.is_dir():
        raise Problem(f"{folder}: with --watch, a folder is right here")
    language = common.language(asked)
    common.say(f"renewing {folder} whenever the register changes; Ctrl C stops")
    with common.open_register(asked, create=False) as register:
        seen: tuple[object, object] | None = None
        while True:
            now = common.now()
            mark = (register.change_token(), now.astimezone(register.zone).date())
            if mark != seen:
                seen = mark
                lines = _lines(register, now)
                for ending in (".html", ".csv", ".ics"):
                    out.write(folder / f"due{ending}", _due(lines, ending, now, register, language), replace=True)
                weeks = _weeks(register, now, 6)
                for ending in (".html", ".csv"):
                    data = _workload(weeks, ending, now.astimezone(register.zone), language)
                    out.write(folder / f"weeks{ending}", data, replace=True)
            if asked.once:
                return 0
            time.sleep(LOOKS_EVERY)

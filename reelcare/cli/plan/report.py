"""`report`: records, lists and calendars as files."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

from reelcare import languages
from reelcare.cli import common, filters, terminal
from reelcare.cli.problem import Problem
from reelcare.core import entries as e
from reelcare.core.service import due_list as due_lists
from reelcare.core.service.supplies import counted
from reelcare.core.service.workload import Week
from reelcare.core.service.workload import workload as gathered
from reelcare.core.text import _, localized, mark
from reelcare.core.timestamps import day_of
from reelcare.core.wording import cells, day, day_of_year
from reelcare.register.acts import walk_rounds
from reelcare.register.integrity import witness
from reelcare.register.reading import yard
from reelcare.register.views import book
from reelcare.register.views.due_list import WorkList, for_supervisor, lines_until, work_list
from reelcare.register.writing.writer import Writer
from reelcare.reports import page, records, report_file, season, tables
from reelcare.reports.blocks import Bars, Block, Document, Heading, Paragraph, stamp, table
from reelcare.reports.day_list import beside, comes_first

LOOKS_EVERY = 2.0
"""Seconds between two looks at a register that is watched."""
PAGES = (".html", ".pdf")
WEEKS = 6
"""How many weeks the lists in a watched folder look ahead."""


def laid_out(report: Document, ending: str, made: datetime, asked: argparse.Namespace) -> bytes:
    """A report as a page, or as a PDF on the size of paper that is asked for: without, on letter with US units."""
    if ending == ".pdf":
        from reelcare.reports import pdf

        usual: pdf.Sheet = "letter" if common.system(asked) == "us" else "a4"
        return pdf.lay_out(report, made, getattr(asked, "paper", None) or usual)
    return page.lay_out(report)


def stamp_of(register: Writer, made: datetime, stood: datetime | None = None) -> str:
    """The stamp of a paper of a register, made at a moment, with the moment past that was asked for."""
    local = stood.astimezone(register.zone) if stood is not None else None
    return stamp(made.astimezone(register.zone), local, demo=register.is_demo)


def file_asked(asked: argparse.Namespace, right: Sequence[str]) -> tuple[Path, str]:
    """The file that is to be written, and its ending. Raises Problem where it is none of these."""
    path = Path(asked.file)
    ending = path.suffix.lower()
    if ending not in right:
        has, must = path.suffix or _("no ending"), ", ".join(right)
        raise Problem(_("{path}: {suffix}; the name must end in {right}", path=path, suffix=has, right=must))
    return path, ending


def machine(asked: argparse.Namespace) -> int:
    """Everything on one machine."""
    path, ending = file_asked(asked, PAGES)
    with common.open_register(asked) as register:
        now = common.now()
        at, past = common.as_of(asked, register, now)
        id = register.machine_id(asked.tag)
        one = yard.machine_now(register, id, at, past=past, permits=True, language=common.language(asked))
        told = book.book(register, id, until=at if past else None)
        heads = witness.heads(register.db)
        data = records.machine(
            one, told, heads, stamp_of(register, now, at if past else None), register.zone, common.system(asked),
            common.language(asked),
        )  # fmt: skip
    return write(path, laid_out(data, ending, now, asked), asked)


def tag(asked: argparse.Namespace) -> int:
    """A label with a code that names the machine."""
    from reelcare.reports import tag as labels

    path, ending = (Path("-"), "-") if asked.file == "-" else file_asked(asked, (".svg", ".png", ".pdf"))
    with common.open_register(asked) as register:
        id = register.machine_id(asked.tag)
        card = register.card(id, common.now())
    under = ", ".join(one for one in (card.name, card.place) if one)
    if ending == "-":
        shown = labels.shown(id, card.tag, under)
        _stop_without(labels.BLOCKS)
        _stop_where_narrow(shown)
        print(shown, end="")
        return 0
    if ending == ".pdf":
        return write(path, labels.pdf(id, card.tag, under, common.now()), asked)
    return write(path, labels.svg(id, card.tag, under) if ending == ".svg" else labels.png(id, card.tag), asked)


def _stop_without(signs: str) -> None:
    try:
        signs.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        says = mark("-: the code cannot be shown in {encoding}; set a UTF-8 locale, or name a .svg, .png or .pdf")
        raise Problem(_(says, encoding=sys.stdout.encoding)) from None


def _stop_where_narrow(shown: str) -> None:
    """Raise Problem where the terminal would break the lines of a code, which then no camera reads."""
    needed, width = max(map(cells, shown.splitlines())), terminal.width_of_tables()
    if width is not None and width < needed:
        says = mark(
            "-: the code needs {needed} columns, here are {width}; widen the window, or name a .svg, .png or .pdf"
        )
        raise Problem(_(says, needed=needed, width=width))


def check(asked: argparse.Namespace) -> int:
    """One check as it was asked and answered; the last one of a machine where a tag is given."""
    path, ending = file_asked(asked, PAGES)
    with common.open_register(asked) as register:
        found = walk_rounds.check(register, _check_id(register, asked.check))
        tag = register.card(found.machine, found.begun.happened).tag
        faults = [
            one
            for one in register.of_machine(found.machine)
            if isinstance(one.what, e.Fault) and one.what.check == found.id
        ]
        heads = witness.heads(register.db)
        now = common.now()
        language, asked_in = common.language(asked), found.walk.language
        data = records.check(
            found, tag, heads, stamp_of(register, now), register.zone, faults, language=language,
            asked_in=languages.LANGUAGES.get(asked_in, asked_in) if asked_in != language else "",
        )  # fmt: skip
    return write(path, laid_out(data, ending, now, asked), asked)


def _check_id(register: Writer, named: str) -> str:
    entry = register.entry(named)
    if entry is not None and isinstance(entry.what, e.CheckBegun):
        return entry.id
    if entry is not None and isinstance(entry.what, (e.CheckEnded, e.Answered)):
        return entry.what.check
    begun = [one for one in register.of_machine(register.machine_id(named)) if isinstance(one.what, e.CheckBegun)]
    if not begun:
        raise Problem(_("{named}: no check of this machine is here yet", named=named))
    return begun[-1].id


def due(asked: argparse.Namespace) -> int:
    """What is due, as a page, a table or a calendar."""
    if asked.watch:
        if asked.as_of is not None:
            raise Problem(_("--watch shows what is due now; leave out --as-of"))
        return _watch(asked, Path(asked.file))
    for alone in ("once", "public"):
        if getattr(asked, alone):
            raise Problem(_("--{option}: goes with --watch", option=alone))
    path, ending = file_asked(asked, (*PAGES, ".csv", ".ics"))
    with common.open_register(asked) as register:
        now = common.now()
        at, past = common.as_of(asked, register, now)
        found = work_list(register, filters.wanted(asked, register), at, past=past)
        told = stamp_of(register, now, at if past else None)
        data = _due(found, register.tags(), ending, at.astimezone(register.zone), told, asked)
        filters.warn_of_place(asked, register, at, past=past)
    return write(path, data, asked)


def _due(
    found: WorkList, tags: Mapping[str, str], ending: str, local: datetime, stamped: str, asked: argparse.Namespace
) -> bytes:
    language, system, lines = common.language(asked), common.system(asked), found.lines
    if ending == ".csv":
        return tables.due(lines, language)
    if ending == ".ics":
        # what each pre-start asks has no day of its own
        return tables.calendar([line for line in lines if line.news], local, language, system)
    rows, left_out = due_lists.rows(lines, everything=asked.all, coming=bool(asked.within), on_paper=True)
    heads = [_(one.head) for one in due_lists.PRINTED]
    told = (due_lists.counts_in_words(lines), due_lists.left_out_in_words(left_out))
    page_of_it = table(heads, [due_lists.cells(row, language, system)[: len(heads)] for row in rows])
    under = "; ".join(one for one in told if one)
    parts = (page_of_it, *beside(for_supervisor(found, tags)), comes_first())
    due_ = Document(_("What is due"), under, parts, language, is_wide=True, stamp=stamped)
    return laid_out(due_, ending, common.now(), asked)


def workload(asked: argparse.Namespace) -> int:
    """The coming weeks as a page or a table."""
    path, ending = file_asked(asked, (*PAGES, ".csv"))
    with common.open_register(asked) as register:
        now = common.now()
        at, past = common.as_of(asked, register, now)
        weeks = _weeks(register, at, asked, past=past)
        told = stamp_of(register, now, at if past else None)
        data = _workload(weeks, ending, told, asked)
        filters.warn_of_place(asked, register, at, past=past)
    return write(path, data, asked)


def _weeks(register: Writer, now: datetime, asked: argparse.Namespace, *, past: bool = False) -> list[Week]:
    today = day_of(now, register.zone)
    many, until = filters.weeks_of(asked, today)
    return gathered(lines_until(register, filters.wanted(asked, register), now, until, past=past), today, many)


def _workload(weeks: Sequence[Week], ending: str, stamped: str, asked: argparse.Namespace) -> bytes:
    language = common.language(asked)
    if ending == ".csv":
        return tables.workload(weeks, language)
    hours = tuple(
        (day_of_year(week.begins), week.minutes / 60, localized(f"{week.minutes / 60:.1f} h")) for week in weeks
    )
    parts: list[Block] = [Bars(hours)]
    for week in weeks:
        if week.visits:
            parts.append(Heading(_("Week of {day}", day=day(week.begins))))
            rows = [
                (visit.place, visit.machine, "; ".join(job.item.title(language) for job in visit.jobs),
                 _("{minutes} min", minutes=visit.minutes))
                for visit in week.visits
            ]  # fmt: skip
            parts.append(table((_("place"), _("machine"), _("what"), _("time")), rows, numbers=(3,)))
            along = "; ".join(counted(week.supplies(language)))
            parts.append(Paragraph(_("take along: {along}", along=along) if along else "", "small"))
    parts.append(comes_first())
    return laid_out(
        Document(_("The coming weeks"), "", tuple(parts), language, stamp=stamped), ending, common.now(), asked
    )


def span_of(asked: argparse.Namespace, zone: tzinfo, now: datetime) -> tuple[datetime, datetime]:
    """The time that `--from` and `--until` name: the year up to now where they are left out. Raises Problem."""
    last = common.moment_of(asked.to, zone, ends=True) if asked.to is not None else now
    first = common.moment_of(asked.since, zone) if asked.since is not None else last - timedelta(days=365)
    if first >= last:
        raise Problem(_("--from: not before --until"))
    return first, last


def season_(asked: argparse.Namespace) -> int:
    """A season in review."""
    path, ending = file_asked(asked, PAGES)
    with common.open_register(asked) as register:
        now = common.now()
        at, past = common.as_of(asked, register, now)
        first, last = span_of(asked, register.zone, at)
        known, until = register.known(), min(last, at)
        # all entries, those after the season too: a correction of today takes back a run of then
        seasons = [
            season.season(tag, register.of_machine(machine, at if past else None), known, first, until)
            for machine, tag in register.tags().items()
        ]
        data = season.review(
            [one for one in seasons if one.seen], first, last, stamp_of(register, now, at if past else None),
            register.zone, common.system(asked), common.language(asked),
        )  # fmt: skip
    return write(path, laid_out(data, ending, now, asked), asked)


def write(path: Path, data: bytes, asked: argparse.Namespace) -> int:
    """Write a file that was asked for, and say so."""
    report_file.write(path, data, replace=asked.replace)
    common.say(_("{path}: written", path=path))
    return 0


def _watch(asked: argparse.Namespace, folder: Path) -> int:
    """Renew the lists in a folder whenever the register changes, until it is stopped."""
    common.stop_without_folder(folder / "lists")
    mode = 0o644 if asked.public else 0o600
    common.say(_("updating {folder} whenever the register changes; Ctrl C stops it", folder=folder))
    with common.open_register(asked) as register:
        filters.warn_of_place(asked, register, common.now(), past=False)
        seen: tuple[object, object] | None = None
        while True:
            now = common.now()
            mark = (register.change_token(), day_of(now, register.zone))
            if mark != seen:
                seen = mark
                local = now.astimezone(register.zone)
                found, tags = work_list(register, filters.wanted(asked, register), now), register.tags()
                told = stamp_of(register, now)
                for ending in (".html", ".csv", ".ics"):
                    data = _due(found, tags, ending, local, told, asked)
                    report_file.write(folder / f"due{ending}", data, replace=True, mode=mode)
                asked.weeks = WEEKS
                weeks = _weeks(register, now, asked)
                for ending in (".html", ".csv"):
                    data = _workload(weeks, ending, told, asked)
                    report_file.write(folder / f"weeks{ending}", data, replace=True, mode=mode)
            if asked.once:
                return 0
            time.sleep(LOOKS_EVERY)

"""`report`: records, lists and calendars as files."""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Printing:
    """A report that is being made: of which register, into which file, when, and of which moment it tells."""

    asked: argparse.Namespace
    register: Writer
    path: Path
    now: datetime
    at: datetime
    past: bool = False

    @property
    def ending(self) -> str:
        """The ending of the file, which says what it is made into."""
        return self.path.suffix.lower()

    @property
    def stood(self) -> datetime | None:
        """The moment past that was asked for; None for now."""
        return self.at if self.past else None

    @property
    def stamp(self) -> str:
        """The stamp of what is made, with the moment past that was asked for."""
        made, at = (one.astimezone(self.register.zone) for one in (self.now, self.at))
        return stamp(made, at if self.past else None, demo=self.register.is_demo)

    def laid_out(self, report: Document) -> bytes:
        """A report as a page, or as a PDF on the size of paper that is asked for: without, on letter with US units."""
        if self.ending != ".pdf":
            return page.lay_out(report)
        from reelcare.reports import pdf

        usual: pdf.Sheet = "letter" if common.system(self.asked) == "us" else "a4"
        return pdf.lay_out(report, self.now, getattr(self.asked, "paper", None) or usual)

    def write(self, made: Document | bytes) -> int:
        """Write what was made, and say so."""
        data = made if isinstance(made, bytes) else self.laid_out(made)
        return write(self.path, data, self.asked)


@contextlib.contextmanager
def printing(asked: argparse.Namespace, path: Path) -> Iterator[Printing]:
    """The register that was asked for, to make a report of it into a file."""
    with common.open_register(asked) as register:
        now = common.now()
        yield Printing(asked, register, path, now, *common.as_of(asked, register, now))


def file_asked(asked: argparse.Namespace, right: Sequence[str]) -> Path:
    """The file that is to be written. Raises Problem where its ending is none of these."""
    path = Path(asked.file)
    if path.suffix.lower() not in right:
        has, must = path.suffix or _("no ending"), ", ".join(right)
        raise Problem(_("{path}: {suffix}; the name must end in {right}", path=path, suffix=has, right=must))
    return path


def machine(asked: argparse.Namespace) -> int:
    """Everything on one machine."""
    with printing(asked, file_asked(asked, PAGES)) as made:
        register, language = made.register, common.language(asked)
        id = register.machine_id(asked.tag)
        one = yard.machine_now(register, id, made.at, past=made.past, permits=True, language=language,
                               system=common.system(asked))  # fmt: skip
        told = book.book(register, id, until=made.stood)
        heads = witness.heads(register.db)
        record = records.machine(one, told, heads, made.stamp, register.zone, common.system(asked), language)
    return made.write(record)


def tag(asked: argparse.Namespace) -> int:
    """A label with a code that names the machine."""
    from reelcare.reports import tag as labels

    path = Path("-") if asked.file == "-" else file_asked(asked, (".svg", ".png", ".pdf"))
    with common.open_register(asked) as register:
        id = register.machine_id(asked.tag)
        card = register.card(id, common.now())
    under = ", ".join(one for one in (card.name, card.place) if one)
    if not path.suffix:
        shown = labels.shown(id, card.tag, under)
        _stop_without(labels.BLOCKS)
        _stop_where_narrow(shown)
        print(shown, end="")
        return 0
    if path.suffix.lower() == ".pdf":
        return write(path, labels.pdf(id, card.tag, under, common.now()), asked)
    is_drawn = path.suffix.lower() == ".svg"
    return write(path, labels.svg(id, card.tag, under) if is_drawn else labels.png(id, card.tag), asked)


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
    with printing(asked, file_asked(asked, PAGES)) as made:
        register = made.register
        found = walk_rounds.check(register, _check_id(register, asked.check))
        tag = register.card(found.machine, found.begun.happened).tag
        faults = [
            one
            for one in register.of_machine(found.machine)
            if isinstance(one.what, e.Fault) and one.what.check == found.id
        ]
        heads = witness.heads(register.db)
        language, asked_in = common.language(asked), found.walk.language
        record = records.check(
            found, tag, heads, made.stamp, register.zone, faults, language=language,
            asked_in=languages.LANGUAGES.get(asked_in, asked_in) if asked_in != language else "",
        )  # fmt: skip
    return made.write(record)


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
    with printing(asked, file_asked(asked, (*PAGES, ".csv", ".ics"))) as made:
        found = work_list(made.register, filters.wanted(asked, made.register), made.at, past=made.past)
        data = _due(made, found)
        filters.warn_of_place(asked, made.register, made.at, past=made.past)
    return made.write(data)


def _due(made: Printing, found: WorkList) -> bytes:
    asked, lines = made.asked, found.lines
    language, system = common.language(asked), common.system(asked)
    if made.ending == ".csv":
        return tables.due(lines, language)
    if made.ending == ".ics":
        # what each pre-start asks has no day of its own
        local = made.at.astimezone(made.register.zone)
        return tables.calendar([line for line in lines if line.news], local, language, system)
    rows, left_out = due_lists.rows(lines, everything=asked.all, coming=bool(asked.within), on_paper=True)
    heads = [_(one.head) for one in due_lists.PRINTED]
    told = (due_lists.counts_in_words(lines), due_lists.left_out_in_words(left_out))
    page_of_it = table(heads, [due_lists.cells(row, language, system)[: len(heads)] for row in rows])
    under = "; ".join(one for one in told if one)
    parts = (page_of_it, *beside(for_supervisor(found, made.register.tags())), comes_first())
    return made.laid_out(Document(_("What is due"), under, parts, language, is_wide=True, stamp=made.stamp))


def workload(asked: argparse.Namespace) -> int:
    """The coming weeks as a page or a table."""
    with printing(asked, file_asked(asked, (*PAGES, ".csv"))) as made:
        data = _workload(made, _weeks(made.register, made.at, asked, past=made.past))
        filters.warn_of_place(asked, made.register, made.at, past=made.past)
    return made.write(data)


def _weeks(register: Writer, now: datetime, asked: argparse.Namespace, *, past: bool = False) -> list[Week]:
    today = day_of(now, register.zone)
    many, until = filters.weeks_of(asked, today)
    return gathered(lines_until(register, filters.wanted(asked, register), now, until, past=past), today, many)


def _workload(made: Printing, weeks: Sequence[Week]) -> bytes:
    language = common.language(made.asked)
    if made.ending == ".csv":
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
    return made.laid_out(Document(_("The coming weeks"), "", tuple(parts), language, stamp=made.stamp))


def span_of(asked: argparse.Namespace, zone: tzinfo, now: datetime) -> tuple[datetime, datetime]:
    """The time that `--from` and `--until` name: the year up to now where they are left out. Raises Problem."""
    last = common.moment_of(asked.to, zone, ends=True) if asked.to is not None else now
    first = common.moment_of(asked.since, zone) if asked.since is not None else last - timedelta(days=365)
    if first >= last:
        raise Problem(_("--from: not before --until"))
    return first, last


def season_(asked: argparse.Namespace) -> int:
    """A season in review."""
    with printing(asked, file_asked(asked, PAGES)) as made:
        register = made.register
        first, last = span_of(asked, register.zone, made.at)
        known, until = register.known(), min(last, made.at)
        # all entries, those after the season too: a correction of today takes back a run of then
        seasons = [
            season.season(tag, register.of_machine(machine, made.stood), known, first, until)
            for machine, tag in register.tags().items()
        ]
        seen, system = [one for one in seasons if one.seen], common.system(asked)
        review = season.review(seen, first, last, made.stamp, register.zone, system, common.language(asked))
    return made.write(review)


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
                found = work_list(register, filters.wanted(asked, register), now)
                for name in ("due.html", "due.csv", "due.ics"):
                    made = Printing(asked, register, folder / name, now, now)
                    report_file.write(made.path, _due(made, found), replace=True, mode=mode)
                asked.weeks = WEEKS
                weeks = _weeks(register, now, asked)
                for name in ("weeks.html", "weeks.csv"):
                    made = Printing(asked, register, folder / name, now, now)
                    report_file.write(made.path, _workload(made, weeks), replace=True, mode=mode)
            if asked.once:
                return 0
            time.sleep(LOOKS_EVERY)

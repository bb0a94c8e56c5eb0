"""Lists for other programs: CSV that no spreadsheet runs, and a calendar by RFC 5545.

The rules of this file: core values in, bytes out. A cell that a spreadsheet would take for a formula begins with an
apostrophe; taking the first one away again gives what was written.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta

from reelcare.core import units
from reelcare.core.clean import clean
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.workload import Week
from reelcare.core.text import _, in_english

FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")
"""What makes a spreadsheet run a cell, or take its sign away."""


def cell(value: object) -> str:
    """A value as a cell: numbers as they are, text so that it is never run.

    >>> cell("=1+1"), cell(-2.5), cell("-2"), cell("chain")
    ("'=1+1", '-2.5', "'-2", 'chain')
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{value:.10g}" if isinstance(value, float) else str(value)
    text = "" if value is None else str(value)
    return "'" + text if text.startswith(FORMULA) else text


def table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """A table as CSV (RFC 4180), UTF-8 with a byte order mark, which spreadsheets ask for."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(heads)
    writer.writerows([cell(one) for one in row] for row in rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode("utf-8")


DUE = (
    "machine", "place", "kind", "item", "what", "part", "state", "by", "used", "interval", "left", "life", "early",
    "likely", "late", "due_at", "held", "waits_for", "given_to", "for_day", "minutes",
)  # fmt: skip


def due(lines: Iterable[DueLine], language: str = "en") -> bytes:
    """What is due as CSV."""
    return table(DUE, [_due_row(line, language) for line in lines])


def _due_row(line: DueLine, language: str) -> tuple[object, ...]:
    told, found, is_service = line.due, line.forecast, line.kind == "service"
    is_known = is_service and told.state != "unknown"
    with in_english():  # as the columns beside it: whoever reads it is a program
        due_at = line.due_at_in_words("metric")
    days = (found.early, found.likely, found.late) if found is not None else (None, None, None)
    return (
        line.tag, line.place, line.kind, line.item.id, line.item.title(language), line.item.part, told.state,
        told.by if line.thresholds else "", told.used if is_known else "", told.interval if is_service else "",
        told.left if line.has_left else "", round(told.used_fraction, 4) if is_known else "",
        *(day.isoformat() if day else "" for day in days), due_at, "yes" if told.held else "",
        line.fault.waits_for if line.fault else "", line.given.to if line.given else "",
        line.given.day.isoformat() if line.given else "", line.item.minutes or "",
    )  # fmt: skip


WORK = ("week", "place", "machine", "minutes", "services", "worth doing too", "supplies")


def workload(weeks: Iterable[Week], language: str = "en") -> bytes:
    """The coming weeks as CSV, a line for each visit."""
    rows = [
        (
            week.begins.isoformat(), visit.place, visit.machine, visit.minutes,
            "; ".join(job.item.title(language) for job in visit.jobs),
            "; ".join(job.item.title(language) for job in visit.together),
            "; ".join(f"{many} x {what}" for what, many in visit.supplies(language).items()),
        )
        for week in weeks
        for visit in week.visits
    ]  # fmt: skip
    return table(WORK, rows)


REFRESH = "PT1H"
"""How often a program that holds the calendar is to fetch it again (RFC 5545, 3.3.6)."""


def calendar(lines: Iterable[DueLine], now: datetime, language: str = "en", system: units.System = "metric") -> bytes:
    """What is due as a calendar: each item a day, the likely one; what is held, overdue or unknown stands
    on today, what is given to somebody on its day.

    A machine's item keeps its UID, so that a calendar that is fetched again moves it instead of doubling it.
    """
    today = now.date()
    out = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Reelcare//due//EN", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    name = _escaped(_("Reelcare: what is due"))
    # RFC 7986, 5.1 and 5.7; the other two say the same to programs that are older than it
    out += [f"NAME:{name}", f"X-WR-CALNAME:{name}"]
    out += [f"REFRESH-INTERVAL;VALUE=DURATION:{REFRESH}", f"X-PUBLISHED-TTL:{REFRESH}"]
    for line in lines:
        day = line.given.day if line.given is not None else today if line.is_acute else line.likely
        if day is None and line.kind == "service":
            continue
        out += _event(line, max(day or today, today), now, language, system)
    out.append("END:VCALENDAR")
    return "".join(_folded(one) for one in out).encode("utf-8")


def _event(line: DueLine, day: date, now: datetime, language: str, system: units.System) -> list[str]:
    spread = ""
    if line.forecast is not None and line.forecast.late and line.forecast.early < line.forecast.late:
        between = _("between {early} and {late}", early=line.forecast.early, late=line.forecast.late)
        spread = f"; {between}"
    given = "; " + _("for {name}", name=line.given.to) if line.given is not None else ""
    return [
        "BEGIN:VEVENT",
        f"UID:{line.machine}.{_escaped(line.item.id)}@reelcare",
        f"DTSTAMP:{now.astimezone(UTC):%Y%m%dT%H%M%SZ}",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_escaped(f'{line.tag}: {line.item.title(language)}')}",
        f"DESCRIPTION:{_escaped(f'{_(line.band)}: {line.due.why(system)}{spread}{given}')}",
        f"LOCATION:{_escaped(line.place)}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _escaped(text: str) -> str:
    text = clean(text, lines=True)
    for sign, safe in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(sign, safe)
    return text


def _folded(line: str) -> str:
    """A line in pieces of at most 75 octets, none of them in the middle of a sign."""
    pieces, piece, room = [], "", 75
    for sign in line:
        size = len(sign.encode("utf-8"))
        if size > room:
            pieces.append(piece)
            piece, room = " ", 74
        piece += sign
        room -= size
    return "\r\n".join([*pieces, piece]) + "\r\n"

"""The time line of a night: a line for the hours, the dark, when water may be taken, and each machine.

`━` runs (a figure is its lane), `▒` is moved, `·` waits, `░` dark, `─` hours of licence and tariff. The set under the
cursor is lit, and its machine marked.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from textual.content import Content

from reelcare.core.night.plan import PlannedSet
from reelcare.core.text import _
from reelcare.register.views.night import PlannedNight
from reelcare.tui.text import join, said

RUNS, MOVES, WAITS, DARK, WATER, HERE = "━", "▒", "·", "░", "─", "▸"
LABEL = 10


def time_lines(found: PlannedNight, width: int, lit: PlannedSet | None = None, most: int = 6) -> list[Content]:
    """The lines, as wide as there is room, with one set lit; of more machines than `most`, those around its own."""
    room = max(width - LABEL - 1, 12)
    begins = found.asked.begins
    ends = max([found.found.last, *(one.ends for one in found.running), begins + 3600])
    ends = min(ends + 1800, found.asked.ends) if found.found.sets else found.asked.ends

    def cell(at: int) -> int:
        return min(max((at - begins) * room // (ends - begins), 0), room)

    def paint(spans: Iterable[tuple[int, int, str]]) -> list[str]:
        line = [" "] * room
        for begin, end, sign in spans:
            for place in range(cell(begin), cell(end)):
                line[place] = sign
        return line

    shown = [said(_hours(found, begins, ends, room))]
    for label, spans, sign in ((_("dark"), found.asked.dark, DARK), (_("water"), _water(found), WATER)):
        if spans:
            shown.append(said(f" {label[: LABEL - 2]:<{LABEL - 1}}" + "".join(paint((*span, sign) for span in spans))))
    for tag in _around(_tags(found), lit.tag if lit else "", most):
        line = paint(_spans(found, tag))
        for one in found.found.of(tag):
            name, first = f" {one.lane.number} ", cell(one.starts) + 1
            if first + len(name) < cell(one.ends):
                line[first : first + len(name)] = name
        here = lit if lit is not None and lit.tag == tag else None
        told = f"{HERE if here else ' '}{tag[: LABEL - 2]:<{LABEL - 1}}"
        first, last = (cell(here.moves if here.move else here.starts), cell(here.ends)) if here else (room, room)
        shown.append(join(
            told + "".join(line[:first]), ("".join(line[first:last]), "bold $text-accent on $chosen"),
            "".join(line[last:]),
        ))  # fmt: skip
    return shown


def _tags(found: PlannedNight) -> list[str]:
    tags = [one.tag for one in found.asked.rigs] + [one.tag for one in found.running]
    return sorted({one for one in tags if found.tag in ("", one)})


def _around(tags: list[str], tag: str, most: int) -> list[str]:
    """At most so many tags, one of them among them.

    >>> _around(["T1", "T2", "T3", "T4"], "T3", 2)
    ['T2', 'T3']
    """
    at = tags.index(tag) if tag in tags else 0
    first = max(min(at - most // 2, len(tags) - most), 0)
    return tags[first : first + most]


def _water(found: PlannedNight) -> tuple[tuple[int, int], ...]:
    """The hours of licence and tariff, where the field names any."""
    return found.asked.water if found.field.tariff or found.field.licence.hours else ()


def _spans(found: PlannedNight, tag: str) -> list[tuple[int, int, str]]:
    """What a machine does from when to when, what stands over other things last."""
    night = found.found
    return [
        *((run.starts, run.ends, RUNS) for run in found.running if run.tag == tag),
        *((wait.begins, wait.ends, WAITS) for wait in night.waits if wait.tag == tag),
        *((one.moves, one.moves + one.move, MOVES) for one in night.of(tag)),
        *((one.starts, one.ends, RUNS) for one in night.of(tag)),
    ]


def _hours(found: PlannedNight, begins: int, ends: int, room: int) -> str:
    """The hours over the line, as many as there is room for."""
    step = next((one for one in (1, 2, 3, 6, 12, 24) if (ends - begins) / 3600 / one * 4 <= room), 24) * 3600
    line = [" "] * room
    first = datetime.fromtimestamp(begins, found.zone).replace(minute=0, second=0, microsecond=0)
    at = round(first.timestamp())
    while at < ends:
        place = (at - begins) * room // (ends - begins)
        text = f"{datetime.fromtimestamp(at, found.zone):%H}"
        if at >= begins and place + 2 <= room and (datetime.fromtimestamp(at, found.zone).hour * 3600) % step == 0:
            line[place : place + 2] = text
        at += 3600
    return " " * LABEL + "".join(line)

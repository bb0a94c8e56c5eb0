"""The time line of a night: one line for the hours, the dark, and each machine; a figure is the lane that it runs.

`━` runs, `▒` is moved, `·` waits, `░` dark.
"""

from __future__ import annotations

from datetime import datetime

from reelcare.core.text import _
from reelcare.register.views.night import PlannedNight

RUNS, MOVES, WAITS, DARK = "━", "▒", "·", "░"
LABEL = 9


def time_lines(found: PlannedNight, width: int) -> list[str]:
    """The lines, each as wide as there is room."""
    room = max(width - LABEL - 1, 12)
    begins = found.asked.begins
    ends = max([found.found.last, *(one.ends for one in found.running), begins + 3600])
    ends = min(ends + 1800, found.asked.ends) if found.found.sets else found.asked.ends

    def cell(at: int) -> int:
        return min(max((at - begins) * room // (ends - begins), 0), room)

    def paint(line: list[str], begin: int, end: int, sign: str) -> None:
        for place in range(cell(begin), cell(end)):
            line[place] = sign

    lines = [_hours(found, begins, ends, room)]
    if found.asked.dark:
        dark = [" "] * room
        for begin, end in found.asked.dark:
            paint(dark, begin, end, DARK)
        lines.append(_("dark").ljust(LABEL) + "".join(dark))
    tags = [one.tag for one in found.asked.rigs] + [one.tag for one in found.running]
    for tag in sorted({one for one in tags if found.tag in ("", one)}):
        line = [" "] * room
        for begin, end, sign in _spans(found, tag):
            paint(line, begin, end, sign)
        for one in found.found.of(tag):
            name, first = f" {one.lane.number} ", cell(one.starts) + 1
            if first + len(name) < cell(one.ends):
                line[first : first + len(name)] = name
        lines.append(f"{tag[: LABEL - 1]:<{LABEL}}" + "".join(line))
    return lines


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

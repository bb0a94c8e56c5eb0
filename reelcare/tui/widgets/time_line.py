"""Time as a line of characters: weeks across, the spread of a forecast drawn, overdue at the left edge."""

from __future__ import annotations

from datetime import date

from reelcare.core.upkeep.forecast import Forecast


def time_line(ahead: Forecast | None, state: str, today: date, width: int, weeks: int = 26) -> str:
    """One item's line.

    `◀` at the left edge is past due, `─` runs from early to late, `◆` is the likely day, `▶` lies beyond the edge.

    >>> time_line(Forecast(date(2026, 5, 8), date(2026, 5, 15), date(2026, 5, 29)), "ok", date(2026, 5, 1), 10, 5)
    '··─◆────··'
    """
    if state in ("overdue", "due"):
        return ("◀" if state == "overdue" else "◆") + "·" * (width - 1)
    if ahead is None:
        return "?" + "·" * (width - 1)
    places = [_place(day, today, width, weeks) for day in (ahead.early, ahead.likely, ahead.late)]
    early, likely, late = (width if place is None else place for place in places)
    line = ["·"] * width
    for place in range(early, min(late + 1, width)):
        line[place] = "─"
    if likely < width:
        line[likely] = "◆"
    elif early >= width:
        line[-1] = "▶"
    return "".join(line)


def _place(day: date | None, today: date, width: int, weeks: int) -> int | None:
    if day is None:
        return None
    place = (day - today).days * width // (weeks * 7)
    return max(place, 0)


def scale(today: date, width: int, weeks: int = 26) -> str:
    """The months over the lines.

    >>> scale(date(2026, 5, 1), 20, 9)
    'May       Jun      J'
    """
    line = [" "] * width
    last = ""
    for place in range(width):
        day = date.fromordinal(today.toordinal() + place * weeks * 7 // width)
        name = f"{day:%b}"
        if name != last:
            for offset, sign in enumerate(name):
                if place + offset < width:
                    line[place + offset] = sign
            last = name
    return "".join(line)

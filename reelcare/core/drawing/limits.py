"""Limited figures as bars of which one upright line is the limit of all: full to what is likely, light to the worst.

The rules of this file: every limit is 100 %, whatever it measures, and stands in the same column of each row; what
crosses it is over. A bar that is longer than there is room for ends in a sign that points out of the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.sheet_words import limit_text, percent_text
from reelcare.core.settings.warning_codes import LABELS
from reelcare.core.text import _

BAR, WORST, LIMIT, NAME, VALUE, OVER = "bar", "worst", "limit", "name", "value", "over"
"""Tags: what is likely, what it may come to, the line of the limit, name, figures, figures past their limit."""
SHORTEST, LONGEST = 8, 40
PAST = 3
"""The room past the limit is the room up to it divided by this."""
BEYOND = "►"


@dataclass(frozen=True, slots=True)
class LimitBar:
    """A limited figure: its name, what it likely is and its worst in percent of the limit, these in words, and all of
    it in words where there is room."""

    name: str
    percent: float
    worst: float
    short: str
    long: str = ""

    @property
    def over(self) -> bool:
        """Whether what is likely is past the limit."""
        return self.percent > 100 + 1e-9


def draw(bars: Sequence[LimitBar], *, width: int = 60) -> Picture:
    """One row for each figure, its words at the right.

    >>> print(draw([LimitBar("pull", 50, 125, "50 %"), LimitBar("coils", 110, 300, "110 %")], width=23).text())
    pull  ████░░░░│░░ 50 %
    coils ████████│█► 110 %
    """
    names = max((len(one.name) for one in bars), default=0)
    long = max((len(one.long) for one in bars), default=0)
    told = [one.long or one.short if long and width - names - long - 2 >= 2 * SHORTEST else one.short for one in bars]
    names = min(names, max(8, width // 2))
    value = max((len(one) for one in told), default=0)
    room = min(LONGEST, max(SHORTEST, width - names - value - 2))
    limit = max(1, (room - 1) * PAST // (PAST + 1) + (1 if room < 12 else 0))
    canvas = Canvas(max(width, names + room + value + 2), len(bars))
    for row, one in enumerate(bars):
        canvas.put(0, row, one.name if len(one.name) <= names else one.name[: names - 1] + "…", NAME)
        _bar(canvas, names + 1, row, limit, room, one)
        canvas.put(names + room + 2, row, told[row], OVER if one.over else VALUE)
    return canvas.picture()


def _bar(canvas: Canvas, x: int, row: int, limit: int, room: int, one: LimitBar) -> None:
    """A bar, and the limit's column at a cell that no bar covers."""
    full, light = (_cells(part, limit) for part in (one.percent, max(one.worst, one.percent)))
    for cell in range(min(light, room - 1)):
        canvas.put(
            x + cell + (1 if cell >= limit else 0), row, "█" if cell < full else "░", BAR if cell < full else WORST
        )
    canvas.put(x + limit, row, "│", LIMIT)
    if light > room - 1:
        canvas.put(x + room - 1, row, BEYOND, OVER if full > room - 1 else WORST)


def _cells(percent: float, limit: int) -> int:
    """Cells for a percentage; never up to the limit where it is not reached, never short of it where it is passed."""
    cells = round(max(0.0, percent) / 100 * limit)
    return max(cells, limit + 1) if percent > 100 + 1e-9 else min(cells, limit)


def bars_of(setting: Setting, system: units.System) -> list[LimitBar]:
    """Every limited figure as a bar, the tightest first; those that only warn are after those that decide."""
    found = []
    for one in sorted(setting.limits, key=lambda one: (one.margin >= 0 and not one.decides, one.margin)):
        likely, _worst, limit = limit_text(one, system, worst=False)
        short = percent_text(one.percent)
        long = f"{short:>5}  {likely} ({limit})"
        found.append(LimitBar(_(LABELS[one.code]), one.percent, one.worst_percent, short, long))
    return found


def in_words(bars: Sequence[LimitBar]) -> str:
    """The figures in a line, for those who do not see the bars.

    >>> in_words([LimitBar("pull", 50, 125, "50 %"), LimitBar("coils", 110, 110, "110 %")])
    'pull 50 %, worst 125 %; coils 110 %'
    """
    return "; ".join(
        one.name
        + " "
        + (
            one.short
            if one.worst <= one.percent
            else _("{likely}, worst {worst}", likely=one.short, worst=percent_text(one.worst))
        )
        for one in bars
    )

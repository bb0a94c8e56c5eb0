"""Limited figures as bars of which one upright line is the limit of all: full to what is likely, light to the worst;
and one reading on the scale of its own limits.

The rules of this file: every limit is 100 %, whatever it measures, and stands in the same column of each row; what
crosses it is over. A bar that is longer than there is room for ends in a sign that points out of the picture.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.checks.reading_scale import ReadingScale
from reelcare.core.drawing.canvas import Canvas, Picture, cut
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.sheet_words import limit_text, percent_text
from reelcare.core.settings.warning_codes import CODES
from reelcare.core.text import _, localized

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
        canvas.put(0, row, cut(one.name, names), NAME)
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
        found.append(LimitBar(_(CODES[one.code].label), one.percent, one.worst_percent, short, long))
    return found


FAR = 3
"""So many times what is right, a limit is off the scale and told in words alone."""
RIGHT, NEVER, READ, WRONG = "right", "never", "read", "read wrong"
"""Tags of a scale: where right lies, what must never be, what is read and right, and what is read and is not."""


def draw_scale(scale: ReadingScale, *, width: int = 40) -> Picture:
    """Figures, the line with its limits, and what is read: three rows.

    >>> print(draw_scale(ReadingScale("bar", 5.9, 7.2, None, 10.0, 6.5, True), width=32).text())
    0        5        10      15 bar
    ┼────────┼─[═]────║────────┼
                ▴
    """
    room = max(SHORTEST, width - len(scale.unit) - 1)
    top, step = _top(scale, room)
    line = _ScaleLine(scale, room, top)
    canvas = Canvas(max(width, room + len(scale.unit) + 1), 3)
    canvas.put(0, 1, "─" * room, NAME)
    for tick in range(round(top / step) + 1):
        text, x = localized(f"{tick * step:g}"), line.cell(tick * step)
        canvas.put(min(x, room - len(text)) if tick else 0, 0, text, NAME)
        canvas.put(x, 1, "┼", NAME)
    canvas.put(room + 1, 0, scale.unit, NAME)
    canvas.put(line.low, 1, "═" * (line.high - line.low + 1), RIGHT)
    for x, sign, tag in line.marks():
        canvas.put(x, 1, sign, tag)
    if scale.reading is not None:
        is_beyond = scale.reading > top
        canvas.put(line.read(), 2, BEYOND if is_beyond else "▴", READ if scale.is_right else WRONG)
    return canvas.picture()


@dataclass(frozen=True, slots=True)
class _ScaleLine:
    """The cells of a scale: its ends of right, and where each figure stands."""

    scale: ReadingScale
    room: int
    top: float

    def cell(self, value: float) -> int:
        """The cell of a figure, on the line."""
        return min(self.room - 1, max(0, round(value / self.top * (self.room - 1))))

    @property
    def low(self) -> int:
        """The first cell that is right."""
        return 0 if self.scale.least is None else min(max(self.cell(self.scale.least), 1), self.room - 4)

    @property
    def high(self) -> int:
        """The last cell that is right; a cell between it and the first one is always there."""
        most = self.room - 1 if self.scale.most is None else min(self.cell(self.scale.most), self.room - 2)
        return max(most, self.low + 2)

    @property
    def never_high(self) -> int | None:
        """The cell past which a reading must never be."""
        most = self.scale.never_most
        if most is None or most > self.top:
            return None
        return self.high if most == self.scale.most else min(self.room - 1, max(self.high + 1, self.cell(most)))

    def marks(self) -> Iterator[tuple[int, str, str]]:
        """The signs of the limits, with cell and tag."""
        scale = self.scale
        if scale.least is not None:
            yield self.low, "[", RIGHT
        if scale.most is not None:
            yield self.high, "]", RIGHT
        if self.never_high is not None:
            yield self.never_high, "║", NEVER
        if scale.never_least is not None:
            yield min(self.low, self.cell(scale.never_least)), "║", NEVER

    def read(self) -> int:
        """The cell of what is read: between the limits only where it was judged right, past them only where not."""
        scale, value = self.scale, self.scale.reading or 0.0
        x = self.cell(value)
        if scale.is_right:
            return min(max(x, self.low), self.high)
        if scale.never_most is not None and value > scale.never_most and self.never_high is not None:
            return max(x, self.never_high + 1)
        if scale.most is not None and value > scale.most:
            past = max(x, self.high + 1)
            return past if self.never_high in (None, self.high) else min(past, self.never_high or past)
        return min(x, max(self.low - 1, 0)) if scale.least is not None and value < scale.least else x


def _top(scale: ReadingScale, room: int) -> tuple[float, float]:
    """The last figure of a scale and the step of its figures, which do not touch: the limits take most of it, and what
    must never be stands on it unless it is `FAR` times as much as what is right."""
    right = max((x for x in (scale.least, scale.most) if x is not None), default=0.0)
    limits = [x for x in scale.bounds if not right or x <= FAR * right]
    highest = max([*limits, 1e-9])
    most = max(highest, min(scale.reading or 0.0, 2 * highest)) * 1.2
    rough = max(most / max(2, room // 6), 0.0 if scale.unit else 1.0)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(one * power for one in (1, 2, 5, 10) if one * power >= rough * (1 - 1e-9))
    return math.ceil(most / step - 1e-9) * step, step

"""A control chart drawn with characters: runs from left to right, what is usual as a line, and where a drift began.

The rules of this file: values in percent, shown as off what is usual; the newest runs are shown where not all fit. A
run stands at its value, and the average of the runs as a line of its own; limits are those of the average.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reelcare.core.drawing.canvas import Canvas, Picture
from reelcare.core.evidence.charts import Chart
from reelcare.core.text import localized, plural

USUAL, LIMIT, RUN, AVERAGE, ALARM, BEGAN, SCALE = "usual", "limit", "run", "average", "alarm", "began", "scale"
"""Tags: what is usual, limits, a run, the average, a run with an alarm, where the drift began, the scale."""
SIGN = {RUN: "·", AVERAGE: "─", ALARM: "◆", BEGAN: "┆", USUAL: "╌", LIMIT: "┄"}
MARGIN = 8


def draw(chart: Chart, *, width: int = 60, height: int = 12) -> Picture:
    """The chart, as wide and high as asked; the runs alone while nothing is learnt."""
    canvas = Canvas(max(width, MARGIN + 8), max(height, 4))
    room = canvas.width - MARGIN
    shown = list(chart.points[-room:])
    if not shown:
        return canvas.picture()
    apart = max(1, min(3, room // len(shown)))
    skipped = len(chart.points) - len(shown)
    low, high = _span(chart, shown)
    top = canvas.height - 1

    def row(value: float) -> int:
        return round(top - (value - low) / (high - low) * top)

    if chart.centre is not None and chart.spread is not None:
        edge = chart.average_limit * chart.spread * chart.widening
        for value, sign in ((chart.centre, USUAL), (chart.centre + edge, LIMIT), (chart.centre - edge, LIMIT)):
            canvas.put(MARGIN, row(value), SIGN[sign] * room, sign)
    if chart.change is not None and chart.change.at >= skipped:
        for y in range(canvas.height):
            canvas.put(MARGIN + (chart.change.at - skipped) * apart, y, SIGN[BEGAN], BEGAN)
    for place, point in enumerate(shown):
        x = MARGIN + place * apart
        canvas.put(x, min(top, max(0, row(point.value))), SIGN[RUN], RUN)
        if point.score is not None and chart.centre is not None and chart.spread is not None:
            at = min(top, max(0, row(chart.centre + point.average * chart.spread * chart.widening)))
            canvas.put(x, at, SIGN[ALARM if point.alarm else AVERAGE], ALARM if point.alarm else AVERAGE)
    for value in (low, *([] if chart.centre is None else [chart.centre]), high):
        canvas.put(0, row(value), localized(f"{value - (chart.centre or 0.0):+6.1f}%"), SCALE)
    return canvas.picture()


def _span(chart: Chart, shown: Sequence[object]) -> tuple[float, float]:
    values = [point.value for point in chart.points[-len(shown) :]]
    if chart.centre is not None and chart.spread is not None:
        # a strange run does not flatten all others
        reach = 4 * chart.spread
        values = [min(max(one, chart.centre - reach), chart.centre + reach) for one in values]
        edge = 1.2 * chart.average_limit * chart.spread * chart.widening
        values += [chart.centre - edge, chart.centre + edge]
    low, high = min(values), max(values)
    return (low, high) if high - low > 1e-9 else (low - 1, high + 1)


def in_words(chart: Chart) -> str:
    """The chart as one line.

    >>> from reelcare.core.evidence.charts import chart_of
    >>> in_words(chart_of([[1.0, 2.0]]))
    '2 runs, nothing learnt yet'
    """
    if chart.centre is None or chart.spread is None:
        return plural("{n} run, nothing learnt yet", "{n} runs, nothing learnt yet", len(chart.points))
    last = chart.points[-1].average * chart.spread * chart.widening if chart.points else 0.0
    edge = chart.average_limit * chart.spread * chart.widening
    text = plural(
        "{n} run; average {last:+.1f} % off what is usual, limits {edge:.1f} % either way",
        "{n} runs; average {last:+.1f} % off what is usual, limits {edge:.1f} % either way",
        len(chart.points), last=last, edge=edge,
    )  # fmt: skip
    if chart.change is not None and math.isfinite(chart.change.size):
        ago = len(chart.points) - chart.change.at
        text += "; " + plural("began {n} run ago", "began {n} runs ago", ago)
    return text

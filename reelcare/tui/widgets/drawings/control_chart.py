"""A control chart and a curve of failures on the screen."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import ClassVar

from reelcare.core.drawing import control, curve
from reelcare.core.drawing.canvas import Picture
from reelcare.core.evidence.charts import Chart, chart_of
from reelcare.core.evidence.failures.counts import Mean
from reelcare.tui.widgets.drawings.drawn import Drawn


class ControlChart(Drawn):
    """One signal's chart; `follow` shows another."""

    LOOKS: ClassVar[dict[str, str]] = {
        control.USUAL: "ground",
        control.LIMIT: "warning",
        control.RUN: "part",
        control.AVERAGE: "water",
        control.ALARM: "bad",
        control.BEGAN: "mark",
        control.SCALE: "ground",
    }
    DEFAULT_CSS = """
    ControlChart { width: 1fr; height: 12; }
    """

    chart = chart_of([])

    def follow(self, chart: Chart) -> None:
        """Show another chart."""
        self.chart = chart
        self.draw_again()

    def picture(self, width: int, height: int) -> Picture:
        """The chart, leaving room for its words."""
        return control.draw(self.chart, width=width, height=max(4, height - len(self.words(height))))

    def words(self, room: int) -> list[tuple[str, str]]:
        """How far off, and the limits."""
        return [(line, "caption") for line in textwrap.wrap(control.in_words(self.chart), max(self.size.width, 20))]


class FailureCurve(Drawn):
    """The mean number of failures against age; `follow` shows another."""

    LOOKS: ClassVar[dict[str, str]] = {curve.MEAN: "water", curve.SPAN: "ground", curve.SCALE: "ground"}
    DEFAULT_CSS = """
    FailureCurve { width: 1fr; height: 12; }
    """

    means: Sequence[Mean] = ()
    watched = 0.0
    unit = "h"

    def follow(self, means: Sequence[Mean], watched: float, unit: str) -> None:
        """Show another part's failures."""
        self.means, self.watched, self.unit = means, watched, unit
        self.draw_again()

    def picture(self, width: int, height: int) -> Picture:
        """The steps, leaving room for their words."""
        return curve.draw(self.means, self.watched, unit=self.unit, width=width, height=max(4, height - 1))

    def words(self, room: int) -> list[tuple[str, str]]:
        """The first and the last step."""
        return [(curve.in_words(self.means, self.unit), "caption")]

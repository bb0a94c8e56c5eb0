"""What the faults tell of each part over all machines: how often, whether it gets worse, and which interval pays.

The rules of this file: every figure stands with what it rests on, in the sentences of the core.
"""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.evidence.exposure import Exposure, Unit
from reelcare.core.evidence.failure_words import Told, sentences, tell
from reelcare.core.wording import count
from reelcare.register.views import evidence
from reelcare.tui.gathering import GatheringScreen
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.drawings.control_chart import FailureCurve
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows


class Failures(GatheringScreen):
    """Parts that failed, the most often first."""

    CSS_PATH = "../signals.tcss"
    HELP = "A failure is a fault that held a machine or had to be fixed. A service or a repair of the part renews it."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("m", "metres", "Hours or metres", id="failures.metres", tooltip="What ages the part: hours or metres"),
        Binding("escape", "leave", "Back", id="failures.leave", tooltip="Back to where one came from"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.metres = False
        self.told: list[Told] = []

    def body(self) -> ComposeResult:
        """The list, the sentences, and the curve of the part under the cursor."""
        yield Rows(
            (
                Column("part", 14, 1, grows=True),
                Column("failures", 9, 1, right=True),
                Column("one in", 12, 1, right=True),
                Column("trend", 14, 2),
                Column("shape", 18, 3),
                Column("renew every", 12, 1, right=True),
            ),
            id="signals",
            empty="No failure is in the register.",
        )
        yield Static(id="sentences")
        yield FailureCurve(id="chart")

    def page(self) -> str:
        """What ages the parts."""
        return f"Failures  by {'metres' if self.metres else 'hours'}"

    def counts(self) -> Content:
        """How many failures."""
        return said(f"{count(sum(one.failures for one in self.told), 'failure')} on {count(len(self.told), 'part')}")

    def fill(self) -> None:
        """Read the exposures and show every part that failed."""
        unit: Unit = "metres" if self.metres else "hours"
        self.gather(
            lambda register, progress: evidence.exposures_of(register, unit=unit, progress=progress), self._show
        )

    def _show(self, found: dict[str, list[tuple[str, Exposure]]]) -> None:
        unit = "m" if self.metres else "h"
        told = [tell(part, [one for _, one in exposed], unit=unit) for part, exposed in found.items()]
        self.told = sorted((one for one in told if one.failures), key=lambda one: -one.failures)
        self.query_one(Rows).show([_row(one) for one in self.told])
        self.refresh_head()
        self.detail()

    def detail(self) -> None:
        """The part under the cursor, in words."""
        place = self.query_one(Rows).cursor
        if place >= len(self.told):
            self.query_one("#sentences", Static).update("")
            return
        one = self.told[place]
        self.query_one("#sentences", Static).update(lines(*(said(text) for text in sentences(one))))
        watched = one.watched / max(one.machines, 1)
        self.query_one(FailureCurve).follow(one.curve, max([watched, *(point.age for point in one.curve)]), one.unit)

    def action_metres(self) -> None:
        """Age by metres instead of hours, or back."""
        self.metres = not self.metres
        self.fill()


def _row(one: Told) -> Row:
    mean = one.mean_time[0]
    sure = [trend for trend in one.trends if trend.sure]
    trend = (
        "tests disagree" if one.disagree else ("worsening" if sure[0].worse else "improving") if sure else "none seen"
    )
    fit = one.weibull
    shape = "" if fit is None else f"{fit.shape:.1f} ({fit.shape_span[0]:.1f} to {fit.shape_span[1]:.1f})"
    renewal = one.renewal
    every = "" if renewal is None else "never" if renewal.time is None else f"{renewal.time:.0f} {one.unit}"
    return (
        Cell(one.part, "part"),
        Cell(str(one.failures)),
        Cell("" if mean is None else f"{mean:.0f} {one.unit}"),
        Cell(trend if one.trends else ""),
        Cell(shape),
        Cell(every),
    )

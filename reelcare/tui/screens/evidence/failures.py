"""What the faults tell of each part over all machines: how often, whether it gets worse, and which interval pays.

The rules of this file: every figure stands with what it rests on, in the sentences of the core.
"""

from __future__ import annotations

import math
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import units
from reelcare.core.evidence.failures.counts import about
from reelcare.core.evidence.failures.exposure import Exposure, Unit
from reelcare.core.evidence.failures.words import Costs, FailureFigures, sentences, tell_each
from reelcare.core.text import _, localized, mark, plural, typed_figure
from reelcare.register.views import evidence
from reelcare.tui.keys import bind
from reelcare.tui.lists import GatheringScreen
from reelcare.tui.requests import AskText
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.drawings.control_chart import FailureCurve
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows


class Failures(GatheringScreen):
    """Parts that failed, the most often first."""

    CSS_PATH = "../signals.tcss"
    HELP = mark(
        "A failure is a fault that held a machine or had to be fixed, except a hold that a right "
        "answer ended. After a service or a repair the part counts as new."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("failures.metres", "m", mark("Hours or metres"), mark("What ages the part: hours or metres")),
        bind("failures.costs", "c", mark("Costs"), mark("What renewals cost, to see when renewing pays")),
        bind("failures.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.unit: Unit = "hours"
        self.costs: Costs | None = None
        self.found: dict[str, list[Exposure]] = {}
        self.told: list[FailureFigures] = []

    def body(self) -> ComposeResult:
        """The list, the sentences, and the curve of the part under the cursor."""
        yield Rows(
            (
                Column(mark("part"), 14, 1, grows=True),
                Column(mark("failures"), 9, 1, right=True),
                Column(mark("one in"), 24, 2),
                Column(mark("trend"), 14, 1),
                Column(mark("shape"), 18, 3),
                Column(mark("renew every"), 24, 3),
            ),
            id="signals",
            empty=mark("No failure is in the register."),
        )
        yield Static(id="sentences")
        curve = FailureCurve(id="chart")
        curve.display = False  # until there is a failure
        yield curve

    def page(self) -> str:
        """What ages the parts."""
        return _("Failures  by metres") if self.unit == "metres" else _("Failures  by hours")

    def counts(self) -> Content:
        """How many failures."""
        return said(
            _(
                "{failures} on {parts}",
                failures=plural("{n} failure", "{n} failures", sum(one.failures for one in self.told)),
                parts=plural("{n} part", "{n} parts", len(self.told)),
            )
        )

    def fill(self) -> None:
        """Read the exposures and show every part that failed."""
        with self.follow():
            unit = self.unit
            self.gather(
                lambda register, progress: evidence.exposures_of(register, unit=unit, progress=progress), self._show
            )

    def _show(self, found: dict[str, list[Exposure]]) -> None:
        self.found = found
        self.told = tell_each(found, unit=self.unit, costs=self.costs, system=self.preferences.system)
        self.query_one(Rows).show([_row(one) for one in self.told])
        self.refresh_head()
        self.detail()

    def row_id(self, place: int) -> str:
        """The part."""
        return self.told[place].part

    def detail(self) -> None:
        """The part under the cursor, in words."""
        one = self.under_cursor(self.told)
        self.query_one(FailureCurve).display = one is not None
        if one is None:
            self.query_one("#sentences", Static).update("")
            return
        self.query_one("#sentences", Static).update(lines(*sentences(one)))
        watched = one.watched / max(one.machines, 1)
        self.query_one(FailureCurve).follow(one.curve, max([watched, *(point.age for point in one.curve)]), one.unit)

    @work
    async def action_costs(self) -> None:
        """Ask what planned and unplanned renewals cost; nothing at all takes the costs away."""
        says = _("Planned and unplanned, in one currency, as in 300 1200. They are not kept.")
        value = "" if self.costs is None else localized(f"{self.costs[0]:g} {self.costs[1]:g}")
        text = await self.ask(AskText(_("What does a renewal cost?"), says, value, needed=False))
        if text is None:
            return
        try:
            self.costs = read_costs(text) if text.strip() else None
        except units.UnitsError as why:
            self.host.tell(str(why), bad=True)
            return
        self._show(self.found)

    def action_metres(self) -> None:
        """Age by metres instead of hours, or back."""
        self.unit = "hours" if self.unit == "metres" else "metres"
        self.fill()


def read_costs(text: str) -> Costs:
    """Two costs as they were typed. Raises UnitsError.

    >>> read_costs("300 1200"), read_costs("300; 1200.50")
    ((300.0, 1200.0), (300.0, 1200.5))
    """
    found = [units.number(typed_figure(one)) for one in text.replace(";", " ").split()]
    if len(found) != 2 or min(found) <= 0:
        raise units.UnitsError(_("{text}: give two costs above 0, as in 300 1200", text=text))
    return found[0], found[1]


def _row(one: FailureFigures) -> Row:
    mean, low, high = one.mean_time
    law, fit, renewal = one.power, one.weibull, one.renewal
    trend = "" if law is None else {True: _("worsening"), False: _("improving"), None: _("none shows")}[law.worse]
    shape = "" if fit is None else f"{about(fit.shape)} {_span(*fit.shape_span)}"
    every = ""
    if renewal is not None and renewal.sure:
        every = f"{about(renewal.time)} {one.unit} {_span(*renewal.times)}"
    return (
        Cell(_(one.part), "part"),
        Cell(str(one.failures)),
        Cell("" if mean is None else f"{about(mean)} {one.unit} {_span(low, high)}"),
        Cell(trend),
        Cell(shape),
        Cell(every),
    )


def _span(low: float, high: float) -> str:
    if math.isinf(high):
        return _("({low} or more)", low=about(low))
    return _("({low} to {high})", low=about(low), high=about(high))

"""How checks were answered, for the supervisor: each person beside all, and readings that never change.

The rules of this file: figures stand with what is usual and with how sure they are; no colour and no word accuses.
"""

from __future__ import annotations

from datetime import timedelta
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.checks.quality import Person, Share, people, same_readings
from reelcare.core.text import _
from reelcare.register.views import marks, ungated
from reelcare.register.views.ungated import ungated_text
from reelcare.tui.base import ListScreen
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

SPANS = (4, 13, 52)
"""Weeks looked back: a month, a quarter, a year."""


class Marks(ListScreen):
    """Marks on the checks of a time."""

    CSS_PATH = "../weeks.tcss"
    HELP = "A fast answer is not by itself a bad one: published work found the most accurate among the fastest."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("w", "span", "Weeks", id="marks.span", tooltip="A month, a quarter, a year back"),
        Binding("escape", "leave", "Back", id="marks.leave", tooltip="Back to the yard"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.span = 1

    def body(self) -> ComposeResult:
        """People, then readings that stay the same."""
        yield Rows(
            (
                Column("who", 14, 1, grows=True),
                Column("checks", 7, 1, right=True),
                Column("found something", 16, 1, right=True),
                Column("that is", 12, 2, right=True),
                Column("under 1 s", 14, 1, right=True),
                Column("middle", 8, 3, right=True),
            ),
            id="weeks",
            empty="No check was ended in this time.",
        )
        yield Static(id="visit")

    def page(self) -> str:
        """Over which time."""
        return f"Marks  the last {SPANS[self.span]} weeks"

    def counts(self) -> Content:
        """What the figures are, and what they are not."""
        return said("How often a check found anything, and how many answers took under 1 s. It accuses nobody.")

    def fill(self) -> None:
        """Gather the checks and show them."""
        now = self.now()
        since = now - timedelta(weeks=SPANS[self.span])
        checks = marks.checks_between(self.register, since, now)
        without = ungated.between(self.register, since, now)
        everyone, each = people(checks)
        self.query_one(Rows).show([_row(one) for one in (everyone, *each)] if checks else [])
        told = [
            f"{self.register.card(one.machine).tag}: {one.question} read as {one.seen} in {one.checks} checks in a row"
            for one in same_readings(checks)[:4]
        ]
        told = told or [_("No reading stays the same.")]
        told += [ungated_text(self.register.card(one.machine).tag, one) for one in without[:4]]
        self.query_one("#visit", Static).update(lines(*(said(one) for one in told)))
        self.refresh_head()

    def action_span(self) -> None:
        """Another time."""
        self.span = (self.span + 1) % len(SPANS)
        self.fill()


def _row(one: Person) -> Row:
    return (
        Cell(one.name, "part"),
        Cell(str(one.checks)),
        Cell(f"{one.found.count} of {one.found.of}"),
        Cell(_span(one.found)),
        Cell(f"{one.fast.count} of {one.fast.of}"),
        Cell("" if one.middle is None else f"{one.middle:.0f} s"),
    )


def _span(share: Share) -> str:
    return "" if share.span is None else f"{100 * share.span[0]:.0f} to {100 * share.span[1]:.0f} %"

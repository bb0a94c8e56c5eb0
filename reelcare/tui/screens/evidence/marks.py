"""How checks were answered, for the supervisor: each person beside all, and readings that never change.

The rules of this file: figures stand with what is usual and with how sure they are; no colour and no word accuses.
"""

from __future__ import annotations

from datetime import timedelta
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.checks.quality import PersonMarks, Share, people, same_readings
from reelcare.core.text import _, localized, mark
from reelcare.register.views import marks, ungated
from reelcare.register.views.ungated import ungated_text
from reelcare.tui.keys import bind
from reelcare.tui.lists import GatheringScreen
from reelcare.tui.text import lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

SPANS = (4, 13, 52)
"""Weeks looked back: a month, a quarter, a year."""


class Marks(GatheringScreen):
    """Marks on the checks of a time."""

    CSS_PATH = "../weeks.tcss"
    HELP = mark(
        "A fast answer is not always a bad one: published work found the most accurate among the fastest. Looked at "
        "early: the last gate within 10 minutes of the water, too soon for much to show."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("marks.span", "w", mark("Weeks"), mark("A month, three months, a year back")),
        bind("marks.leave", "escape", mark("Back"), mark("Back to the yard")),
    ]

    span = 1

    def body(self) -> ComposeResult:
        """People, then readings that stay the same."""
        yield Rows(
            (
                Column(mark("who"), 14, 1, grows=True),
                Column(mark("checks"), 7, 1, right=True),
                Column(mark("found something"), 16, 1, right=True),
                Column(mark("share"), 12, 2, right=True),
                Column(mark("under 1 s"), 14, 1, right=True),
                Column(mark("looked at early"), 16, 1, right=True),
                Column(mark("median"), 8, 3, right=True),
            ),
            id="weeks",
            empty=mark("No check was ended in this time."),
        )
        yield Static(id="visit")

    def page(self) -> str:
        """Over which time."""
        return _("Marks  the last {n} weeks", n=SPANS[self.span])

    def counts(self) -> Content:
        """What the figures are, and what they are not."""
        return said(_("How often a check found anything, and how many answers took under 1 s: a hint, not proof."))

    def fill(self) -> None:
        """Gather the checks and show them."""
        with self.follow():
            now = self.now()
            since = now - timedelta(weeks=SPANS[self.span])
            checks = marks.checks_between(self.register, since, now)
            without = ungated.between(self.register, since, now)
            everyone, each = people(checks)
            self.query_one(Rows).show(
                [_row(_("all"), everyone), *(_row(one.name, one) for one in each)] if checks else []
            )
            told = [
                _(
                    "{tag}: {question} read as {seen} in {checks} checks in a row",
                    tag=self.register.card(one.machine).tag,
                    question=one.question,
                    seen=localized(one.seen),
                    checks=one.checks,
                )
                for one in same_readings(checks)[:4]
            ]
            told = told or [_("No repeated readings.")]
            told += [ungated_text(self.register.card(one.machine).tag, one) for one in without[:4]]
            self.query_one("#visit", Static).update(lines(*told))
            self.refresh_head()

    def action_span(self) -> None:
        """Another time."""
        self.span = (self.span + 1) % len(SPANS)
        self.fill()


def _row(name: str, one: PersonMarks) -> Row:
    return (
        Cell(name, "part"),
        Cell(str(one.checks)),
        Cell(_("{count} of {of}", count=one.found.count, of=one.found.of)),
        Cell(_span(one.found)),
        Cell(_("{count} of {of}", count=one.fast.count, of=one.fast.of)),
        Cell(_("{count} of {of}", count=one.early.count, of=one.early.of)),
        Cell("" if one.middle is None else f"{one.middle:.0f} s"),
    )


def _span(share: Share) -> str:
    return (
        "" if share.span is None else _("{low:.0f} to {high:.0f} %", low=100 * share.span[0], high=100 * share.span[1])
    )

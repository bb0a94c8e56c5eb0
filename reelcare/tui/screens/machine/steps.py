"""Steps: the stops, which are always open, then the safe way to a goal, and where the parts stand.

The rules of this file: the model of the machine judges, never this screen. What was answered in walk-rounds stands
there from the start; what is not known can be looked at and said. Nothing is written down: a walk-round does that.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from reelcare.core.machine.model import Activity, Goal, MachineModel, Part
from reelcare.core.text import _, mark
from reelcare.core.wording import Words, cells
from reelcare.core.wording import said as in_language
from reelcare.register.views import previous_answers
from reelcare.tui.base import BaseScreen
from reelcare.tui.keys import bind
from reelcare.tui.requests import OpenSteps
from reelcare.tui.text import join, lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

SHORT = 24
"""Cells of a column of short titles."""


class StepRows(Rows):
    """The steps; Enter does one."""

    marks_always = False

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("steps.do", "enter", mark("Do this"), mark("Does the step, or says why not"), action="choose"),
    ]

    @dataclass
    class PastEdge(Message):
        """The cursor was to go beyond the first (-1) or the last row (1)."""

        rows: StepRows
        way: int

    def action_move(self, by: int) -> None:
        """Move the cursor by rows; from the edge into the next list."""
        before = self.cursor
        super().action_move(by)
        if self.cursor == before:
            self.post_message(self.PastEdge(self, by))

    def action_edge(self, way: int) -> None:
        """Move the cursor to the first or last row, and no further."""
        super().action_move(way * self.count)


class PartRows(Rows):
    """The parts; Enter says another position of one."""

    marks_always = False

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("steps.say", "enter", mark("Change"), mark("Changes the position of the part"), action="choose"),
    ]


class Steps(BaseScreen):
    """What stops a machine, what may be done with it, and where its parts stand."""

    CSS_PATH = "../steps.tcss"
    HELP = mark("Enter on a step does it, or says why not; on a part (Tab), it changes the position.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("steps.goal", "g", mark("Goal"), mark("The safe way to the next goal")),
        bind("steps.all", "a", mark("All steps"), mark("Every step, or the way to the goal")),
        bind("steps.other", "tab", mark("Parts"), mark("From the steps to the parts, and back")),
        bind("steps.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]

    def __init__(self, request: OpenSteps, table: MachineModel) -> None:
        super().__init__()
        self.machine_id = request.machine
        self.table = table
        self._to_stops = request.stop
        self.told_at: dict[str, str] = {}
        """Where the parts stand as the entries tell it."""
        self.now_at: dict[str, str] = {}
        """Where they stand after what was done and said here."""
        self.goal = 0
        self.everything = False
        """Whether every step is shown, not only the way to the goal."""
        self.shown: list[Activity | Part] = []
        """What the list below the stops shows: activities, or parts that must be looked at before a way is known."""

    def key_name(self, binding: Binding) -> str:
        """The key of the other list names the one that it leads to."""
        leads_back = binding.id == "steps.other" and bool(self.query("#parts:focus"))
        return _("Steps") if leads_back else super().key_name(binding)

    def page(self) -> str:
        """The page, and the way that it shows."""
        return _("Steps")

    def body(self) -> ComposeResult:
        """The stops, then the way to the goal and the parts, and the answer below."""
        yield StepRows((), id="stops")
        with Horizontal(id="both"):
            yield StepRows((), id="doing", empty=mark("It is already so."))
            yield PartRows((), id="parts")
        yield Static(id="answer")
        yield Static(id="unseen")

    def on_mount(self) -> None:
        """Begin with what the entries say, at the stops where one came for them."""
        self._read_positions()
        self.query_one("#stops", Rows).styles.height = len(self.table.stops) + 1
        self.refresh_head()
        self.goal = list(self.table.goals).index("working on it") if self.held else 0
        self.fill()
        for rows in self.query(Rows):
            self.watch(rows, "cursor", self._detail, init=False)
            self.watch(rows, "has_focus", self._detail, init=False)
        self.action_stop_now() if self._to_stops else self.query_one("#doing", Rows).focus()

    def fill(self) -> None:
        """Show the lists again, the cursors where they were."""
        self.refresh_head()
        stops, doing, parts = (self.query_one(id, Rows) for id in ("#stops", "#doing", "#parts"))
        stops.set_columns((Column(mark("STOP NOW: any of these"), SHORT, 1), Column("", 30, 2, grows=True)))
        parts.set_columns((Column(mark("part"), 18, 1), Column(mark("stands"), 14, 1, grows=True)))
        stops.show([self._stop(one) for one in self.table.stops], keep=stops.cursor)
        self.shown = self._all() if self.everything else self._way()
        doing.set_columns(self._columns())
        doing.show([self._row(number, one) for number, one in enumerate(self.shown, 1)], keep=doing.cursor)
        parts.show([self._part(id) for id in self.table.parts], keep=parts.cursor)
        self._detail()

    def show_again(self) -> None:
        """A hold, an answer or a run that came meanwhile changes what may be done, and so does time: what hands move is
        not known for long."""
        self._read_positions()
        self.fill()

    def _read_positions(self) -> None:
        """Read where the parts stand; what was said or moved here stays as it is."""
        before = self.told_at
        self.told_at = previous_answers.positions(self.register, self.machine_id, self.table, self.now())
        here = {part: at for part, at in self.now_at.items() if at != before.get(part)}
        self.now_at = self.told_at | here

    @property
    def held(self) -> frozenset[str]:
        """The sides for which the machine is held by now: a walk-round that one came from can have held it."""
        assert self.seen is not None
        return frozenset(self.seen.standing.held_sides)

    # what the lists show

    def _all(self) -> list[Activity | Part]:
        return [one for one in self.table.activities.values() if not one.stop and not one.stands_for]

    def _way(self) -> list[Activity | Part]:
        """The steps to the goal; what must be looked at first, where no way is known."""
        way = self.table.way_to_goal(self._goal.id, self.now_at, held=self.held)
        return [*self.table.unknown(self.now_at)] if way is None else [*way]

    @property
    def _goal(self) -> Goal:
        return list(self.table.goals.values())[self.goal]

    def _columns(self) -> tuple[Column, ...]:
        if self.everything:
            possible = sum(isinstance(one, Activity) and self._allowed(one) for one in self.shown)
            head = _("all {of}: {n} possible now", of=len(self.shown), n=possible)
            return Column("", 2, 1), Column(head, max(SHORT, len(head)), 1), Column(mark("changes"), 20, 2, grows=True)
        to = _("way to: {goal}", goal=self._said(self._goal.short))
        return Column("", 2, 1, right=True), Column(to, max(SHORT, len(to)), 1), Column("", 16, 2, grows=True)

    def _stop(self, one: Activity) -> Row:
        clause = _first_clause(self._said(one.caution or {}))
        return Cell(self._said(one.short), "part"), Cell(clause, "warning", lambda size: _to_a_comma(clause, size))

    def _row(self, number: int, one: Activity | Part) -> Row:
        name = self._said(one.short)
        if isinstance(one, Part):
            return Cell("?", "warning"), Cell(name), Cell(_("look at it: {at}", at=self._said(one.at)), "warning")
        changes = self._changes(one)
        if self.everything:
            free = self._allowed(one)
            sign = Cell("✓", "good") if free else Cell("✗", "bad")
            return sign, Cell(name, "" if free else "faint"), Cell(changes, "faint")
        first = number == 1
        return Cell(str(number), "faint"), Cell(name, "part" if first else ""), Cell(changes, "" if first else "faint")

    def _changes(self, one: Activity) -> str:
        """What a step moves: `Drive → out`."""
        moved = ((self.table.parts[part], how.to) for part, how in one.changes.items() if part in self.table.parts)
        return ", ".join(f"{self._said(part.short)} → {self._said(part.positions[to])}" for part, to in moved)

    def _part(self, id: str) -> Row:
        part, where = self.table.parts[id], self.now_at.get(id)
        shown = self._said(part.positions[where]) if where else _("? not seen")
        return (Cell(self._said(part.short)), Cell(shown, "part" if where else "warning"))

    def _said(self, words: Words) -> str:
        return in_language(words, self.preferences.language)

    def _allowed(self, one: Activity) -> bool:
        return not self.table.in_the_way(one.id, self.now_at) and not one.barred(self.held)

    @property
    def step(self) -> Activity | Part | None:
        """The row under the cursor of the list that one works in."""
        if self.query_one("#stops", Rows).has_focus:
            return self.table.stops[self.query_one("#stops", Rows).cursor]
        if self.query_one("#parts", Rows).has_focus:
            return list(self.table.parts.values())[self.query_one("#parts", Rows).cursor]
        place = self.query_one("#doing", Rows).cursor
        return self.shown[place] if place < len(self.shown) else None

    # the answer

    def _detail(self) -> None:
        """Say of the row under the cursor whether it may be done now, and if not, what stands in the way."""
        one = self.step
        told = self._tell_look(one) if isinstance(one, Part) else self._tell_step(one) if one else []
        self.query_one("#answer", Static).update(lines(*told))
        self.query_one("#unseen", Static).update(self._unseen())

    def _tell_look(self, part: Part) -> list[Content]:
        where = join((f"{self._said(part.says)}: ", "bold"), self._said(part.at))
        if self.query_one("#parts", Rows).has_focus:
            return [where, said(_("Enter changes the position; Tab goes back to the steps."))]
        return [where, said(_("No safe way is known before this is seen: look at it, then Enter gives its position."))]

    def _tell_step(self, one: Activity) -> list[Content]:
        if self._allowed(one):
            may = _("may be done at any time") if one.stop else _("may be done now")
            told = [join(("✓ ", "bold $text-success"), (f"{self._said(one.says)}: {may}", "$text-success"))]
            if one.caution:
                caution = (_("CAUTION"), "bold $text-warning"), (f" {self._said(one.caution)}", "$text-warning")
                told.append(join(*caution))
            return told
        way = self.table.in_the_way(one.id, self.now_at)
        wrong = [self.table.tell(each) for each in way if each.found is not None]
        unseen = [self._said(self.table.parts[each.part].short) for each in way if each.found is None]
        if one.barred(self.held):
            wrong.insert(0, _("the machine is held"))
        if unseen:
            wrong.append(_("not seen yet (Tab): {parts}", parts=", ".join(unseen)))
        told = [join((_("✗ NOT NOW") + "  ", "bold $text-error"), ("; ".join(wrong), "$text-error"))]
        if not unseen:
            told.append(self._way_before(one))
        return told

    def _way_before(self, one: Activity) -> Content:
        steps = self.table.way_before(one.id, self.now_at, held=self.held)
        if steps is None:
            return said(_("No safe way leads there from here."))
        return said(_("first: {steps}", steps=" → ".join(self._said(each.short) for each in steps)))

    def _unseen(self) -> Content:
        """The parts that were not seen yet, in a window too narrow for the list of parts beside the steps; where the
        steps begin with looking at them, they stand there."""
        listed = [one.id for one in self.shown if isinstance(one, Part)]
        unseen = [self._said(part.short) for part in self.table.unknown(self.now_at) if part.id not in listed]
        told = _("? not seen: {parts}", parts=", ".join(unseen)) if unseen else ""
        return join((told, "$text-warning"))

    # keys

    @on(Rows.Chosen, "#stops")
    @on(Rows.Chosen, "#doing")
    def _do(self) -> None:
        """Do the step under the cursor, or say what stands in its way; a part leads to the list of parts."""
        one = self.step
        if isinstance(one, Part):
            self.query_one("#parts", Rows).cursor = list(self.table.parts).index(one.id)
            self.action_other()
        elif one is None or not self._allowed(one):
            self.app.bell()
            self._detail()
        else:
            self.now_at = self.table.after(one.id, self.now_at)
            self.fill()

    @on(StepRows.PastEdge)
    def _beyond(self, event: StepRows.PastEdge) -> None:
        """From the last stop to the steps, and from the first step to the stops."""
        if event.rows.id == "stops" and event.way > 0 and self.shown:
            self.query_one("#doing", Rows).focus()
        elif event.rows.id == "doing" and event.way < 0:
            self.query_one("#stops", Rows).focus()

    @on(Rows.Chosen, "#parts")
    def _say_another(self) -> None:
        """Say another position of the part under the cursor."""
        part = self.step
        assert isinstance(part, Part)
        choices = list(part.positions)
        now = self.now_at.get(part.id)
        self.now_at[part.id] = choices[(choices.index(now) + 1) % len(choices)] if now else choices[0]
        self.fill()

    def action_goal(self) -> None:
        """The way to the next of the goals."""
        self.goal = (self.goal + (not self.everything)) % len(self.table.goals)
        self._show_steps(everything=False)

    def action_all(self) -> None:
        """Every step, or the way again."""
        self._show_steps(everything=not self.everything)

    def _show_steps(self, *, everything: bool) -> None:
        self.everything = everything
        self.query_one("#doing", Rows).cursor = 0
        self._turn_to("#doing")
        self.fill()

    def action_other(self) -> None:
        """From the steps to the parts, and back."""
        self._turn_to("#doing" if self.query_one("#parts", Rows).has_focus else "#parts")

    def action_stop_now(self) -> None:
        """To the first of the stops."""
        self.query_one("#stops", Rows).cursor = 0
        self._turn_to("#stops")

    def _turn_to(self, list_: str) -> None:
        self.set_class(list_ == "#parts", "-parts")
        self.query_one(list_, Rows).focus()
        self._detail()


def _first_clause(text: str) -> str:
    """A caution up to its first stop: the whole of it stands below.

    >>> _first_clause("From the side, sleeves clear; walk off along the drum's axis.")
    'From the side, sleeves clear'
    """
    return re.split(r"[;:.]", text, maxsplit=1)[0]


def _to_a_comma(clause: str, size: int) -> str:
    """As many whole parts of a clause as have room; in the middle of none it ends.

    >>> _to_a_comma("Pump off first, then the valve, slowly", 36), _to_a_comma("Pump off first, slowly", 22)
    ('Pump off first, then the valve …', 'Pump off first, slowly')
    """
    if cells(clause) <= size:
        return clause
    parts = clause.split(",")
    whole = (f"{','.join(parts[:many])} …" for many in range(len(parts) - 1, 0, -1))
    return next((one for one in whole if cells(one) <= size), clause)

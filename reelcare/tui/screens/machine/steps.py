"""Steps: where the parts stand, what may be done now, and what stands in the way of the rest.

The rules of this file: the model of the machine judges, never this screen. What was answered in walk-rounds stands
there from the start; what is not known can be looked at and said. Nothing is written down: a walk-round does that.
"""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.widgets import Static

from reelcare.core.machine.model import Activity, MachineModel
from reelcare.core.state.standing import Standing
from reelcare.core.wording import said as in_language
from reelcare.register.views import previous_answers
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import OpenSteps
from reelcare.tui.text import join, lines, said
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows


class StepRows(Rows):
    """The steps; Enter does one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose", "Do it", id="steps.do", tooltip="Does the step, or says what stands in the way"),
    ]


class PartRows(Rows):
    """The parts; Enter says another position of one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose", "Say another", id="steps.say", tooltip="Says another position of the part"),
    ]


class Steps(BaseScreen):
    """The positions of one machine, and what may be done."""

    PAGE = "Steps"
    CSS_PATH = "../steps.tcss"
    HELP = "Enter on a step does it, or says what stands in the way; on a part (Tab), it says another position."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "g", "goal", "Where to", id="steps.goal", tooltip="The safe way to irrigating, the road, the other lane"
        ),
        Binding("tab", "other", "Parts", id="steps.other", tooltip="From the steps to the parts, and back"),
        Binding("escape", "leave", "Back", id="steps.leave", tooltip="Back to where one came from"),
    ]

    def __init__(self, request: OpenSteps, table: MachineModel) -> None:
        super().__init__()
        self.machine = request.machine
        self.machine_id = request.machine.id
        self.table = table
        self.now_at: dict[str, str] = {}
        self.goal = -1
        self.held: frozenset[str] = frozenset()

    def body(self) -> ComposeResult:
        """Steps at the left, parts at the right, the answer below."""
        with Horizontal(id="both"):
            yield StepRows((Column("", 1, 1), Column("step", 30, 1, grows=True)), id="doing")
            yield PartRows((Column("part", 18, 1), Column("stands", 14, 1, grows=True)), id="parts")
        yield Static(id="answer")

    def on_mount(self) -> None:
        """Begin with what the entries say."""
        self.now_at = previous_answers.positions(self.register, self.machine.id, self.table, self.now())
        self.fill()
        for rows in self.query(Rows):
            self.watch(rows, "cursor", self._moved, init=False)
        self.query_one("#doing", Rows).focus()

    def fill(self) -> None:
        """Show both lists anew, the cursors where they were."""
        doing, parts = self.query_one("#doing", Rows), self.query_one("#parts", Rows)
        self.refresh_head()
        standing = self.standing
        self.held = frozenset(side for side, word in (("run", standing.run), ("road", standing.road)) if word == "held")
        doing.show([self._step(one) for one in self.table.activities.values()], keep=doing.cursor)
        parts.show([self._part(id) for id in self.table.parts], keep=parts.cursor)
        self._detail()

    @property
    def standing(self) -> Standing:
        """How the machine stands by now: a walk-round that one came from can have held it."""
        assert self.seen is not None
        return self.seen.standing

    def _step(self, one: Activity) -> Row:
        free = not self.table.in_the_way(one.id, self.now_at) and not one.barred(self.held)
        return (
            Cell("✓" if free else "✗", "good" if free else "bad"),
            Cell(self._said(one.says), "" if free else "faint"),
        )

    def _part(self, id: str) -> Row:
        part, where = self.table.parts[id], self.now_at.get(id)
        shown = self._said(part.positions[where]) if where else "? not looked at"
        return (Cell(self._said(part.says)), Cell(shown, "part" if where else "heed"))

    def _said(self, words: object) -> str:
        return in_language(words, self.preferences.language)  # type: ignore[arg-type]  # the words of the table

    @property
    def step(self) -> Activity:
        """The step under the cursor."""
        return list(self.table.activities.values())[self.query_one("#doing", Rows).cursor]

    # the answer

    def _moved(self) -> None:
        """Another row: its own answer, and not that of the goal."""
        self.goal = -1
        self._detail()

    def _detail(self) -> None:
        if self.goal >= 0:
            self._tell_goal()
            return
        one = self.step
        way = self.table.in_the_way(one.id, self.now_at)
        told: list[Content] = []
        if not way and not one.barred(self.held):
            told.append(
                join(("✓ ", "bold $text-success"), (f"{self._said(one.says)}: may be done now", "$text-success"))
            )
            if one.caution:
                told.append(join(("CAUTION ", "bold $text-warning"), (self._said(one.caution), "$text-warning")))
        else:
            wrong = [self.table.tell(each, self.preferences.language) for each in way if each.found is not None]
            unseen = [self._said(self.table.parts[each.part].says) for each in way if each.found is None]
            if one.barred(self.held):
                wrong.insert(0, "the machine is held")
            if unseen:
                wrong.append(f"not looked at yet (Tab): {', '.join(unseen)}")
            told.append(join(("✗ NOT NOW  ", "bold $text-error"), ("; ".join(wrong), "$text-error")))
            if not unseen:
                told.append(self._way(self.table.way_before(one.id, self.now_at, held=self.held)))
        self.query_one("#answer", Static).update(lines(*told))

    def _way(self, steps: list[Activity] | None) -> Content:
        if steps is None:
            missing = ", ".join(self._said(one.says) for one in self.table.unknown(self.now_at))
            return said(f"Look at these first (Tab): {missing}" if missing else "No safe way leads there from here.")
        return said("first: " + " → ".join(self._said(one.says) for one in steps))

    def _tell_goal(self) -> None:
        goal = list(self.table.goals.values())[self.goal]
        steps = self.table.way_to_goal(goal.id, self.now_at, held=self.held)
        head = join(("to ", "bold"), (self._said(goal.says), "bold"))
        way = said("It is so already.") if steps == [] else self._way(steps)
        self.query_one("#answer", Static).update(lines(head, way))

    # keys

    @on(Rows.Chosen, "#doing")
    def _do(self) -> None:
        """Do the step under the cursor, or say what stands in its way."""
        self.goal = -1
        one = self.step
        if self.table.in_the_way(one.id, self.now_at) or one.barred(self.held):
            self.app.bell()
            self._detail()
            return
        self.now_at = self.table.after(one.id, self.now_at)
        self.fill()

    @on(Rows.Chosen, "#parts")
    def _say_another(self) -> None:
        """Say another position of the part under the cursor."""
        self.goal = -1
        part = list(self.table.parts.values())[self.query_one("#parts", Rows).cursor]
        choices = list(part.positions)
        now = self.now_at.get(part.id)
        self.now_at[part.id] = choices[(choices.index(now) + 1) % len(choices)] if now else choices[0]
        self.fill()

    def action_goal(self) -> None:
        """The next of the goals, with its way."""
        self.goal = (self.goal + 1) % len(self.table.goals)
        self._detail()

    def action_other(self) -> None:
        """From one list to the other."""
        self.goal = -1
        other = "#doing" if self.query_one("#parts", Rows).has_focus else "#parts"
        self.query_one(other, Rows).focus()

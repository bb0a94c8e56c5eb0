"""The service plan and its figures, for all machines or one."""

from __future__ import annotations

from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core.service.plan import Interval, Item, Plan
from reelcare.core.text import _, localized, mark, plural
from reelcare.register.acts import plans
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import AskYesNo, ChangePlanItem, OpenPlan
from reelcare.tui.text import said
from reelcare.tui.widgets.cells import titled
from reelcare.tui.widgets.columns import widened
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

COLUMNS = (
    Column(mark("what"), 24, 1, grows=True),
    Column(mark("every"), 21, 1),
    Column(mark("first"), 12, 2),
    Column(mark("grace"), 6, 3, right=True),
    Column(mark("past grace"), 10, 4),
)


class PlanPage(ListScreen):
    """The plan in force for one machine, or for all without one of their own."""

    HELP = mark("A changed figure counts from now on. What was due before stays as it was.")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("plan.change", "enter", mark("Change"), mark("Changes the figures of the item under the cursor")),
        bind(
            "plan.general", "g", mark("Back to the general plan"),
            mark("Gives this machine back to the plan for all machines"), show=False,
        ),
        bind("plan.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]  # fmt: skip

    def __init__(self, request: OpenPlan) -> None:
        super().__init__()
        self.machine_id, self.tag = request.machine or "", request.tag
        self.plan = Plan.empty()

    def body(self) -> ComposeResult:
        """Which plan it is, then its items."""
        yield Static(id="whose", classes="note")
        yield Rows(COLUMNS, id="plan-items", empty=mark("No plan yet."), enter_chooses=False)

    def page(self) -> str:
        """Whose plan it is."""
        return _("Plan") if self.tag else _("Plan for all machines without one of their own")

    def counts(self) -> Content:
        """How many items there are, and how many of them hold."""
        holding = sum(item.stop for item in self.plan.items)
        return said(
            plural(
                "{n} item, {holding} hold past the grace",
                "{n} items, {holding} hold past the grace",
                len(self.plan.items),
                holding=holding,
            )
        )

    @property
    def has_own(self) -> bool:
        """Whether the machine goes by a plan of its own."""
        return bool(self.machine_id) and self.register.plans().own(self.machine_id) is not None

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only a machine with a plan of its own is given back."""
        if action == "general":
            return self.has_own
        return super().check_action(action, parameters)

    @work
    async def action_general(self) -> None:
        """Put the machine back on the plan for all machines; ask first where that ends a hold."""
        host = self.host
        if not await host.may_write("plan"):
            return
        change = plans.what_changes(self.register, {}, self.machine_id)
        told = [_("dropped: {item}", item=item.title(self.preferences.language)) for item in change.gone]
        told += [
            _("no longer holds the machine: {item}", item=one.title(self.preferences.language))
            for one in change.loosened
        ]
        title = _("Give {tag} back to the plan for all machines?", tag=self.tag)
        if not await self.ask(AskYesNo(title, tuple(told) or (_("No item is dropped."),))):
            return
        drop = [item.id for item in change.to_confirm]
        kept = host.write(
            lambda: plans.put_in_force(self.register, {}, self.machine_id, by=host.person, now=self.now(), drop=drop)
        )
        if kept is not None:
            host.tell(_("{tag} goes by the plan for all machines again", tag=self.tag))
            self.fill()

    def fill(self) -> None:
        """Read the plan and show it."""
        self.plan = self.register.plans().newest(self.machine_id)
        title = self.plan.title.get(self.preferences.language, self.plan.title.get("en", ""))
        own = _("A plan of its own; g gives it back to the one for all.") if self.has_own else ""
        told = _("{title}. The machine's own manual comes first.", title=title)
        self.query_one("#whose", Static).update(said(f"{told} {own}".rstrip()))
        every = [self._interval(item.every) for item in self.plan.items]
        self.query_one(Rows).set_columns(widened(COLUMNS, {"every": every}))
        self.query_one(Rows).show([self._row(item) for item in self.plan.items])
        self.refresh_head()

    def _row(self, item: Item) -> Row:
        return (
            titled(item.title(self.preferences.language)),
            Cell(self._interval(item.every)),
            Cell(self._interval(item.first) if item.first else ""),
            Cell(f"{item.grace} %"),
            Cell(_("holds") if item.stop else "", "bad" if item.stop else ""),
        )

    def _interval(self, interval: Interval) -> str:
        told = []
        if interval.seconds is not None:
            told.append(localized(f"{interval.seconds / 3600:g} h"))
        if interval.millimetres is not None:
            told.append(self.length(interval.millimetres))
        if interval.runs is not None:
            told.append(plural("{n} run", "{n} runs", interval.runs))
        if interval.months is not None:
            told.append(plural("{n} month", "{n} months", interval.months))
        return _(" or ").join(told)

    @on(Rows.Chosen)
    def action_change(self) -> None:
        """Change the figures of the item under the cursor."""
        item = self.under_cursor(self.plan.items)
        if item is not None:
            self.open_to_write(ChangePlanItem(self.machine_id or None, self.where(), item), "plan")

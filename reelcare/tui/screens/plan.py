"""The service plan: its figures, for all machines or one, and a form to change those of one item."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.service.plan import Interval, Item, Plan
from reelcare.core.service.plan_table import PlanError, read_plan, to_plain
from reelcare.tui.screens.base import Place
from reelcare.tui.screens.form import Form, Line
from reelcare.tui.text import said
from reelcare.tui.widgets.key_line import KeyLine
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

COLUMNS = (
    Column("what", 24, 1, grows=True),
    Column("every", 21, 1),
    Column("first", 12, 2),
    Column("grace", 6, 3, right=True),
    Column("past grace", 10, 4),
    Column("item", 20, 5),
)
LIMBS = ("hours", "metres", "runs", "months")


class PlanPage(Place):
    """The plan in force for one machine, or for all without one of their own."""

    HELP = "A changed figure counts from now on. What was due before stays as it was."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back", id="plan.leave", tooltip="Back to where one came from"),
    ]

    def __init__(self, machine: str | None, tag: str = "") -> None:
        super().__init__()
        self.machine_id = machine
        self.tag = tag
        self.plan = Plan.empty()

    def compose(self) -> ComposeResult:
        """Which plan it is, then its items."""
        yield self.head()
        yield Static(id="whose", classes="note")
        yield Rows(COLUMNS, id="plan-items", empty="No plan is in force yet.", chooses="Change")
        yield KeyLine()

    def on_mount(self) -> None:
        """Fill the list."""
        self.fill()
        self.query_one(Rows).focus()

    def on_screen_resume(self) -> None:
        """Show what a form has changed."""
        if self.is_mounted and self.query("#plan-items"):
            self.fill()

    def where(self) -> str:
        """Whose plan it is."""
        return f"{self.tag}  Plan" if self.tag else "Plan for all"

    def fill(self) -> None:
        """Read the plan and show it."""
        self.plan = self.register.plans().newest(self.machine_id or "")
        title = self.plan.title.get(self.manner.language, self.plan.title.get("en", ""))
        whose = f"for {self.tag}" if self.tag else "for all machines without one of their own"
        self.query_one("#whose", Static).update(said(f"{title}; {whose}. The machine's own manual comes first."))
        self.query_one(Rows).show([self._row(item) for item in self.plan.items])
        self.refresh_head()

    def _row(self, item: Item) -> Row:
        return (
            Cell(item.title(self.manner.language)),
            Cell(self._interval(item.every)),
            Cell(self._interval(item.first) if item.first else ""),
            Cell(f"{item.grace} %"),
            Cell("holds" if item.stop else "", "bad" if item.stop else ""),
            Cell(item.id, "faint"),
        )

    def _interval(self, interval: Interval) -> str:
        told = []
        if interval.seconds is not None:
            told.append(f"{interval.seconds / 3600:g} h")
        if interval.millimetres is not None:
            told.append(self.length(interval.millimetres))
        if interval.runs is not None:
            told.append(f"{interval.runs} run" + ("s" if interval.runs != 1 else ""))
        if interval.months is not None:
            told.append(f"{interval.months} months")
        return " or ".join(told)

    @on(Rows.Chosen)
    def _chosen(self) -> None:
        place = self.query_one(Rows).cursor
        if place < len(self.plan.items):
            item = self.plan.items[place]
            self.reelcare.with_person(lambda: self.app.push_screen(PlanForm(self, item)), "plan")


class PlanForm(Form):
    """The figures of one item; kept, they are a new plan in force from now on."""

    KEEP = "Put in force"

    def __init__(self, page: PlanPage, item: Item) -> None:
        super().__init__()
        self.page = page
        self.item = item

    def where(self) -> str:
        """Whose plan, and which item."""
        return f"{self.page.where()}  {self.item.title(self.manner.language)}"

    def before(self) -> Sequence[Widget]:
        """What an empty line means."""
        return (Static(said("Whichever comes first counts; an empty line does not count."), classes="form--says"),)

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether it holds."""
        return (("stop", "holds the machine when it is past its grace"),)

    def form_lines(self) -> Sequence[Line]:
        """Every limb, every first limb, grace."""
        table = next(one for one in to_plain(self.page.plan)["items"] if one["id"] == self.item.id)
        first = table.get("first", {})
        return (
            *(Line(f"every-{name}", f"every, {name}", _figure(table["every"].get(name))) for name in LIMBS),
            *(Line(f"first-{name}", f"the first time, {name}", _figure(first.get(name))) for name in LIMBS),
            Line("grace", "grace, percent", str(self.item.grace)),
        )

    def on_mount(self) -> None:
        """The box stands as the plan has it."""
        super().on_mount()
        from reelcare.tui.widgets.tick import Tick

        self.query_one("#box-stop", Tick).value = self.item.stop

    def _interval(self, which: str) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name in LIMBS:
            text = self.value(f"{which}-{name}")
            if text:
                try:
                    figure = units.number(text)
                except units.UnitsError as why:
                    raise units.UnitsError(f"{which}, {name}: {why}") from None
                found[name] = int(figure) if figure == int(figure) else figure
        return found

    def keep(self) -> bool:
        """Write the new plan down."""
        app, machine = self.reelcare, self.page.machine_id
        # what somebody else has changed since this form was opened stays changed
        plain = to_plain(self.register.plans().newest(machine or ""))
        if self.item.id not in [table["id"] for table in plain["items"]]:
            return self.wrong("it is no longer in the plan: somebody took it out meanwhile")
        every, first = self._interval("every"), self._interval("first")
        for table in plain["items"]:
            if table["id"] != self.item.id:
                continue
            table["every"] = every
            table.pop("first", None)
            if first:
                table["first"] = first
            grace = units.number(self.value("grace") or "0")
            table["grace"] = int(grace) if grace == int(grace) else grace
            table["stop"] = self.ticked("stop")
        try:
            read_plan(plain)
        except PlanError as why:
            return self.wrong(why.problems[0], "every-hours")
        what = e.Planned(plan=plain)
        kept = app.write(lambda: self.register.add(what, machine=machine, by=app.person, now=self.now()))
        if kept is not None:
            app.tell(f"{self.page.where()}: {self.item.title(self.manner.language)} is changed from now on")
        return kept is not None


def _figure(value: object) -> str:
    return f"{value:g}" if isinstance(value, (int, float)) else ""

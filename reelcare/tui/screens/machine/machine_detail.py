"""Why a machine stands as it does: what is told of the one under the yard's cursor, beside the list or below it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.reactive import var

from reelcare.core import units
from reelcare.core.checks.sheet import GATE_TITLES
from reelcare.core.state.counters import totals_in_words
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import OpenCheck
from reelcare.core.state.standing import Reason
from reelcare.core.text import _, mark
from reelcare.core.wording import ago
from reelcare.tui.preferences import Preferences
from reelcare.tui.text import join, lines, said
from reelcare.tui.theme import state
from reelcare.tui.widgets.detail_panel import DetailPanel

if TYPE_CHECKING:
    from reelcare.tui.widgets.drawings.machine_plan import MachinePlan

WIDE = 100
"""Columns from which on there is room for more."""
FEW, MANY = 3, 8
"""Reasons for which there is room."""
_COLOURS = {"held": "text-error", "check due": "text-warning", "clear": "text-success", "unknown": "foreground"}


class MachineDetail(NamedTuple):
    """A machine, the moment at which it is looked at (in the register's zone), and how a person wants it told."""

    machine: MachineNow
    now: datetime
    preferences: Preferences
    ahead: str = ""
    """The next lane, from when to when."""

    def told(self, most: int) -> Content:
        """What it has done, open checks, the first reasons for its standing, and what is due."""
        return lines(*self._lines(most))

    def _lines(self, most: int) -> Iterator[Content]:
        one, totals = self.machine, self.machine.state.totals
        hose = units.show(totals.millimetres / 1000, "length", self.preferences.system)
        last = one.state.last_check
        done = totals_in_words(totals, one.state.least, f"{totals.seconds / 3600:.0f} h", hose)
        done += ", " + (_("checked {ago}", ago=ago(last, self.now)) if last else _("never checked"))
        if shown := one.counters_show(self.preferences.system):
            done += f" ({shown})"
        named = ", ".join(part for part in (one.card.name, one.card.place) if part)
        yield join((one.tag, "bold"), f"  {named}: {done}" if named else f"  {done}")
        if self.ahead:
            yield said(self.ahead)
        yield from (self._open_check(check) for check in one.state.open_checks)
        yield from self._reasons(most)

    def _open_check(self, check: OpenCheck) -> Content:
        """A check that was begun, and how far it is signed."""
        gate = _(GATE_TITLES[check.signed[-1].gate]) if check.signed else ""
        told = _(
            mark("{sheet}: begun {begun} by {by}, last signed: {gate}")
            if gate
            else mark("{sheet}: begun {begun} by {by}, not signed yet"),
            sheet=check.sheet, begun=ago(check.begun, self.now), by=check.by, gate=gate,
        )  # fmt: skip
        return said(f"{state('open')}  {told}")

    def _reasons(self, most: int) -> Iterator[Content]:
        """Why it stands so: about this many lines, first what is to be done about a part."""
        one, language = self.machine, self.preferences.language
        reasons = sorted(one.standing.because, key=lambda it: not (it.fault or it.item or it.items))
        said_already = {id for reason in reasons for id in (reason.item, *reason.items)}
        due = [
            line
            for line in one.dues
            if line.news and line.due.state in ("overdue", "due") and line.item.id not in said_already
        ]
        first = [self._reason(reason) for reason in reasons if reason.fault or reason.item or reason.items]
        first += [said(_("note  {by}: {says}", by=note.by, says=note.says)) for note in one.notes(self.now.date())]
        rest = [self._reason(reason) for reason in reasons if not (reason.fault or reason.item or reason.items)]
        lines_due = [
            said(f"{state(line.due.state)}  {line.item.title(language)}: {line.due.why(self.preferences.system)}")
            for line in due
        ]
        yield from (
            *first[:most],
            *lines_due[: max(most - len(first) - len(rest), 1)],
            *rest[: max(most - len(first), 1)],
        )

    def _reason(self, reason: Reason) -> Content:
        """A reason for its standing."""
        stands = self.machine.standing.run if reason.side in ("run", "both") else self.machine.standing.road
        word = "unknown" if reason.code == "unknown" else stands
        side = _("run and road") if reason.side == "both" else _(reason.side)
        return join((state(word), f"${_COLOURS[word]}"), f"  {side}: {reason.says}")


class DetailPane(Vertical):
    """Why a machine stands as it does and, where there is room, its drawing."""

    detail: var[MachineDetail | None] = var(None)

    def compose(self) -> ComposeResult:
        """The reasons; the drawing comes once they stand on the screen."""
        yield DetailPanel(id="side-text")
        yield Vertical(id="side-plan")

    def on_resize(self) -> None:
        """Tell as much as there is room for, and draw the machine once the list stands on the screen."""
        self.watch_detail(self.detail)
        self.call_after_refresh(self._draw)

    def watch_detail(self, detail: MachineDetail | None) -> None:
        """Tell of another machine."""
        most = FEW if self.app.size.width < WIDE else MANY
        for panel in self.query(DetailPanel):
            panel.tell(detail.told(most) if detail is not None else Content(""))
        for plan in self.query("MachinePlan").results():
            self._show_machine(plan)  # type: ignore[arg-type]  # its class is loaded only where it is drawn

    def _draw(self) -> None:
        place = self.query_one("#side-plan", Vertical)
        if self.detail is not None and place.display and not place.children:
            from reelcare.tui.widgets.drawings.machine_plan import MachinePlan

            plan = MachinePlan(self.detail.machine.card)
            place.mount(plan)
            self._show_machine(plan)

    def _show_machine(self, plan: MachinePlan) -> None:
        if self.detail is not None:
            one = self.detail.machine
            plan.card = one.card
            plan.light(one.faults[0].part if one.faults else "", {})

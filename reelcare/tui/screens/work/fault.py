"""A fault noted, repaired, tested again and released."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from textual import on
from textual.content import Content
from textual.events import DescendantBlur
from textual.widgets import Input, Static

from reelcare.core import entries as e
from reelcare.core.parts import PARTS, default_retest, parts_matching
from reelcare.core.service.due_line import STEP_CAUTIONS
from reelcare.core.state import fix_by
from reelcare.core.state.machine_state import Holds
from reelcare.core.text import _, mark
from reelcare.core.wording import nearest, noted
from reelcare.register.integrity import pins
from reelcare.register.reading import yard
from reelcare.tui.requests import LogFault, LogFaultStep
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.text import join, lines, said
from reelcare.tui.widgets.inputs.choice_list import KeyChoice

_STEP_OF = {
    "repair": mark("Repair of the {part}"),
    "re-test": mark("Re-test of the {part}"),
    "release": mark("Release of the {part}"),
}


class FaultForm(Form):
    """A fault on a machine, against a part; it holds, or is to be fixed by a limit."""

    PAGE = mark("New fault")
    KEEP = mark("Sign and save the fault")

    def __init__(self, request: LogFault) -> None:
        super().__init__()
        self.machine_id, self.tag, self.part = request.machine, request.tag, request.part

    def before(self) -> Sequence[str]:
        """The parts there are, and the one that is meant."""
        return (_("parts: {parts}", parts=", ".join(map(_, PARTS))), _part_meant(self.part))

    def form_lines(self) -> Sequence[FormField]:
        """The part, what is wrong, when it was seen, by when it must be fixed, and what is tried before a release."""
        return (
            FormField(
                "part",
                _("part"),
                _(self.part) if self.part else "",
                _("a name from above, or a usual word (tyre, belt)"),
            ),
            FormField("says", _("what is wrong")),
            self.day_line(),
            FormField("fix_by", _("to be fixed by"), "", _("for x: {examples}", examples=_(fix_by.EXAMPLES))),
            FormField("retest", _("re-test"), "", _("what must be tried again before the release")),
        )

    def outcomes(self) -> Sequence[KeyChoice]:
        """What the machine may do."""
        return (
            KeyChoice("h", _("holds the machine until it is repaired, tested again and released")),
            KeyChoice("x", _("may run on, to be fixed by the limit above")),
            KeyChoice("n", _("only noted: leave the limit empty")),
        )

    @on(Input.Changed, "#part")
    def _say_part(self, event: Input.Changed) -> None:
        self.query(".form--says").last(Static).update(said(_part_meant(event.value)))

    @on(DescendantBlur)
    def _take_part(self, event: DescendantBlur) -> None:
        line = event.widget
        if isinstance(line, Input) and line.id == "part" and len(found := parts_matching(line.value)) == 1:
            line.value = _(found[0])

    def keep(self) -> bool:
        """Write the fault down."""
        found, outcome = parts_matching(self.value("part")), self.outcome()
        if len(found) != 1:
            return self.wrong(_part_meant(self.value("part")) or _("The part: what is it?"), "part")
        part = found[0]
        if not self.value("says"):
            return self.wrong(_("What is wrong: say it in a few words"), "says")
        limits: dict[str, Any] = {}
        if outcome == "x" and not self.value("fix_by"):
            return self.wrong(_("By when must it be fixed? {examples}", examples=_(fix_by.EXAMPLES)), "fix_by")
        if outcome != "x" and self.value("fix_by"):
            return self.wrong(_("A limit goes with x only: choose x, or clear this line"), "fix_by")
        at = self.happened()
        if outcome == "x":
            totals, today = self.register.state(self.machine_id).totals, self.today
            limits = self.read("fix_by", lambda text: fix_by.read(text, totals, today))
        holds: Holds = "both" if outcome == "h" else ""
        retest = self.value("retest") or (default_retest(part) if holds else "")
        what = e.Fault(part=part, says=self.value("says"), holds=holds, retest=retest, **limits)
        host, now = self.host, self.now()
        kept = self.write(
            lambda: self.register.add(what, machine=self.machine_id, by=host.person, now=now, happened=at), "says"
        )
        if kept is not None:
            told = mark("{tag}: fault on the {part} noted; it holds the machine. Re-test: {retest}")
            told = told if holds else mark("{tag}: fault on the {part} noted")
            host.tell(_(told, tag=self.tag, part=_(part), retest=_(retest)))
        return kept is not None


def _part_meant(text: str) -> str:
    """What is said of a part that is being typed: the one that is meant, or those that can be."""
    found = parts_matching(text)
    if len(found) == 1:
        return f"→ {_(found[0])}"
    if found:
        return _("→ which? {parts}", parts=", ".join(map(_, found)))
    if not text.strip():
        return ""
    return _("No part {text!r}: choose one of those above", text=text) + nearest(text, [_(part) for part in PARTS])


class FaultStepForm(Form):
    """The next step of an open fault: its repair, its re-test, or its release."""

    def __init__(self, request: LogFaultStep) -> None:
        super().__init__()
        self.machine_id, self.tag, self.fault = request.machine, request.tag, request.fault

    @property
    def step(self) -> str:
        """What comes next."""
        return self.fault.waits_for

    def page(self) -> str:
        """The step."""
        return _(_STEP_OF[self.step], part=_(self.fault.part))

    def before(self) -> Sequence[Content]:
        """What is wrong, and what this step asks."""
        holds = bool(self.fault.holds)
        asks = {
            "repair": _("Say what was done and with which parts. The machine stays held until the release.")
            if holds
            else _("Say what was done and with which parts. This fault does not hold the machine."),
            "re-test": _("Try again: {retest}", retest=self.fault.retest_shown),
            "release": _("By releasing it you say that the machine is fit."),
        }[self.step]
        caution = _(STEP_CAUTIONS.get(self.step, ""))
        not_proved = pins.names_not_proved(self.register.db, self.register.roles()) if self.step == "release" else ""
        told = lines(
            said(self.fault.of_part, "bold"),
            said(noted(self.local(self.fault.since), self.fault.by)),
            *([join((_("CAUTION") + " ", "bold $text-warning"), (caution, "$text-warning"))] if caution else []),
            asks,
            *([join((not_proved, "$text-warning"))] if not_proved else []),
            "",
        )
        return (told,)

    def outcomes(self) -> Sequence[KeyChoice]:
        """Whether a re-test passed."""
        if self.step != "re-test":
            return ()
        return (
            KeyChoice("p", _("passed: what was asked for was seen")),
            KeyChoice("f", _("failed: to be repaired again")),
        )

    def form_lines(self) -> Sequence[FormField]:
        """What was done or seen."""
        return (
            FormField(
                "says", {"repair": _("what was done"), "re-test": _("what was seen"), "release": _("note")}[self.step]
            ),
        )

    def keep(self) -> bool:
        """Write the step down."""
        says = self.value("says")
        step = self.step
        if step != "release" and not says:
            return self.wrong(_("say it in a few words"), "says")
        what: e.Kind
        if step == "repair":
            what = e.Repair(fault=self.fault.id, says=says)
        elif step == "re-test":
            what = e.Retest(fault=self.fault.id, passed=self.outcome() == "p", seen=says)
        else:
            what = e.Release(fault=self.fault.id, says=says)
        if self.record(what, self.machine_id) is None:
            return False
        self.host.tell(self._told(not isinstance(what, e.Retest) or what.passed))
        return True

    def _told(self, passed: bool) -> str:
        """What follows the step, as the machine stands now."""
        if self.step == "release":
            run = yard.machine_now(self.register, self.machine_id, self.now(), forecasts=False).standing.run
            return _("{tag}: {part} released; now {run}", tag=self.tag, part=_(self.fault.part), run=_(run))
        if not passed:
            return _("{tag}: re-test of the {part} failed; repair it again", tag=self.tag, part=_(self.fault.part))
        told = mark("{tag}: {part} repaired") if self.step == "repair" else mark("{tag}: re-test of the {part} passed")
        return _(told, tag=self.tag, part=_(self.fault.part))

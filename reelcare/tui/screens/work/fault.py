"""A fault noted, repaired, tested again and released."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any

from textual.widget import Widget
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.parts import PARTS, default_retest
from reelcare.core.state import fix_by
from reelcare.core.state.machine_state import Holds
from reelcare.core.text import _, mark
from reelcare.register.integrity import pins
from reelcare.tui.requests import LogFault, LogFaultStep
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.text import join, lines, said

_STEP_OF = {
    "repair": mark("Repair of the {part}"),
    "re-test": mark("Re-test of the {part}"),
    "release": mark("Release of the {part}"),
}
_STEP_KEPT = {
    "repair": mark("{tag}: repair of the {part} kept"),
    "re-test": mark("{tag}: re-test of the {part} kept"),
    "release": mark("{tag}: release of the {part} kept"),
}
FAILED = mark("{tag}: re-test of the {part} not passed; repair again")
_CAUTIONS = {
    "repair": mark(
        "Make it safe first: supply shut and the hose's pressure let down, drum blocked, PTO shaft and crank off, "
        "tractor oil hoses off."
    ),
    "re-test": mark("Hands and clothing off what turns, and nobody near drum, hose and stream while it is tried."),
}
"""What can hurt whoever takes the next step of a fault (common practice)."""


class FaultForm(Form):
    """A fault on a machine, against a part; it holds, or is to be fixed by a limit."""

    PAGE = mark("New fault")
    KEEP = mark("Note the fault")

    def __init__(self, request: LogFault) -> None:
        super().__init__()
        self.machine_id, self.tag, self.part = request.machine, request.tag, request.part

    def before(self) -> Sequence[Widget]:
        """The parts there are."""
        return (Static(said(_("parts: {parts}", parts=", ".join(PARTS))), classes="form--says"),)

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether it holds."""
        return (("hold", _("holds the machine until it is repaired, tested again and released")),)

    def form_lines(self) -> Sequence[FormField]:
        """The part, what is wrong, and by when."""
        return (
            FormField("part", _("part"), self.part),
            FormField("says", _("what is wrong")),
            FormField("fix_by", _("or to be fixed by"), "", fix_by.EXAMPLES),
            FormField("retest", _("re-test"), "", _("what must be tried again before the release")),
        )

    def keep(self) -> bool:
        """Write the fault down."""
        part = self.value("part").lower()
        if part not in PARTS:
            meant = get_close_matches(part, PARTS, n=1)
            known = _("did you mean {meant}?", meant=meant[0]) if meant else _("take one of those above.")
            return self.wrong(_("No part {part!r}: {known}", part=part, known=known), "part")
        if not self.value("says"):
            return self.wrong(_("what is wrong: say it in a few words"), "says")
        limits: dict[str, Any] = {}
        if self.value("fix_by"):
            if self.ticked("hold"):
                return self.wrong(_("it either holds now or is to be fixed by a limit; leave one out"), "fix_by")
            totals, today = self.register.state(self.machine_id).totals, self.local(self.now()).date()
            limits = self.read("fix_by", lambda text: fix_by.read(text, totals, today))
        holds: Holds = "both" if self.ticked("hold") else ""
        retest = self.value("retest") or (default_retest(part) if holds else "")
        what = e.Fault(part=part, says=self.value("says"), holds=holds, retest=retest, **limits)
        host = self.host
        kept = host.write(lambda: self.register.add(what, machine=self.machine_id, by=host.person, now=self.now()))
        if kept is not None:
            host.tell(_("{tag}: fault on the {part} noted", tag=self.tag, part=_(part)))
        return kept is not None


class FaultStepForm(Form):
    """The next step of an open fault: its repair, its re-test, or its release."""

    def __init__(self, request: LogFaultStep) -> None:
        super().__init__()
        self.machine_id, self.tag, self.fault = request.machine, request.tag, request.fault

    @property
    def step(self) -> str:
        """What comes next."""
        if self.fault.status == "open":
            return "repair"
        if self.fault.status == "repaired" and self.fault.retest:
            return "re-test"
        return "release"

    def page(self) -> str:
        """The step."""
        return _(_STEP_OF[self.step], part=_(self.fault.part))

    def before(self) -> Sequence[Widget]:
        """What is wrong, and what this step asks."""
        asks = {
            "repair": _("Say what was done and with which parts. The machine stays held."),
            "re-test": _("Try again: {retest}", retest=_(self.fault.retest)),
            "release": _("Releasing says that the machine is fit. A pre-start is still due after it."),
        }[self.step]
        caution = _(_CAUTIONS.get(self.step, ""))
        not_proved = pins.names_not_proved(self.register.db, self.register.roles()) if self.step == "release" else ""
        told = lines(
            said(f"{_(self.fault.part)}: {self.fault.says}", "bold"),
            *([join((_("CAUTION") + " ", "bold $text-warning"), (caution, "$text-warning"))] if caution else []),
            asks,
            *([join((not_proved, "$text-warning"))] if not_proved else []),
            "",
        )
        return (Static(told, classes="form--says"),)

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether a re-test passed."""
        return (("passed", _("it passed: what was asked for was seen")),) if self.step == "re-test" else ()

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
            what = e.Retest(fault=self.fault.id, passed=self.ticked("passed"), seen=says)
        else:
            what = e.Release(fault=self.fault.id, says=says)
        host = self.host
        kept = host.write(lambda: self.register.add(what, machine=self.machine_id, by=host.person, now=self.now()))
        if kept is None:
            return False
        passed = not isinstance(what, e.Retest) or what.passed
        host.tell(_(_STEP_KEPT[step] if passed else FAILED, tag=self.tag, part=_(self.fault.part)))
        return True

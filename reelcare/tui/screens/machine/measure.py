"""Readings on a machine, as a form: what they tell is shown first, and kept where who is there says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from textual import work
from textual.content import Content

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.entries import Draft
from reelcare.core.machine import measuring
from reelcare.core.machine.card_words import in_words
from reelcare.core.machine.measuring import MEASURED, Findings, MeasuredThing
from reelcare.core.text import _, mark
from reelcare.tui.requests import AskYesNo, Measure
from reelcare.tui.screens.form import FieldError, Form, FormField
from reelcare.tui.text import join, lines, said
from reelcare.tui.widgets.typed_quantity import with_unit

SAYS: Mapping[MeasuredThing, str] = {
    "gun": mark(
        "Flow and gun pressure, read at the same time; a semicolon separates readings. Sets are worked out from them."
    ),
    "drum": mark(
        "Turns on the drum and the hose in them: three readings or more, at least one from the second layer or above."
    ),
    "cans": mark("What each can caught, from the hose outwards; the unit does not matter. Measure before it dries."),
}
CAUTIONS: Mapping[MeasuredThing, str] = {
    "gun": mark(
        "A big gun's stream knocks a person down: stand clear of it, and of hose and couplings under pressure."
    ),
    "drum": mark("A turning drum takes hands and clothing along: stand clear, and count by a mark on its rim."),
    "cans": mark("Set out and gather the cans only while the stream does not reach them."),
}


class MeasureForm(Form):
    """The readings of one measurement; what they tell is looked at before it is kept."""

    KEEP = mark("Work it out")

    def __init__(self, request: Measure) -> None:
        super().__init__()
        self.machine, self.what = request.machine, request.what
        self.machine_id = request.machine.id

    def page(self) -> str:
        """What is measured."""
        return _(MEASURED[self.what])

    def before(self) -> Sequence[Content]:
        """How it is done, and what can hurt."""
        caution = join((_("CAUTION") + " ", "bold $text-warning"), (_(CAUTIONS[self.what]), "$text-warning"))
        return (lines(caution, said(_("The machine's own manual comes first.")), said(_(SAYS[self.what])), ""),)

    def form_lines(self) -> Sequence[FormField]:
        """The readings, note and day."""
        return (*self._readings(), FormField("note", _("note")), self.day_line())

    def _readings(self) -> Sequence[FormField]:
        if self.what == "drum":
            return (FormField("readings", _("turns = hose in them"), "", self._turns()),)
        if self.what == "gun":
            bore = self.machine.card.cart.nozzle
            known = units.show(bore, "length", self.preferences.system, role="bore") if bore is not None else ""
            hint = (
                _("blank: {value}, as on the card", value=known) if known else self.example("24 mm", "length", "bore")
            )
            return (
                FormField("readings", _("flow @ gun pressure"), "", self._flows()),
                FormField("nozzle", _("nozzle bore"), "", hint),
            )
        return (
            FormField("left", _("caught at the left"), "", "9.4 8 5.9"),
            FormField("right", _("caught at the right"), "", "9 8.2 5.5"),
            FormField("step", _("from can to can"), "", self.example("12 m", "length")),
            FormField("first", _("hose to the first can"), "", _("blank: half of that")),
            FormField("spacing", _("lane spacing"), "", self.example("68 m", "length")),
        )

    def _turns(self) -> str:
        """Examples of turns with the hose in them."""
        some = (("24", "138 m"), ("36", "218 m"), ("48", "306 m"))
        return "; ".join(f"{turns} = {self.example(hose, 'length')}" for turns, hose in some)

    def _flows(self) -> str:
        """Examples of a flow at a pressure."""
        some = (("43 m3/h", "4.5 bar"), ("39 m3/h", "3.7 bar"))
        return "; ".join(f"{self.example(flow, 'flow')} @ {self.example(at, 'pressure')}" for flow, at in some)

    def _work_out(self) -> Findings:
        """What the readings tell. Raises ValueError."""
        card, system = self.register.card(self.machine_id), self.preferences.system
        if self.what == "drum":
            return measuring.drum(card, self._texts(), system, self._completed)
        if self.what == "gun":
            return measuring.gun(card, self._texts(), self.quantity("nozzle", "length", "bore"), self._completed)
        left, right, first = self.value("left"), self.value("right"), self.quantity("first", "length")
        return measuring.cans(left, right, self._needed("step"), self._needed("spacing"), system, first)

    def _texts(self) -> list[str]:
        return [one.strip() for one in self.value("readings").split(";") if one.strip()]

    def _needed(self, id: str) -> float:
        length = self.quantity(id, "length")
        if length is None:
            raise FieldError(id, _("needed to work it out"))
        return length

    def _completed(self, text: str, quantity: units.Quantity) -> str:
        return with_unit(text, quantity, self.preferences.system)

    def keep(self) -> bool:
        """Show what the readings tell, and ask whether it is kept: until then it is not."""
        at = self.happened()
        try:
            found = self._work_out()
        except FieldError:
            raise
        except ValueError as why:
            raise FieldError("left" if self.what == "cans" else "readings", in_words(str(why))) from None
        self._ask_to_keep(found, at)
        return False

    @work
    async def _ask_to_keep(self, found: Findings, at: datetime) -> None:
        title = _("Keep this on {tag}?", tag=self.machine.tag)
        told = tuple(f"{label}: {value}" for label, value in found.told)
        if not await self.ask(AskYesNo(title, told, yes=mark("keep it"), no=mark("back to the readings"))):
            return
        what = e.Measured(about=self.what, figures=measuring.plain(found.figures), note=self.value("note"))
        self.host.in_turn(lambda: self._write(what, at, "; ".join(told[:2])))

    def _write(self, what: e.Measured, at: datetime, told: str) -> None:
        host, drafts = self.host, [Draft(what=what, machine=self.machine_id, happened=at)]
        if self.write(lambda: self.register.append(drafts, by=host.person, now=self.now()), "note") is not None:
            self.dismiss()
            host.tell(_("{tag}, kept: {told}", tag=self.machine.tag, told=told))

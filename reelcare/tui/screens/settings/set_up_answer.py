"""What comes of a set: the sheet in short lines, the drum in section, the pressures down the line."""

from __future__ import annotations

import math

from textual.app import ComposeResult
from textual.containers import Vertical

from reelcare.core import units
from reelcare.core.drawing.limits import bars_of
from reelcare.core.drawing.pressure import PressurePoint
from reelcare.core.drawing.section import Wound
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.text import _
from reelcare.register.acts.sets import SetBasis
from reelcare.tui.screens.settings.set_up_texts import short
from reelcare.tui.text import join, said
from reelcare.tui.widgets.drawings.drum_section import DrumSection
from reelcare.tui.widgets.drawings.limit_bars import LimitBars
from reelcare.tui.widgets.drawings.pressure_line import PressureLine
from reelcare.tui.widgets.inputs.growing_text import GrowingText

DRUM_FROM = 100
"""Least columns of the terminal for a picture of the drum; narrower ones show its coils in words."""


class SetUpAnswer(Vertical):
    """The answer; it has the class `-old` while what is typed cannot be worked out."""

    def compose(self) -> ComposeResult:
        """Limits, sheet, drum, pressures."""
        yield LimitBars(id="limits")
        yield GrowingText(id="sheet")
        yield DrumSection(Wound(1, 1, 0), id="drum")
        yield PressureLine(id="pressure")

    def show(self, setting: Setting, basis: SetBasis, system: units.System) -> None:
        """Show a set."""
        drawn = self.app.size.width >= DRUM_FROM
        known = list(short(setting, system, drawn=drawn))
        wide = max((8, *(len(label) + 1 for label, _value in known)))
        told = [join((f"{label:<{wide}}", "$text-muted"), (value, "")) for label, value in known]
        self.query_one(GrowingText).show(told or [said(_("Give lane spacing and pull-out."))])
        bars = bars_of(setting, system)
        self.query_one(LimitBars).display = bool(bars)
        self.query_one(LimitBars).judge(bars)
        self._show_drum(setting, basis, drawn)
        self._show_pressure(setting, basis, system)

    def _show_drum(self, setting: Setting, basis: SetBasis, drawn: bool) -> None:
        drum = self.query_one(DrumSection)
        wind, length = setting.wind, basis.card.hose.length
        drum.display = drawn and wind is not None and length is not None and setting.coils_left is not None
        if wind is None or length is None or setting.coils_left is None:
            return
        layers = wind.layers or max(1, math.ceil(wind.turns(length) / wind.coils_per_layer))
        on = min(setting.coils_left, wind.coils_per_layer * layers)
        drum.wind(Wound(wind.coils_per_layer, layers, on, basis.limits.least_coils))

    def _show_pressure(self, setting: Setting, basis: SetBasis, system: units.System) -> None:
        line = self.query_one(PressureLine)
        place = setting.at_pull_out
        line.display = place is not None
        if place is None:
            return
        cart, limits = basis.card.cart, basis.limits
        wanted = None
        if cart.kind != "boom":
            wanted = (cart.least_pressure or limits.gun_least, cart.most_pressure or limits.gun_most)
        behind = place.inlet - place.drive_loss
        places = [
            PressurePoint(_("inlet"), place.inlet),
            PressurePoint(_("behind drive"), behind),
            PressurePoint(_("end of hose"), behind - place.hose_loss),
        ]
        if abs(place.lift) < 1:
            places.pop()
        line.flow([*places, PressurePoint(_("gun"), place.gun, wanted)], system)

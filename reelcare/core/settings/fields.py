"""What can be asked of a set: one table for the command line and the screen. It loads nothing but the units."""

from __future__ import annotations

from typing import NamedTuple

from reelcare.core import units
from reelcare.core.text import _, as_typed, mark, typed_figure

TEXT = "text"
"""The role of what is kept as it was typed."""
PERCENT = "%"
"""Told and typed in percent, and a part inside."""


class SetField(NamedTuple):
    """One thing that can be asked: its key, label, what it measures (None: a time, or a text where the role says so),
    role, an example, and for a figure what it can be at all: from and to in SI, and the unit in which that is told."""

    key: str
    label: str
    quantity: units.Quantity | None
    role: str
    example: str
    span: tuple[float, float, str] | None = None

    def as_kept(self, typed: str) -> str:
        """What was typed, as it is kept: a text as it is, a figure with a point."""
        return typed if self.role == TEXT else typed_figure(typed)

    def example_in(self, system: units.System) -> str:
        """The example as a person of that system types it."""
        if self.quantity is None or self.quantity == "count":
            return _(self.example)
        return units.example(self.example, self.quantity, system, self.role)

    def as_shown(self, kept: str) -> str:
        """What is kept, as it stands in a line: a text as it is, a figure with the decimal sign of the language."""
        return kept if self.role == TEXT else as_typed(kept)


FIELDS: tuple[SetField, ...] = (
    SetField("spacing", mark("lane spacing"), "length", "", "68 m", (2, 400, "m")),
    SetField("out", mark("pull-out"), "length", "", "380 m", (1, 2000, "m")),
    SetField("depth", mark("depth of water"), "length", "depth", "25 mm", (0.0001, 0.5, "mm")),
    SetField("speed", mark("travel speed"), "speed", "travel speed", "22 m/h", (0.1 / 3600, 5000 / 3600, "m/h")),
    SetField("flow", mark("flow"), "flow", "", "43 m3/h", (0.1 / 3600, 1000 / 3600, "m3/h")),
    SetField("nozzle", mark("nozzle bore"), "length", "bore", "24 mm", (0.002, 0.1, "mm")),
    SetField("gun_pressure", mark("gun pressure"), "pressure", "", "4.5 bar", (1e4, 3e6, "bar")),
    SetField("inlet", mark("inlet pressure"), "pressure", "", "7 bar", (1e4, 4e6, "bar")),
    SetField("drive_loss", mark("loss in the drive"), "pressure", "drive loss", "0.5 bar", (0, 1e6, "bar")),
    SetField("rise", mark("rise to the gun"), "length", "", "5 m", (-200, 200, "m")),
    SetField("start", mark("start"), None, "", "2026-05-01T06:30"),
    SetField("until", mark("to be done by"), None, "", "2026-05-02T06:30"),
    SetField("dwell_start", mark("dwell at the start"), "duration", "", "0.5 h", (0, 86400, "h")),
    SetField("dwell_end", mark("dwell at the end"), "duration", "", "0.5 h", (0, 86400, "h")),
    SetField("wind", mark("wind"), "speed", "wind", "10 km/h", (0, 40, "km/h")),
    SetField("wind_limit", mark("wind, at most"), "speed", "wind", "18 km/h", (0.5, 40, "km/h")),
    SetField("air", mark("air"), "temperature", "", "25 degC", (0, 50, "degC")),
    SetField("humidity", mark("humidity, %"), "count", "", "50", (0, 100, "")),
    SetField("intake", mark("soil's intake"), "speed", "rate", "10 mm/h", (0.1e-3 / 3600, 1000e-3 / 3600, "mm/h")),
    SetField("arc", mark("arc, degrees"), "count", "", "320", (10, 360, "")),
    SetField("temperature", mark("temperature"), "temperature", "", "20 degC", (0, 60, "degC")),
    SetField("ground_friction", mark("friction on ground"), "count", "", "0.5", (0.05, 2, "")),
    SetField("coil_more", mark("coils lose more, %"), "count", "", "36", (0, 2, PERCENT)),
    SetField("gear", mark("gear"), None, TEXT, mark("2, small pulley")),
    SetField("hydrant", mark("hydrant"), None, TEXT, "7"),
    SetField("neighbour_loss", mark("neighbour takes"), "pressure", "drive loss", "0.3 bar", (0, 1e6, "bar")),
)
"""Everything that can be asked of a set, in the order in which a person thinks of it."""
BY_KEY = {one.key: one for one in FIELDS}


class Assumption(NamedTuple):
    """A figure that is taken where nobody says better: its label, quantity, role, its key in JSON with the SI value of
    that key's unit, and its source."""

    label: str
    quantity: units.Quantity
    role: str
    json: str
    unit: float
    source: str


_PRACTICE = mark("common practice, no source")
_PLANT = mark("pump with motor should reach 0.65: Colorado State University Extension 4.712")
ASSUMPTIONS: dict[str, Assumption] = {
    "packing": Assumption(mark("packing"), "count", "packing", "packing", 1, mark("coils square on each other")),
    "temperature": Assumption(mark("temperature"), "temperature", "", "temperature_c", 1, _PRACTICE),
    "drive_loss": Assumption(
        mark("drive loss, the most on the card"), "pressure", "drive loss", "drive_loss_kpa", 1e3, mark("the card")
    ),
    "coil_more": Assumption(
        mark("loss of the coils"), "count", "percent", "coil_more_percent", 0.01,
        mark("the middle of published correlations")
    ),
    "discharge": Assumption(
        mark("discharge coefficient"), "count", "part", "discharge", 1,
        mark("Hydraulic Institute, Engineering Data Library")
    ),
    "roughness": Assumption(
        mark("roughness of the hose"), "length", "roughness", "roughness_mm", 1e-3, mark("handbooks, new plastic pipe")
    ),
    "ground_friction": Assumption(
        mark("friction of hose on ground"), "count", "part", "ground_friction", 1,
        mark("the middle of what is published, to 1.0 (Adv. Mech. Eng. 2025)"),
    ),
    "rolling": Assumption(mark("rolling of the cart"), "count", "part", "rolling", 1, mark("handbooks, soft ground")),
    "yield_strength": Assumption(
        mark("yield strength"), "pressure", "strength", "yield_strength_mpa", 1e6,
        mark("ASTM D3350, scaled by ISO 12162")
    ),
    "least_radius": Assumption(
        mark("least radius of the hose"), "length", "", "least_radius_m", 1, mark("PPI Handbook of PE Pipe, ch. 7")
    ),
    "radius_counts": Assumption(
        mark("part of the throw that counts"), "count", "part", "radius_counts", 1, mark("handbooks, part-circle guns")
    ),
    "air": Assumption(mark("air"), "temperature", "", "air_c", 1, _PRACTICE),
    "humidity": Assumption(mark("humidity"), "count", "whole percent", "humidity_percent", 1, _PRACTICE),
    "wind": Assumption(mark("wind, for what is lost"), "speed", "wind", "wind_m_s", 1, _PRACTICE),
    "pump_efficiency": Assumption(mark("efficiency of the pump"), "count", "part", "pump_efficiency", 1, _PLANT),
    "motor_efficiency": Assumption(mark("efficiency of the motor"), "count", "part", "motor_efficiency", 1, _PLANT),
}  # fmt: skip
"""Everything that can be taken, and where its figure comes from as it is shipped."""

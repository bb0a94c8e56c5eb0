"""What can be asked of a set: one table for the command line and the screen. It loads nothing but the units."""

from __future__ import annotations

from typing import NamedTuple

from reelcare.core import units


class Field(NamedTuple):
    """One thing that can be asked: its key, label, what it measures (None: a time), role, and an example."""

    key: str
    label: str
    quantity: units.Quantity | None
    role: str
    example: str


FIELDS: tuple[Field, ...] = (
    Field("spacing", "lane spacing", "length", "", "68 m"),
    Field("out", "pull-out", "length", "", "380 m"),
    Field("depth", "depth of water", "length", "depth", "25 mm"),
    Field("speed", "travel speed", "speed", "travel speed", "22 m/h"),
    Field("flow", "flow", "flow", "", "43 m3/h"),
    Field("nozzle", "nozzle bore", "length", "bore", "24 mm"),
    Field("gun_pressure", "gun pressure", "pressure", "", "4.5 bar"),
    Field("inlet", "inlet pressure", "pressure", "", "7 bar"),
    Field("drive_loss", "loss in the drive", "pressure", "drive loss", "0.5 bar"),
    Field("rise", "rise to the gun", "length", "", "5 m"),
    Field("start", "start", None, "", "2026-05-01T06:30"),
    Field("until", "to be done by", None, "", "2026-05-02T06:30"),
    Field("dwell_start", "dwell at the start", "duration", "", "0.5 h"),
    Field("dwell_end", "dwell at the end", "duration", "", "0.5 h"),
    Field("wind", "wind", "speed", "wind", "10 km/h"),
    Field("intake", "soil's intake", "speed", "rate", "10 mm/h"),
    Field("arc", "arc, degrees", "count", "", "320"),
    Field("temperature", "temperature", "temperature", "", "20 degC"),
    Field("ground_friction", "friction on ground", "count", "", "0.5"),
    Field("coil_more", "coils lose more, %", "count", "", "36"),
)
"""Everything that can be asked of a set, in the order in which a person thinks of it."""
BY_KEY = {one.key: one for one in FIELDS}

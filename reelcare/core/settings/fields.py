"""What can be asked of a set: one table for the command line and the screen. It loads nothing but the units."""

from __future__ import annotations

from typing import NamedTuple

from reelcare.core import units


class SetField(NamedTuple):
    """One thing that can be asked: its key, label, what it measures (None: a time), role, and an example."""

    key: str
    label: str
    quantity: units.Quantity | None
    role: str
    example: str


FIELDS: tuple[SetField, ...] = (
    SetField("spacing", "lane spacing", "length", "", "68 m"),
    SetField("out", "pull-out", "length", "", "380 m"),
    SetField("depth", "depth of water", "length", "depth", "25 mm"),
    SetField("speed", "travel speed", "speed", "travel speed", "22 m/h"),
    SetField("flow", "flow", "flow", "", "43 m3/h"),
    SetField("nozzle", "nozzle bore", "length", "bore", "24 mm"),
    SetField("gun_pressure", "gun pressure", "pressure", "", "4.5 bar"),
    SetField("inlet", "inlet pressure", "pressure", "", "7 bar"),
    SetField("drive_loss", "loss in the drive", "pressure", "drive loss", "0.5 bar"),
    SetField("rise", "rise to the gun", "length", "", "5 m"),
    SetField("start", "start", None, "", "2026-05-01T06:30"),
    SetField("until", "to be done by", None, "", "2026-05-02T06:30"),
    SetField("dwell_start", "dwell at the start", "duration", "", "0.5 h"),
    SetField("dwell_end", "dwell at the end", "duration", "", "0.5 h"),
    SetField("wind", "wind", "speed", "wind", "10 km/h"),
    SetField("intake", "soil's intake", "speed", "rate", "10 mm/h"),
    SetField("arc", "arc, degrees", "count", "", "320"),
    SetField("temperature", "temperature", "temperature", "", "20 degC"),
    SetField("ground_friction", "friction on ground", "count", "", "0.5"),
    SetField("coil_more", "coils lose more, %", "count", "", "36"),
)
"""Everything that can be asked of a set, in the order in which a person thinks of it."""
BY_KEY = {one.key: one for one in FIELDS}

"""The columns of a run log: what they are called, what they fill, and where each stands in a file."""

from __future__ import annotations

from collections.abc import Sequence

from reelcare.core.spreadsheet.columns import NEEDED_OF_RUNS

_FIGURES = {
    "metres": "metres", "planned_speed_m_h": "planned_speed", "inlet_kpa": "inlet", "gun_kpa": "gun",
    "drive_loss_kpa": "drive_loss", "dwell_minutes": "dwell", "volume_m3": "volume", "meter_m3": "meter",
}  # fmt: skip
"""The columns with figures, and the fields that they fill."""
COLUMN_OF = {field.replace("_", " "): column for column, field in _FIGURES.items()} | {"stopped by": "stopped_by"}
"""The columns of the fields as the door names them, where it names them otherwise."""
_SCALE = 1000
"""How many of the register's whole units one of a column's is: mm, mm/h, Pa; but for dwell, seconds of a minute."""
_TEXTS = ("operator", "place", "stopped_by", "notes")


class RunLogColumns:
    """Where each column stands; figures that were read before are remembered by their text."""

    def __init__(self, header: Sequence[str]) -> None:
        places = {name: place for place, name in enumerate(header)}
        self.count = len(places)
        self.machine, self.started, self.ended, self.metres = (places[name] for name in NEEDED_OF_RUNS)
        known: dict[int, dict[str, int | None]] = {_SCALE: {}, 60: {}}
        scales = {"dwell_minutes": 60}
        self.figures = [
            (name, field_, places[name], scales.get(name, _SCALE), known[scales.get(name, _SCALE)])
            for name, field_ in _FIGURES.items()
            if name in places
        ]
        self.texts = [(name, places[name]) for name in _TEXTS if name in places]

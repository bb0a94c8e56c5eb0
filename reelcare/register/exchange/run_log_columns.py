"""The columns of a run log: what they are called, what they fill, and where each stands in a file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from reelcare.core import units
from reelcare.core.spreadsheet.columns import NEEDED_OF_RUNS, SPELT
from reelcare.register.acts.runs import whole

COLUMN_OF = {field: column for column, (field, _unit) in SPELT.items()}
"""The columns of the fields that are called otherwise."""
_SCALES = {
    column: whole(units.from_unit(1, unit), units.UNITS[unit].quantity) for column, (_field, unit) in SPELT.items()
}
"""How many of the whole units in which a run is kept one of a column's is."""
_TEXTS = ("operator", "place", "stopped_by", "notes")


class RunLogColumns:
    """Where each column stands; figures that were read before are remembered by their text."""

    def __init__(self, header: Sequence[str]) -> None:
        places = {name: place for place, name in enumerate(header)}
        self.count = len(places)
        self.machine, self.started, self.ended, self.metres = (places[name] for name in NEEDED_OF_RUNS)
        known: dict[int, dict[str, int | None]] = defaultdict(dict)
        self.figures = [
            (name, field_, places[name], _SCALES[name], known[_SCALES[name]])
            for name, (field_, _unit) in SPELT.items()
            if name in places
        ]
        self.texts = [(name, places[name]) for name in _TEXTS if name in places]

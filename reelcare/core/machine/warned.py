"""What a set is warned of: a code that other programs can rely on, and a sentence in the person's units.

The rules of this file: a sentence names the figure, its limit and the cure. Figures stand in it as SI values with
their quantity, so that they are written when somebody reads them.
"""

from __future__ import annotations

from dataclasses import dataclass

from reelcare.core import units

Figure = tuple[float, units.Quantity, str]
"""A value in SI, what it measures, and the role that rounds it."""

CODES: dict[str, str] = {
    "pull-out": "more is pulled out than there is hose",
    "coils": "too few coils stay on the drum",
    "drum": "the card's hose does not fit on the card's drum",
    "gun-low": "gun pressure under its range",
    "gun-high": "gun pressure over its range",
    "not-fed": "the inlet does not feed the gun as wanted",
    "nozzle": "flow, nozzle and pressure do not belong together",
    "drive-loss": "the drive takes too much",
    "drag": "the hose pulls harder than its wall may bear",
    "hose-pressure": "pressure over what the hose is rated for",
    "spacing": "lanes too far apart for the wind",
    "runoff": "water falls faster than the soil takes it in",
    "late": "the run is not done in time",
    "speed-spread": "the cart's speed changes much over the run",
    "bend-early": "a curve begins too near to the machine",
    "bend-much": "too much curve in all",
}
"""Every code, and what it means."""


@dataclass(frozen=True, slots=True)
class Warned:
    """One warning. `says` has a pair of braces for each figure."""

    code: str
    says: str
    figures: tuple[Figure, ...] = ()

    def text(self, system: units.System = "metric") -> str:
        """The sentence in the units of a system.

        >>> Warned("coils", "{} coils stay", ((1.46, "count", ""),)).text()
        '1.5 coils stay'
        """
        return self.says.format(*(_figure(figure, system) for figure in self.figures))


def _figure(figure: Figure, system: units.System) -> str:
    value, quantity, role = figure
    if quantity == "count":
        return f"{value:.0f}" if role == "whole" else f"{value:.1f}"
    return units.show(value, quantity, system, role=role)

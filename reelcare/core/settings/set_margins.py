"""A limited figure of a set: what it likely is, what it is at its unsafe end, how much of its limit is left, and where.

The rules of this file: every limit is 100 %, whatever it measures. Only what is likely decides whether a set holds; the
unsafe end warns. A margin is what is left to 100 %, negative past it.
"""

from __future__ import annotations

from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.settings.warning_codes import Warned

MOST = 999.0
"""No figure is told as more percent of its limit than this."""
LABELS: dict[str, str] = {
    "pull-out": "hose pulled out", "coils": "coils left", "drum": "hose on the drum", "gun-low": "gun pressure, least",
    "gun-high": "gun pressure, most", "not-fed": "inlet pressure", "drive-loss": "drive loss",
    "drag": "pull on the hose", "wall": "wall of the hose", "hose-pressure": "rating of the hose",
    "spacing": "lane spacing", "wind": "wind", "wind-rows": "wind, published rows", "runoff": "rate on the soil",
    "slope": "slope", "bend-early": "straight first", "bend-much": "curve in all", "bend-tight": "tightest curve",
}  # fmt: skip
"""What people call each limited figure."""
WORST_WHEN: dict[str, str] = {
    "drag": "on dry ground", "wall": "on dry ground, hose hot in the sun", "hose-pressure": "hose hot in the sun",
    "gun-low": "rough hose, coils that lose most", "gun-high": "smooth hose, coils that lose least",
    "not-fed": "rough hose, coils that lose most",
}  # fmt: skip
"""What makes a figure its worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """One limited figure in SI, its likely and its worst value with the limit of each, and where they stand.

    `slack` is how far past the limit still counts as on it; `warned` is what is said where it is past.
    """

    warned: Warned
    likely: float
    limit: float
    quantity: units.Quantity
    role: str = ""
    worst: float | None = None
    worst_limit: float | None = None
    where: str = ""
    worst_where: str = ""
    at_least: bool = False
    decides: bool = True
    slack: float = 1.0

    @property
    def code(self) -> str:
        """Its code among the warnings."""
        return self.warned.code

    @property
    def over(self) -> bool:
        """Whether the likely figure is past its limit."""
        return self.margin < 0

    @property
    def percent(self) -> float:
        """The likely figure in percent of its limit."""
        return 100 - self.margin

    @property
    def worst_percent(self) -> float:
        """The worst figure in percent of its limit."""
        return 100 - self.worst_margin

    @property
    def margin(self) -> float:
        """What is left, in percent of the limit; negative past it."""
        return self._margin(self.likely, self.limit)

    @property
    def worst_margin(self) -> float:
        """What is left at the unsafe end; never more than what is likely left."""
        value = self.likely if self.worst is None else self.worst
        return min(self.margin, self._margin(value, self.limit if self.worst_limit is None else self.worst_limit))

    def _margin(self, value: float, limit: float) -> float:
        above, below = (limit * self.slack, value) if self.at_least else (value, limit * self.slack)
        if below <= 0:
            return 0.0 if above <= 0 else 100 - MOST
        return max(100 * (1 - above / below), 100 - MOST)

"""How a person wants things shown, and what the terminal can bear."""

from __future__ import annotations

from typing import NamedTuple

from reelcare import languages
from reelcare.core.text import mark
from reelcare.core.units import System

UNITS: dict[System, str] = {"metric": mark("metric"), "us": mark("US customary")}
"""Systems of units, in words."""


class Preferences(NamedTuple):
    """Units and language of the person; a slow line, and a terminal that has ASCII only."""

    system: System = "metric"
    language: str = "en"
    slow: bool = False
    ascii: bool = False

    def with_other_units(self) -> Preferences:
        """The same in US customary units instead of metric ones, or back."""
        return self._replace(system="us" if self.system == "metric" else "metric")

    def with_next_language(self) -> Preferences:
        """The same in the next of the languages."""
        return self._replace(language=languages.after(self.language))


USUAL = Preferences()
"""Where nothing is said."""

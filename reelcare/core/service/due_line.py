"""One item of one machine's plan, as a list of what is due shows it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from reelcare.core.forecast.forecast import Forecast
from reelcare.core.scales import Threshold
from reelcare.core.service.due import STATES, Due
from reelcare.core.service.plan import Item


class DueLine(NamedTuple):
    """One item of one machine's plan, where it stands, by which thresholds, and (where asked for) when it will be due.

    `forecast_reason` says why there is no forecast where one was asked for; `planned` is the day of a service after
    the next one, in a plan of the weeks to come.
    """

    machine: str
    tag: str
    place: str
    item: Item
    due: Due
    thresholds: Sequence[Threshold]
    last_done: date | None
    forecast: Forecast | None = None
    planned: date | None = None
    forecast_reason: str = ""

    @property
    def order(self) -> tuple[int, float, str, str]:
        """Its place in a list, the worst first: by state, then by the used part of its interval."""
        return STATES.index(self.due.state), -self.due.used_fraction, self.tag, self.item.id

    @property
    def news(self) -> bool:
        """Whether it tells more than that a check is due before the next run."""
        return not self.item.each_time or self.due.state == "overdue"

"""One item of one machine's plan, as a list of what is due shows it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from reelcare.core.forecast.forecast import Forecast
from reelcare.core.service.due import Due
from reelcare.core.service.plan import Item


@dataclass(frozen=True, slots=True)
class DueLine:
    """One item of one machine's plan, where it stands, and (where asked for) when it will fall due.

    `forecast_reason` says why there is no forecast where one was asked for; `planned` is the day of a service after
    the next one, in a plan of the weeks to come.
    """

    machine: str
    tag: str
    place: str
    item: Item
    due: Due
    last_done: date | None
    forecast: Forecast | None = None
    planned: date | None = None
    forecast_reason: str = ""

    @property
    def news(self) -> bool:
        """Whether it tells more than that a check is due before the next run."""
        return not self.item.each_time or self.due.state == "overdue"

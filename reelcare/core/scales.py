"""The scales of intervals, and how far something is said to be: what a list can be written from without a plan at hand.

The rules of this file: names and words only; what is due is for `due.py` to judge.
"""

from __future__ import annotations

from typing import Literal

By = Literal["hours", "metres", "runs", "date"]
SCALES: tuple[By, ...] = ("hours", "metres", "runs", "date")
SOON = 0.9
"""The used part of an interval from which an item is shown as coming soon (common practice, no source)."""
WHOLE = {"hours": 3600, "metres": 1000, "runs": 1, "date": 1}
"""How many of the whole numbers that are kept (s, mm, runs, days) make one of what is said (h, m, runs, days)."""

_UNITS = {"hours": "h", "metres": "m", "runs": "runs", "date": "days"}


def why(by: str, left: float) -> str:
    """Where something stands, in words; `left` is in h, m, runs or days, and negative when past.

    >>> why("hours", 12.25), why("date", -1), why("metres", 0.01), why("date", 0)
    ('in 12 h', '1 day past due', 'in less than 0.1 m', 'due today')
    """
    distance = abs(left)
    amount = f"{distance:.0f}" if distance >= 10 or distance == int(distance) else f"{distance:.1f}"
    unit = "run" if by == "runs" and amount == "1" else "day" if by == "date" and amount == "1" else _UNITS[by]
    if left == 0:
        return "due today" if by == "date" else "due now"
    if amount == "0.0":
        return "due now" if left < 0 else f"in less than 0.1 {unit}"
    return f"{amount} {unit} past due" if left < 0 else f"in {amount} {unit}"

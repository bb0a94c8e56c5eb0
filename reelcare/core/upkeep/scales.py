"""The scales of intervals, and how far something is said to be: what a list can be written from without a plan at hand.

The rules of this file: names and words only; what is due is for `due.py` to judge.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

By = Literal["hours", "metres", "runs", "date"]
SCALES: tuple[By, ...] = ("hours", "metres", "runs", "date")
SOON = 0.9
"""The used part of an interval from which an item is shown as coming soon (common practice, no source)."""
WHOLE = {"hours": 3600, "metres": 1000, "runs": 1, "date": 1}
"""How many of the whole numbers that are kept (s, mm, runs, days) make one of what is said (h, m, runs, days)."""
Figures = tuple[str, float, float, float, float, float]
"""The scale that governs, and in its unit: used, interval, left, life, left of the grace."""


def past_grace(columns: Sequence[int | None], here: Sequence[int]) -> Figures | None:
    """Where an item stands by the scale on which it is furthest past its grace; None where it is past on none.

    `columns` are from, due and late of each scale, `here` where the machine stands (s, mm, runs, day number). It is the
    rule of `due.judge_limbs` for what is overdue, for lists that are told before anything else is loaded; a test holds
    the two together.

    >>> past_grace((0, 360_000, 396_000, *[None] * 9), (432_000, 0, 0, 1))
    ('hours', 120.0, 100.0, -20.0, 1.2, -10.0)
    """
    found, most = -1, 0.0
    for place in range(4):
        late = columns[3 * place + 2]
        if late is not None and here[place] > late:
            base, limit = columns[3 * place] or 0, columns[3 * place + 1] or 0
            life = (here[place] - base) / (limit - base)
            if found < 0 or life > most:
                found, most = place, life
    if found < 0:
        return None
    by = SCALES[found]
    one, base, limit, late = (
        WHOLE[by],
        columns[3 * found] or 0,
        columns[3 * found + 1] or 0,
        columns[3 * found + 2] or 0,
    )
    at = here[found]
    return by, (at - base) / one, (limit - base) / one, (limit - at) / one, most, (late - at) / one


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

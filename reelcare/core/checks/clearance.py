"""What a passed check is good for: one run, or one move, within a time.

The rules of this file: a clearance is spent by the run (or the move) it was given for, and by anything that
undoes what was looked at; it lapses by itself. Holds outrank it and are not judged here.
"""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo
from typing import Literal, Protocol

LAPSE = timedelta(hours=24)
"""How long a passed check stands, where the register's people chose no other (common practice, no source)."""
AHEAD = timedelta(minutes=5)
"""How far a check may seem to lie ahead: clocks of terminals differ a little."""
Clearance = Literal["passed", "no check", "used up", "lapsed", "dated later"]
"""Whether a side is cleared ("passed"), or why not."""


class PassedCheck(Protocol):
    """A check that was passed, proved by its answers, and what has used it up since."""

    @property
    def at(self) -> datetime: ...  # noqa: D102
    @property
    def by(self) -> str: ...  # noqa: D102
    @property
    def spent(self) -> datetime | None: ...  # noqa: D102
    @property
    def spent_by(self) -> str: ...  # noqa: D102


def clearance(passed: PassedCheck | None, now: datetime, lapse: timedelta) -> Clearance:
    """Whether a side is cleared now by the last check that was passed for it, or why not.

    >>> from datetime import UTC
    >>> clearance(None, datetime(2026, 5, 1, tzinfo=UTC), LAPSE)
    'no check'
    """
    if passed is None:
        return "no check"
    if passed.spent is not None:
        return "used up"
    if now - passed.at > lapse:
        return "lapsed"
    return "dated later" if now < passed.at - AHEAD else "passed"


def clearance_text(code: Clearance, side: str, passed: PassedCheck | None, lapse: timedelta, zone: tzinfo) -> str:
    """Why a side ("run" or "road") is cleared or not, in one line, which names days of a zone."""
    name = {"run": "pre-start", "road": "road check"}[side]
    if passed is None:
        return f"no {name} passed yet"
    day = f"{passed.at.astimezone(zone):%Y-%m-%d}"
    return {
        "passed": f"{name} passed by {passed.by}",
        "no check": f"no {name} passed yet",
        "used up": f"{name} of {day} is used up by {passed.spent_by}",
        "lapsed": f"{name} of {day} is more than {lapse // timedelta(hours=1)} h old",
        "dated later": f"{name} is dated {day}, later than now; look at the clock",
    }[code]

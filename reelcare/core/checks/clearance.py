"""What a passed check is good for: one run, or one move, within a time.

The rules of this file: a clearance is spent by the run (or the move) it was given for, and by anything that
undoes what was looked at; it lapses by itself. Holds outrank it and are not judged here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

LAPSE = timedelta(hours=24)
"""How long a passed check stands, where the register's people chose no other (common practice, no source)."""
AHEAD = timedelta(minutes=5)
"""How far a check may seem to lie ahead: clocks of terminals differ a little."""


@dataclass(frozen=True, slots=True)
class PassedCheck:
    """A check that was passed, proved by its answers."""

    check: str
    sheet: str
    at: datetime
    by: str


def clear_for(
    side: str,
    passed: PassedCheck | None,
    *,
    spent_at: datetime | None,
    spent_by: str,
    now: datetime,
    lapse: timedelta,
    zone: tzinfo,
) -> tuple[bool, str]:
    """Whether a side ("run" or "road") is cleared, and why or why not in one line, which names days of a zone.

    >>> from datetime import UTC
    >>> now = datetime(2026, 5, 1, tzinfo=UTC)
    >>> clear_for("run", None, spent_at=None, spent_by="", now=now, lapse=timedelta(hours=24), zone=UTC)
    (False, 'no pre-start passed yet')
    """
    name = {"run": "pre-start", "road": "road check"}[side]
    if passed is None:
        return False, f"no {name} passed yet"
    if spent_at is not None:
        return False, f"{name} of {_when(passed.at, zone)} is used up by {spent_by}"
    if now - passed.at > lapse:
        return False, f"{name} of {_when(passed.at, zone)} is more than {lapse // timedelta(hours=1)} h old"
    if now < passed.at - AHEAD:
        return False, f"{name} is dated {_when(passed.at, zone)}, later than now; look at the clock"
    return True, f"{name} passed by {passed.by}"


def _when(moment: datetime, zone: tzinfo) -> str:
    return f"{moment.astimezone(zone):%Y-%m-%d}"

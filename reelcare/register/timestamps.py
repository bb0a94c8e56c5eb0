"""Moments as a register keeps them: whole milliseconds since 1970, in UTC."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from reelcare.core.text import _
from reelcare.register.errors import Refused

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)


def milliseconds(moment: datetime) -> int:
    """Milliseconds since 1970 of an aware moment."""
    if moment.tzinfo is None:
        raise Refused(_("a time without a zone: give an offset, as in 2026-03-01T06:30+02:00"))
    return (moment - _EPOCH) // _MILLISECOND


def moment(ms: int) -> datetime:
    """The moment [UTC] of a number of milliseconds since 1970."""
    return _EPOCH + ms * _MILLISECOND

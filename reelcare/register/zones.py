"""The zone in which a register counts its days: that of the computer on which it was made."""

from __future__ import annotations

import os
from datetime import UTC, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

HERE = "local"
"""The name for 'whatever this computer's clock is set to', where the system tells no better one."""


def name_of_here() -> str:
    """The IANA name of this computer's zone, or `HERE` where it cannot be told."""
    named = os.environ.get("TZ", "").lstrip(":")
    if named and _known(named):
        return named
    link = Path("/etc/localtime")
    if link.is_symlink():
        after = str(link.resolve()).rpartition("zoneinfo/")[2]
        if _known(after):
            return after
    return HERE


def _known(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def zone(name: str) -> tzinfo:
    """The zone of that name; this computer's own for `HERE` or a name that is not known here."""
    if name == "UTC":
        return UTC
    if name != HERE and _known(name):
        return ZoneInfo(name)
    from dateutil.tz import tzlocal

    return tzlocal()

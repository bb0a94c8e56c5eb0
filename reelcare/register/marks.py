"""The checks of a time as they were answered, for the marks on them (`core/checks/quality.py`)."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from reelcare.core import entries as e
from reelcare.core.checks.quality import Asked
from reelcare.register import walks
from reelcare.register.moments import milliseconds

if TYPE_CHECKING:
    from reelcare.register.register import Register


def checks_between(register: Register, since: datetime, until: datetime) -> list[Asked]:
    """Every check that was signed or that held a machine in a time, in order."""
    from reelcare.register.questions import IN_ORDER, STANDS

    ended = register.entries(
        f"kind = 'check ended' AND {STANDS} AND happened > ? AND happened <= ? {IN_ORDER}",
        milliseconds(since), milliseconds(until),
    )  # fmt: skip
    found = []
    for one in ended:
        if isinstance(one.what, e.CheckEnded) and one.what.verdict != "left" and one.machine is not None:
            found.append(Asked(one.what.check, one.machine, one.by, walks.check(register, one.what.check).walk))
    return found

"""People: enrolling them, and what comes with the first one."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.register import sheets
from reelcare.register.few import roles_of
from reelcare.register.moments import milliseconds
from reelcare.register.questions import FEW, IN_ORDER
from reelcare.register.register import Draft, Register


def roles_at(register: Register, at: datetime) -> dict[str, str]:
    """Every person who was enrolled at a moment past, with the role they had then."""
    return roles_of(register.entries(f"{FEW} AND kind = 'person' AND happened <= ? {IN_ORDER}", milliseconds(at)))


def enrol(
    register: Register, name: str, role: str, *, by: str, now: datetime, happened: datetime | None = None
) -> e.Entry:
    """Enrol a person, or give one another role.

    The first person must be a supervisor and enrols themself; the default service plan is put in force with
    them, so that from then on the register says by itself what was planned when.
    """
    at = happened or now
    person = Draft(what=e.Enrolled(name=name, role=role), happened=at)
    if register.roles():
        return register.add_all([person], by=by, now=now)[0]
    _, table = sheets.default_plan()
    return register.add_all([person, Draft(what=e.Planned(plan=table), happened=at)], by=name, now=now)[0]

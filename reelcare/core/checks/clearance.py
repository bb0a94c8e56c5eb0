"""What a passed check is good for: one run, or one move, within a time.

The rules of this file: a clearance is spent by the run (or the move) it was given for, and by anything that
undoes what was looked at; it lapses by itself. Holds outrank it and are not judged here.
"""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo
from typing import Literal, NamedTuple

from reelcare.core.checks.verdict import PAUSE
from reelcare.core.text import _, mark

LAPSE = timedelta(hours=24)
"""How long a passed check stands (common practice, no source)."""
AHEAD = timedelta(minutes=5)
"""How far a check may seem to lie ahead: clocks of terminals differ a little."""
LOOKED_AT_BY = timedelta(minutes=30)
"""How long after its water a machine may run before somebody has looked at it (common practice, no source)."""
Clearance = Literal["passed", "no check", "used up", "lapsed", "dated later", "may pull out", "fallen back"]
"""Whether a side is cleared ("passed"), or why not."""


class Passed(NamedTuple):
    """The last check for the run or the road that its own answers bear out, and what has used it up since. On a sheet
    with gates: the last gate that is signed, since when the water is open, the planned finish (ISO text), and when it
    was gone on with last before that."""

    check: str
    sheet: str
    at: datetime
    by: str
    spent: datetime | None = None
    spent_by: str = ""
    gate: str = ""
    opened: datetime | None = None
    finish: str = ""
    seen_again: datetime | None = None
    before: Passed | None = None
    """The clearance that stood when this one was passed: it still counts where the clock of this one was ahead."""

    def after(self, other: Passed | None) -> Passed:
        """This one, passed while another stood; more than `MOST_BEFORE` are not remembered."""
        before = other._replace(before=_last(other.before, MOST_BEFORE - 1)) if other is not None else None
        return self._replace(before=before)

    def spend(self, at: datetime, by: str) -> Passed:
        """This one, used up at a moment, and those before it, as far as they were passed by then."""
        before = self.before.spend(at, by) if self.before is not None else None
        if self.spent is None and at >= self.at:
            return self._replace(spent=at, spent_by=by, before=before)
        return self._replace(before=before) if before != self.before else self

    def without(self, check: str) -> Passed | None:
        """The clearance without a check that no longer counts as passed; None where no other is left."""
        before = self.before.without(check) if self.before is not None else None
        return before if self.check == check else self._replace(before=before)


MOST_BEFORE = 3
"""How many checks that stood before the last one are remembered."""


def _last(passed: Passed | None, many: int) -> Passed | None:
    return passed._replace(before=_last(passed.before, many - 1)) if passed is not None and many > 0 else None


def in_force(passed: Passed | None, now: datetime) -> Passed | None:
    """The check that counts now: one that is dated later never hides the one that stands."""
    while passed is not None and passed.before is not None and now < passed.at - AHEAD:
        passed = passed.before
    return passed


def clearance(passed: Passed | None, now: datetime) -> Clearance:
    """Whether a side is cleared now by the last check that was passed for it, or why not.

    >>> from datetime import UTC
    >>> clearance(None, datetime(2026, 5, 1, tzinfo=UTC))
    'no check'
    """
    passed = in_force(passed, now)
    if passed is None:
        return "no check"
    if passed.spent is not None:
        return "used up"
    if now - passed.at > LAPSE:
        return "lapsed"
    if now < passed.at - AHEAD:
        return "dated later"
    waits = passed.gate in ("pull-out", "water") and passed.opened is None
    if waits and now - (passed.seen_again or passed.at) >= PAUSE:
        return "fallen back"
    return "may pull out" if passed.gate == "pull-out" else "passed"


def gate_now(passed: Passed | None, now: datetime) -> str:
    """The last gate of the run at hand whose signature stands; '' where none does."""
    passed = in_force(passed, now)
    code = clearance(passed, now)
    if passed is None or code not in ("passed", "may pull out", "fallen back"):
        return ""
    if code == "fallen back":
        return "pull-out" if passed.gate == "water" else ""
    return passed.gate


SPENT_BY = (
    mark("the run"), mark("the run check since"), mark("the road check since"), mark("the stop half-way"),
    mark("the move"), mark("another check since"),
)  # fmt: skip
"""What a passed check can be used up by, as states keep it."""


def planned_finish(text: str, zone: tzinfo) -> datetime | None:
    """When a run ends by its set, in a zone, in which a time without one of its own is taken; None where nothing was
    planned.

    >>> from datetime import UTC
    >>> planned_finish("2026-07-01T08:08", UTC).isoformat()
    '2026-07-01T08:08:00+00:00'
    """
    if not text:
        return None
    ends = datetime.fromisoformat(text)
    return ends.replace(tzinfo=zone) if ends.tzinfo is None else ends.astimezone(zone)


def planned_end(passed: Passed, zone: tzinfo) -> datetime | None:
    """When the run at hand ends by its set; None where nothing was planned, or for another run: a time that was past
    before the water was on says nothing of this one."""
    until = planned_finish(passed.finish, zone)
    return until if until is not None and until > (passed.opened or passed.at) else None


def is_running(passed: Passed, now: datetime) -> bool:
    """Whether its water is on for so long that it should have been looked at: it runs, whatever was signed since."""
    return now - (passed.opened or passed.at) >= LOOKED_AT_BY


def _running_text(passed: Passed, signed: str, now: datetime, zone: tzinfo) -> str:
    """What the gates of a machine that is clear say of its run."""
    if passed.gate == "running":
        until = planned_end(passed, zone)
        if until is None:
            return _("running, {signed}", signed=signed)
        return _("running until {until:%H:%M}, {signed}", until=until, signed=signed)
    if is_running(passed, now):
        return _("running, not yet looked at; water {signed}", signed=signed)
    return _("water, {signed}", signed=signed)


def clearance_text(code: Clearance, side: str, passed: Passed | None, zone: tzinfo, now: datetime) -> str:
    """Why a side ("run" or "road") is cleared or not, in one line, which names days of a zone."""
    name = _("pre-start") if side == "run" else _("road check")
    passed = in_force(passed, now)
    if passed is None:
        return _("no valid {check}", check=name)
    at = passed.at.astimezone(zone)
    signed = _("signed {at:%H:%M} by {name}", at=at, name=passed.by)
    if code == "passed" and passed.gate:
        return _running_text(passed, signed, now, zone)
    told = {
        "passed": mark("{check} passed by {name}"),
        "may pull out": mark("may pull out, not yet open the water; {signed}"),
        "fallen back": mark("{signed}, more than {pause} h ago: look again at what moves by hand"),
        "no check": mark("no valid {check}"),
        "used up": mark("{check} of {at:%Y-%m-%d} no longer counts after {spent_by}; do a new one"),
        "lapsed": mark("{check} of {at:%Y-%m-%d} is more than {lapse} h old"),
        "dated later": mark("{check} is dated {at:%Y-%m-%d}, later than now; check the clock"),
    }[code]
    return _(
        told, check=name, at=at, name=passed.by, signed=signed, spent_by=_(passed.spent_by),
        pause=PAUSE // timedelta(hours=1), lapse=LAPSE // timedelta(hours=1),
    )  # fmt: skip

"""A tally as plain JSON values and back, for the register's rollup."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core.forecast.forecast import Use
from reelcare.core.service import due
from reelcare.core.state.counters import Counters
from reelcare.core.state.tally import OpenCheck, OpenFault, Passed, Tally

Json = Any


def to_plain(tally: Tally) -> dict[str, Json]:
    """The tally as plain JSON values, for the register's rollup."""
    return {name: part(getattr(tally, name)) for name, part in PARTS.items()}


def from_plain(plain: Mapping[str, Json], card: Mapping[str, Json]) -> Tally:
    """The tally that `to_plain` wrote; the card is kept beside it."""
    last = plain["last"]
    return Tally(
        machine=plain["machine"],
        began=date.fromisoformat(plain["began"]),
        card=card,
        counters=Counters.from_plain(plain["counters"]),
        cycles={id: due.Cycle.from_plain(one) for id, one in plain["cycles"].items()},
        faults=tuple(
            OpenFault(id, _fault_of(body), e.time_of(since), by, status)
            for id, body, since, by, status in plain["faults"]
        ),
        checks=tuple(
            OpenCheck(id, sheet, checks_for, e.time_of(begun), by, _moment(answered))
            for id, sheet, checks_for, begun, by, answered in plain["checks"]
        ),
        passed={
            side: Passed(check, sheet, e.time_of(at), by, _moment(spent), spent_by, proved)
            for side, (check, sheet, at, by, spent, spent_by, proved) in plain["passed"].items()
        },
        last_check=_moment(plain["last_check"]),
        last_run=_moment(plain["last_run"]),
        use=Use.from_plain(plain["use"]),
        last=(e.time_of(last[0]), e.time_of(last[1]), last[2]) if last else None,
    )


def _fault_of(body: Mapping[str, Json]) -> e.Fault:
    what = e.from_body(e.Fault.kind, body)
    assert isinstance(what, e.Fault)
    return what


def _text(moment: datetime | None) -> str | None:
    return e.time_text(moment) if moment is not None else None


def _moment(text: str | None) -> datetime | None:
    return e.time_of(text) if text is not None else None


def _faults(faults: Iterable[OpenFault]) -> Json:
    return [[one.id, e.to_body(one.what), e.time_text(one.since), one.by, one.status] for one in faults]


def _checks(checks: Iterable[OpenCheck]) -> Json:
    return [[one.id, one.sheet, one.checks_for, e.time_text(one.begun), one.by, _text(one.answered)] for one in checks]


def _passed(passed: Mapping[str, Passed]) -> Json:
    return {
        side: [one.check, one.sheet, e.time_text(one.at), one.by, _text(one.spent), one.spent_by, one.proved]
        for side, one in sorted(passed.items())
    }


PARTS: Mapping[str, Callable[[Any], Json]] = {
    "began": date.isoformat,
    "checks": _checks,
    "counters": Counters.to_plain,
    "cycles": lambda cycles: {id: cycle.to_plain() for id, cycle in sorted(cycles.items())},
    "faults": _faults,
    "last": lambda last: [_text(last[0]), _text(last[1]), last[2]] if last else None,
    "last_check": _text,
    "last_run": _text,
    "machine": str,
    "passed": _passed,
    "use": Use.to_plain,
}
"""What makes each field of a tally plain, from A to Z; its card is kept beside it."""

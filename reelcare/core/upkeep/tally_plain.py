"""A tally as plain JSON values and back, for the register's rollup."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core.upkeep import due
from reelcare.core.upkeep.counters import Counters
from reelcare.core.upkeep.forecast import Use
from reelcare.core.upkeep.tally import OpenCheck, OpenFault, Passed, Tally

Json = Any


def to_plain(tally: Tally) -> dict[str, Json]:
    """The tally as plain JSON values, for the register's rollup."""
    return {
        "machine": tally.machine,
        "began": tally.began.isoformat(),
        "counters": tally.counters.to_plain(),
        "cycles": {id: cycle.to_plain() for id, cycle in sorted(tally.cycles.items())},
        "faults": [[one.id, e.to_body(one.what), e.time_text(one.since), one.by, one.status] for one in tally.faults],
        "checks": [
            [one.id, one.sheet, one.checks_for, e.time_text(one.begun), one.by, _text(one.answered)]
            for one in tally.checks
        ],
        "passed": {
            side: [
                one.check,
                one.sheet,
                e.time_text(one.at),
                one.by,
                _text(one.spent),
                one.spent_by,
                one.proved,
            ]
            for side, one in sorted(tally.passed.items())
        },
        "last_check": _text(tally.last_check),
        "last_run": _text(tally.last_run),
        "use": tally.use.to_plain(),
        "last": [_text(tally.last[0]), _text(tally.last[1]), tally.last[2]] if tally.last else None,
    }


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

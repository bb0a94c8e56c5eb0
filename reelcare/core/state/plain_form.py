"""A machine's state as one text and back, for the register to keep: the same state gives the same text."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date, datetime
from types import MappingProxyType
from typing import Any

from reelcare.core.canonical_json import canonical
from reelcare.core.checks.clearance import Passed
from reelcare.core.checks.verdict import LaterSet, Signature
from reelcare.core.forecast.usage_history import Use
from reelcare.core.service.due import Cycle
from reelcare.core.service.due_line import Assignment
from reelcare.core.state.counters import Counters, Totals
from reelcare.core.state.machine_state import (
    Answer,
    MachineState,
    OpenCheck,
    OpenFault,
    OpenNote,
    PulledOut,
    Retirement,
    ToldScales,
    ToldUse,
    WholeCheck,
)
from reelcare.core.timestamps import optional_time, time_of, time_text

Json = Any


def _plain(value: Any) -> Json:
    """What JSON has no form for: moments, days, and mappings that cannot be changed."""
    if isinstance(value, datetime):
        return time_text(value)
    return value.isoformat() if isinstance(value, date) else dict(value)


encode = json.JSONEncoder(
    separators=(",", ":"), sort_keys=True, ensure_ascii=False, check_circular=False, default=_plain
).encode
"""Of values without fractions, which differ from one writer of JSON to another; a card can have some. A named tuple is
the list of its fields."""


def filled(**values: object) -> dict[str, object]:
    """Those of some values that are not empty."""
    return {name: value for name, value in values.items() if value}


def to_plain(state: MachineState) -> str:
    """The state as one JSON text."""
    rest = {
        "began": state.began,
        "checks": [_check(one, state.card) for one in state.checks],
        "counters": state.counters._asdict(),
        "cycles": state.cycles,
        "early": state.early,
        "faults": [fault_to_plain(one) for one in state.faults],
        "last": state.last,
        "last_check": state.last_check,
        "last_run": state.last_run,
        "machine": state.machine,
        "passed": {side: passed_to_plain(one) for side, one in state.passed.items()},
        "use": state.use._asdict(),
        "whole": state.whole,
        **filled(notes=state.notes, given=state.given, out=state.out, retired=state.retired, told=state.told),
    }
    cards = [one.card for one in state.checks if one.card != state.card]
    return f'{{"card":{canonical(dict(state.card))},"cards":{canonical(cards)},{encode(rest)[1:]}'


def from_plain(text: str) -> MachineState:
    """The state that `to_plain` wrote."""
    plain = json.loads(text)
    card, last, cards = plain["card"], plain["last"], iter(plain["cards"])
    out = plain.get("out")
    return MachineState(
        machine=plain["machine"],
        began=date.fromisoformat(plain["began"]),
        card=card,
        counters=Counters.from_plain(plain["counters"]),
        cycles=MappingProxyType({id: Cycle.from_plain(one) for id, one in plain["cycles"].items()}),
        faults=tuple(map(read_fault, plain["faults"])),
        checks=tuple(_read_check(one, card if one["same_card"] else next(cards)) for one in plain["checks"]),
        early=MappingProxyType({id: _read_answers(some) for id, some in plain["early"].items()}),
        passed=MappingProxyType({side: read_passed(one) for side, one in plain["passed"].items()}),
        whole=MappingProxyType({id: WholeCheck(sheet, time_of(at)) for id, (sheet, at) in plain["whole"].items()}),
        notes=tuple(read_note(one) for one in plain.get("notes", ())),
        given=MappingProxyType(read_given(plain.get("given", {}))),
        out=PulledOut(out[0], out[1], time_of(out[2])) if out else None,
        retired=read_retired(plain.get("retired")),
        last_check=optional_time(plain["last_check"]),
        last_run=optional_time(plain["last_run"]),
        use=Use.from_plain(plain["use"]),
        told=_read_told(plain.get("told")),
        last=(time_of(last[0]), time_of(last[1]), last[2]) if last else None,
    )


def _read_told(plain: Json) -> ToldUse | None:
    if plain is None:
        return None
    every, items = plain
    return ToldUse(_read_scales(every), MappingProxyType({id: _read_scales(one) for id, one in items.items()}))


def _read_scales(plain: Json) -> ToldScales:
    extra, shown = (Totals(*one) for one in plain)
    return ToldScales(extra, shown)


_OF_A_FAULT = tuple((one.name, {} if one.default_factory is dict else one.default) for one in fields(OpenFault))


def fault_to_plain(fault: OpenFault) -> Json:
    """What is not as usual of a fault."""
    values = ((name, getattr(fault, name), usual) for name, usual in _OF_A_FAULT)
    return {name: value for name, value, usual in values if value != usual}


def read_fault(plain: Mapping[str, Json]) -> OpenFault:
    """What `fault_to_plain` wrote."""
    return OpenFault(**{**plain, "since": time_of(plain["since"])})


def read_note(plain: Json) -> OpenNote:
    """A note as `encode` writes it."""
    id, says, since, by, until, near_miss = plain
    return OpenNote(id, says, time_of(since), by, until, near_miss)


def read_retired(plain: Json) -> Retirement | None:
    """When and why a machine left the yard, as `encode` writes it; None for None."""
    return Retirement(time_of(plain[0]), plain[1]) if plain else None


def read_given(plain: Mapping[str, Json]) -> dict[str, Assignment]:
    """To whom lines are given, as `encode` writes it."""
    return {item: Assignment(to, date.fromisoformat(day)) for item, (to, day) in plain.items()}


_OF_A_CHECK = tuple(one.name for one in fields(OpenCheck) if one.name != "card")
_WHERE_FILLED = {"follows_set", "told", "signed", "sets"}


def _check(check: OpenCheck, card: Mapping[str, Json]) -> Json:
    values = ((name, getattr(check, name)) for name in _OF_A_CHECK)
    kept = {name: value for name, value in values if value or name not in _WHERE_FILLED}
    return kept | {"same_card": check.card == card}


def _read_check(plain: dict[str, Json], card: Mapping[str, Json]) -> OpenCheck:
    rest = {name: value for name, value in plain.items() if name != "same_card"}
    return OpenCheck(
        **rest | {"begun": time_of(plain["begun"]), "left_out": tuple(plain["left_out"])}
        | {"answers": _read_answers(plain["answers"])}
        | {"signed": tuple(Signature(gate, time_of(at), by, id) for gate, at, by, id in plain.get("signed", ()))}
        | {"sets": tuple(LaterSet(time_of(at), planned) for at, planned in plain.get("sets", ()))},
        card=card,
    )  # fmt: skip


def _read_answers(plain: Iterable[Json]) -> tuple[Answer, ...]:
    return tuple(Answer(question, seen, time_of(at), id, by) for question, seen, at, id, by in plain)


def passed_to_plain(one: Passed) -> Json:
    """A passed check: of one without gates, before which none stood, what comes first."""
    if not one.gate and one.before is None:
        return one[:6]
    return one._replace(before=None if one.before is None else passed_to_plain(one.before))


def read_passed(plain: Json) -> Passed:
    """What `passed_to_plain` wrote."""
    check, sheet, at, by, spent, spent_by, *more = plain
    passed = Passed(check, sheet, time_of(at), by, optional_time(spent), spent_by)
    if not more:
        return passed
    gate, opened, finish, seen_again, before = more
    return passed._replace(
        gate=gate,
        opened=optional_time(opened),
        finish=finish,
        seen_again=optional_time(seen_again),
        before=read_passed(before) if before is not None else None,
    )

"""A machine's state as one text and back, for the register to keep: the same state gives the same text."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date
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
from reelcare.core.timestamps import optional_text, optional_time, time_of, time_text

Json = Any
encode = json.JSONEncoder(separators=(",", ":"), sort_keys=True, ensure_ascii=False, check_circular=False).encode
"""Of values without fractions, which differ from one writer of JSON to another; a card can have some."""


def to_plain(state: MachineState) -> str:
    """The state as one JSON text."""
    last = state.last
    rest = {
        "began": state.began.isoformat(),
        "checks": [_check(one, state.card) for one in state.checks],
        "counters": state.counters.to_plain(),
        "cycles": {id: cycle.to_plain() for id, cycle in state.cycles.items()},
        "early": {id: _answers(some) for id, some in state.early.items()},
        "faults": [fault_to_plain(one) for one in state.faults],
        **({"notes": [note_to_plain(one) for one in state.notes]} if state.notes else {}),
        **({"given": given_to_plain(state.given)} if state.given else {}),
        "last": [time_text(last[0]), time_text(last[1]), last[2]] if last else None,
        "last_check": optional_text(state.last_check),
        "last_run": optional_text(state.last_run),
        "machine": state.machine,
        **({"out": [state.out.check, state.out.sheet, time_text(state.out.at)]} if state.out is not None else {}),
        "passed": {side: passed_to_plain(one) for side, one in state.passed.items()},
        **({"retired": retired_to_plain(state.retired)} if state.retired is not None else {}),
        "use": state.use.to_plain(),
        **({"told": _told(state.told)} if state.told is not None else {}),
        "whole": {id: [one.kept_sheet, time_text(one.at)] for id, one in state.whole.items()},
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


def _told(told: ToldUse) -> Json:
    return [told.all, dict(told.items)]


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
    """What is not as usual of a fault, as plain JSON values."""
    values = ((name, getattr(fault, name), usual) for name, usual in _OF_A_FAULT)
    return {name: value for name, value, usual in values if value != usual} | {"since": time_text(fault.since)}


def read_fault(plain: Mapping[str, Json]) -> OpenFault:
    """What `fault_to_plain` wrote."""
    return OpenFault(**{**plain, "since": time_of(plain["since"])})


def note_to_plain(note: OpenNote) -> Json:
    """A note as plain JSON values."""
    return [note.id, note.says, time_text(note.since), note.by, note.until, note.near_miss]


def read_note(plain: Json) -> OpenNote:
    """What `note_to_plain` wrote."""
    id, says, since, by, until, near_miss = plain
    return OpenNote(id, says, time_of(since), by, until, near_miss)


def retired_to_plain(retired: Retirement) -> Json:
    """When and why a machine left the yard, as plain JSON values."""
    return [time_text(retired.at), retired.why]


def read_retired(plain: Json) -> Retirement | None:
    """What `retired_to_plain` wrote; None for None."""
    return Retirement(time_of(plain[0]), plain[1]) if plain else None


def given_to_plain(given: Mapping[str, Assignment]) -> Json:
    """To whom lines are given, as plain JSON values."""
    return {item: [one.to, one.day.isoformat()] for item, one in given.items()}


def read_given(plain: Mapping[str, Json]) -> dict[str, Assignment]:
    """What `given_to_plain` wrote."""
    return {item: Assignment(to, date.fromisoformat(day)) for item, (to, day) in plain.items()}


def _check(check: OpenCheck, card: Mapping[str, Json]) -> Json:
    return {
        "again_of": check.again_of, "answers": _answers(check.answers), "begun": time_text(check.begun),
        "by": check.by, "checks_for": check.checks_for, "id": check.id, "kept_sheet": check.kept_sheet,
        "language": check.language, "left_out": list(check.left_out), "planned": dict(check.planned),
        "same_card": check.card == card, "sheet": check.sheet,
        **({"follows_set": True} if check.follows_set else {}),
        **({"told": True} if check.told else {}),
        **({"signed": [[one.gate, time_text(one.at), one.by, one.id] for one in check.signed]} if check.signed else {}),
        **({"sets": [[time_text(one.at), dict(one.planned)] for one in check.sets]} if check.sets else {}),
    }  # fmt: skip


def _read_check(plain: dict[str, Json], card: Mapping[str, Json]) -> OpenCheck:
    rest = {name: value for name, value in plain.items() if name != "same_card"}
    return OpenCheck(
        **rest | {"begun": time_of(plain["begun"]), "left_out": tuple(plain["left_out"])}
        | {"answers": _read_answers(plain["answers"])}
        | {"signed": tuple(Signature(gate, time_of(at), by, id) for gate, at, by, id in plain.get("signed", ()))}
        | {"sets": tuple(LaterSet(time_of(at), planned) for at, planned in plain.get("sets", ()))},
        card=card,
    )  # fmt: skip


def _answers(answers: Iterable[Answer]) -> Json:
    return [[one.question, one.seen, time_text(one.at), one.id, one.by] for one in answers]


def _read_answers(plain: Iterable[Json]) -> tuple[Answer, ...]:
    return tuple(Answer(question, seen, time_of(at), id, by) for question, seen, at, id, by in plain)


def passed_to_plain(one: Passed) -> Json:
    """A passed check as plain JSON values."""
    plain = [one.check, one.sheet, time_text(one.at), one.by, optional_text(one.spent), one.spent_by]
    if not one.gate and one.before is None:
        return plain
    before = passed_to_plain(one.before) if one.before is not None else None
    return [*plain, one.gate, optional_text(one.opened), one.finish, optional_text(one.seen_again), before]


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

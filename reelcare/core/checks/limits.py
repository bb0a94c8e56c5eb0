"""An answer against its question: right, wrong, or noted where there is nothing to judge it by.

The rules of this file: a limit comes from the sheet, the card or the day's set, never from here. What is not
known is named and not guessed. `never_above` and `never_below` hold whatever the question's own word is. A reading
in another unit than its limit is given half of its own last place, at most half a percent of the limit, so that
69 kPa meets a limit of 10 psi; in the limit's own unit it is given nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Literal, NamedTuple

from reelcare.core import units
from reelcare.core.checks.sheet import LIMITS, IfNot, Limit, Owner, Question
from reelcare.core.machine.card import Card
from reelcare.core.text import _, localized, mark
from reelcare.core.wording import said

Judged = Literal["right", "wrong", "noted", "unreadable"]
MOST_GIVEN = 0.005
"""The largest part of a limit that rounding between units may give."""

CAN_BE: dict[units.Quantity, tuple[float, float]] = {
    "pressure": (0, 4e6),
    "length": (0, 2000),
    "flow": (0, 0.2),
    "speed": (0, 14),
    "temperature": (-40, 120),
    "duration": (0, 1e9),
    "force": (0, 1e6),
    "area": (0, 1e7),
    "volume": (0, 1e6),
    "torque": (0, 1e6),
    "voltage": (0, 100),
    "count": (0, 100_000),
}
"""What a reading on such a machine can be at all, in SI; outside, it was misread or mistyped."""

_LIMIT = {
    "never above": mark("never above {limit}"),
    "never below": mark("never below {limit}"),
    "at least": mark("at least {limit}"),
    "at most": mark("at most {limit}"),
    "about": mark("about {limit}"),
}
"""A limit in words, by the name of its key."""
_AT = {"pump": mark("{reading} at the pump"), "hydrant": mark("{reading} at the hydrant")}
_OF_A_SET = {
    "set.planned_speed": mark("planned speed of the set"),
    "set.inlet_pressure": mark("inlet pressure of the set"),
    "set.least_coils": mark("least coils of the set"),
}
"""What a limit is called that is not known."""
CANNOT_READ = mark("cannot be read")
"""What is seen of a gauge that cannot be read; a reading taken elsewhere stands behind it: `; 6.4 bar at pump`."""
ELSEWHERE = ("pump", "hydrant")
"""Where a reading can be taken in place of one that cannot be read."""
_UNREAD = re.compile(f"{CANNOT_READ}(?:; ([^;()]+) at (?:the )?({'|'.join(ELSEWHERE)}))?")
GAUGES = "gauges"
"""The part that is faulty where a reading cannot be read."""
READ_THERE = mark("it passes only with a reading taken at pump or hydrant, as in {example}")
_FINEST = 6
"""Decimal places after which a limit is not written more closely."""


class Judgement(NamedTuple):
    """What an answer is worth. `says` is one line for the person; `value` is SI, None for a choice.

    `if_not` is what a wrong answer brings, `part` the part that it is about where that is not the question's,
    `owner` whose the hold is where it holds.
    """

    judged: Judged
    says: str
    value: float | None = None
    if_not: IfNot = "note"
    part: str = ""
    owner: Owner = "machine"

    @property
    def holds(self) -> bool:
        """Whether the answer holds the machine."""
        return self.judged == "wrong" and self.if_not == "stop"

    @property
    def puts_right(self) -> bool:
        """Whether it ends a hold that an answer before it set: it is right, or a choice that is only noted. A reading
        that is noted had nothing to judge it by."""
        return self.judged == "right" or (self.judged == "noted" and self.value is None)


class Bound(NamedTuple):
    """A limit found: in SI, with the text it was written as ('' for a figure of the card) and where it came from."""

    value: float
    text: str
    way: str

    def shown(self, question: Question, unit: str = "") -> str:
        """The limit as a person reads it in a unit ('': as it was written), so close that a reading of just that meets
        it."""
        return localized(self._with_point(question, unit))

    def _with_point(self, question: Question, unit: str) -> str:
        if question.quantity == "count":
            return self.text or f"{self.value:g}"
        if self.text and unit in ("", units.split(self.text)[1]):
            return self.text
        name = unit or units.unit_for(question.quantity, "metric", question.role)
        step = units.step_for(question.quantity, "metric", question.role) if not unit else 1.0
        texts = [units.as_kept(self.value, name, step)] if not unit else []
        texts += [units.as_kept(self.value, name, 10.0**-places) for places in range(_FINEST)]
        return next((text for text in texts if self._meets(text, question)), units.as_kept(self.value, name))

    def _meets(self, text: str, question: Question) -> bool:
        off = abs(units.read(text, question.quantity) - self.value)
        return off <= _given(text, self, question)


def judge(
    question: Question,
    seen: str,
    *,
    card: Card,
    planned: Mapping[str, str],
    language: str = "en",
) -> Judgement:
    """What an answer is worth; `seen` is a choice's id, a number with its unit as typed, or `cannot be read`."""
    if not question.is_number:
        return _choice(question, seen, language)
    if question.cannot_read and seen.strip().lower().startswith(CANNOT_READ):
        return _unread(question, seen.strip().lower(), card, planned, language)
    try:
        value = units.read(seen, question.quantity)
    except units.UnitsError as why:
        return Judgement("unreadable", str(why))
    least, most = CAN_BE[question.quantity]
    if not least <= value <= most:
        return Judgement("unreadable", _("{seen}: cannot be right; read it again", seen=localized(seen)))
    if question.kind == "count" and value != int(value):
        return Judgement("unreadable", _("{seen}: must be a whole number", seen=localized(seen)))
    return _reading(question, seen, value, card, planned)


def _choice(question: Question, seen: str, language: str) -> Judgement:
    choice = question.choice(seen)
    if choice is None:
        return Judgement("unreadable", _("{seen!r}: not one of the choices", seen=seen))
    says = said(choice.says, language)
    if choice.right:
        return Judgement("right", says)
    if_not = choice.if_not or question.if_not
    owner = choice.owner or question.owner or "machine"
    return Judgement("noted" if if_not == "note" else "wrong", says, None, if_not, owner=owner)


def read_elsewhere(seen: str) -> tuple[str, str] | None:
    """The reading, and where it was taken, behind a `cannot be read`; two empty texts where there is none, None where
    it cannot be understood.

    >>> read_elsewhere("cannot be read; 6.4 bar at pump"), read_elsewhere("cannot be read")
    (('6.4 bar', 'pump'), ('', ''))
    """
    rest = seen.strip().lower().removeprefix(CANNOT_READ).strip(" ;,")
    if not rest:
        return "", ""
    reading, mark, place = rest.rpartition(" at ")
    place = place.strip().removeprefix("the ")
    return (reading.strip(), place) if mark and place in ELSEWHERE else None


def unread_shown(text: str) -> str:
    """A text with what was seen of a gauge, kept in English, in the person's language.

    >>> unread_shown("¿Presión en la entrada? cannot be read; 6.4 bar at pump (cristal roto)")
    '¿Presión en la entrada? cannot be read; 6.4 bar at the pump (cristal roto)'
    """
    found = _UNREAD.search(text)
    if found is None:
        return text
    reading, place = found.groups()
    told = _(CANNOT_READ) + ("; " + _(_AT[place], reading=localized(reading)) if place else "")
    return text[: found.start()] + told + text[found.end() :]


def _unread(question: Question, seen: str, card: Card, planned: Mapping[str, str], language: str) -> Judgement:
    """A gauge that cannot be read: a fault of the gauge. Where the question can hold, it does unless the reading was
    taken elsewhere; what it shows there is held to what must never be, and where the question is a stop, to all."""
    told = read_elsewhere(seen)
    example = f"`{CANNOT_READ}; 6.4 bar at pump`"
    elsewhere = _(READ_THERE, example=example)
    if told is None:
        return Judgement("unreadable", f"{seen}: {elsewhere}")
    reading, place = told
    if not reading:
        if not question.can_hold:
            return Judgement("wrong", _(CANNOT_READ), None, "fix-by", GAUGES)
        return Judgement("wrong", _(CANNOT_READ) + f"; {elsewhere}", None, "stop", GAUGES)
    asked = question._replace(cannot_read=False)
    if question.if_not != "stop":
        asked = asked._replace(at_least=None, at_most=None, about=None)
    there = judge(asked, reading, card=card, planned=planned, language=language)
    if there.judged == "unreadable" or there.holds:
        return there
    says = _(CANNOT_READ) + "; " + _(_AT[place], reading=localized(reading))
    return Judgement("wrong", says, there.value, "fix-by", GAUGES)


def _reading(question: Question, seen: str, value: float, card: Card, planned: Mapping[str, str]) -> Judgement:
    checks: list[tuple[bool, str, bool]] = []
    unknown: list[str] = []
    unit = units.split(seen)[1]
    for name, limit, bound in _found(question, card, planned):
        if bound is None:
            unknown += list(limit.ways)
            continue
        given = _given(seen, bound, question)
        says = _(_LIMIT[name], limit=bound.shown(question, unit))
        if name == "about":
            says += ", " + _("{percent:g} % off at most", percent=question.within)
        checks.append((_meets(name, value, bound.value, given, question.within), says, name.startswith("never")))
    both = _(" and ")
    wrong = [(text, never) for fine, text, never in checks if not fine]
    if wrong:
        says = _("{seen}; right is {limits}", seen=localized(seen), limits=both.join(text for text, _never in wrong))
        if_not: IfNot = "stop" if any(never for _text, never in wrong) else question.if_not
        return Judgement("wrong", says, value, if_not, owner=question.owner or "machine")
    if checks:
        return Judgement("right", f"{localized(seen)}; {both.join(text for _fine, text, _never in checks)}", value)
    if unknown:
        names = ", ".join(_(_OF_A_SET.get(one, one)) for one in unknown)
        says = _("{seen}; nothing to judge it by: {names} not known", seen=localized(seen), names=names)
        return Judgement("noted", says, value)
    return Judgement("noted", localized(seen), value)


def _meets(name: str, value: float, bound: float, given: float, within: float) -> bool:
    """Whether a value meets a limit of this name [SI], with an allowance for rounding."""
    if name == "about":
        return abs(value - bound) <= bound * within / 100 + given
    return value >= bound - given if name in ("at least", "never below") else value <= bound + given


def find(limit: Limit, question: Question, card: Card, planned: Mapping[str, str]) -> Bound | None:
    """The first of a limit's ways that is known."""
    for way in limit.ways:
        if way.startswith("card."):
            known = card.value(way.removeprefix("card."))
            if isinstance(known, (int, float)):
                return Bound(float(known), "", way)
        elif way.startswith("set."):
            text = planned.get(way.removeprefix("set."))
            if text is not None:
                with suppress(units.UnitsError):  # of another quantity: a sheet of elsewhere can ask for that
                    return Bound(units.read(text, question.quantity), text, way)
        else:
            return Bound(units.read(way, question.quantity), way, way)
    return None


def bounds(question: Question, card: Card, planned: Mapping[str, str]) -> list[tuple[str, Bound]]:
    """The limits of a question that are known, each with its word."""
    return [(name, bound) for name, _limit, bound in _found(question, card, planned) if bound is not None]


def _found(question: Question, card: Card, planned: Mapping[str, str]) -> Iterator[tuple[str, Limit, Bound | None]]:
    """The limits that a question has, each with its word and what is known of it."""
    for key in LIMITS:
        name, limit = key.replace("_", " "), getattr(question, key)
        if limit is None:
            continue
        bound = find(limit, question, card, planned)
        if name == "never above" and question.never_times is not None and question.about is not None:
            right = find(question.about, question, card, planned)
            if right is not None and (bound is None or right.value * question.never_times < bound.value):
                bound = Bound(right.value * question.never_times, "", right.way)
        yield name, limit, bound


def limit_text(question: Question, card: Card, planned: Mapping[str, str], *, unit: str = "") -> str:
    """The limits of a question in words, as far as they are known, in a unit ('': as they were written).

    >>> from reelcare.core.checks.sheet import Limit
    >>> coils = Question("coils", {"en": "?"}, "count", "hose", "stop", at_least=Limit(("2",)))
    >>> limit_text(coils, Card("R1"), {})
    'at least 2'
    >>> most = Limit(("10 psi",))
    >>> loss = Question("loss", {"en": "?"}, "reading", "drive", "stop", quantity="pressure", at_most=most)
    >>> limit_text(loss, Card("R1"), {}, unit="bar")
    'at most 0.69 bar'
    """
    parts = []
    for name, bound in bounds(question, card, planned):
        within = localized(f" ({question.within:g} %)") if name == "about" else ""
        parts.append(_(_LIMIT[name], limit=bound.shown(question, unit)) + within)
    return ", ".join(parts)


def _given(seen: str, bound: Bound, question: Question) -> float:
    """What rounding between two units gives a reading, in SI; a hair of floating point in the same unit."""
    hair = abs(bound.value) * 1e-9
    if question.quantity in ("count", "temperature"):
        return hair
    written, unit = units.split(seen)
    try:
        same = units.split(bound.text)[1] == unit and not bound.way.startswith("card.")
    except units.UnitsError:
        same = False
    if same or not unit:
        return hair
    digits = seen.partition(".")[2]
    places = len(digits) - len(digits.lstrip("0123456789"))
    half = 0.5 * 10.0**-places * units.UNITS[unit].factor
    return max(hair, min(half, abs(bound.value) * MOST_GIVEN)) if written else hair

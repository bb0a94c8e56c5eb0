"""An answer against its question: right, wrong, or noted where there is nothing to judge it by.

The rules of this file: a limit comes from the sheet, the card or the day's set, never from here. What is not
known is named and not guessed. A reading in another unit than its limit is given half of its own last place,
at most half a percent of the limit, so that 69 kPa meets a limit of 10 psi; in the limit's own unit it is given
nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from reelcare.core import units
from reelcare.core.checks.sheet import Limit, Question
from reelcare.core.machine.card import Card
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
    "count": (0, 100_000),
}
"""What a reading on such a machine can be at all, in SI; outside, it was misread or mistyped."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What an answer is worth. `says` is one line for the person; `value` is SI, None for a choice."""

    judged: Judged
    says: str
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit found: in SI, with the text it was written as and where it came from."""

    value: float
    text: str
    way: str


def judge(
    question: Question,
    seen: str,
    *,
    card: Card,
    planned: Mapping[str, str],
    language: str = "en",
    decimal_comma: bool = False,
) -> Judgement:
    """What an answer is worth; `seen` is a choice's id, or a number with its unit as typed."""
    if not question.is_number:
        return _choice(question, seen, language)
    try:
        value = units.read(seen, question.quantity, decimal_comma=decimal_comma)
    except units.UnitsError as why:
        return Judgement("unreadable", str(why))
    least, most = CAN_BE[question.quantity]
    if not least <= value <= most:
        return Judgement("unreadable", f"{seen}: cannot be; read it again")
    if question.kind == "count" and value != int(value):
        return Judgement("unreadable", f"{seen}: a whole number is right here")
    return _reading(question, seen, value, card, planned, decimal_comma)


def _choice(question: Question, seen: str, language: str) -> Judgement:
    choice = question.choice(seen)
    if choice is None:
        return Judgement("unreadable", f"{seen!r}: not one of the choices")
    says = said(choice.says, language)
    if choice.right:
        return Judgement("right", says)
    return Judgement("noted" if question.if_not == "note" else "wrong", says)


def _reading(
    question: Question, seen: str, value: float, card: Card, planned: Mapping[str, str], decimal_comma: bool
) -> Judgement:
    checks: list[tuple[bool, str]] = []
    unknown: list[str] = []
    for limit, word in (
        (question.at_least, "at least"),
        (question.at_most, "at most"),
        (question.about, "about"),
    ):
        if limit is None:
            continue
        bound = find(limit, question, card, planned)
        if bound is None:
            unknown += list(limit.ways)
            continue
        given = _given(seen, bound, question, decimal_comma)
        if word == "at least":
            checks.append((value >= bound.value - given, f"{word} {bound.text}"))
        elif word == "at most":
            checks.append((value <= bound.value + given, f"{word} {bound.text}"))
        else:
            off = bound.value * question.within / 100
            checks.append(
                (
                    abs(value - bound.value) <= off + given,
                    f"{word} {bound.text}, {question.within:g} % off at most",
                )
            )
    wrong = [text for fine, text in checks if not fine]
    if wrong:
        return Judgement("wrong", f"{seen}; right is {' and '.join(wrong)}", value)
    if checks:
        return Judgement("right", f"{seen}; {' and '.join(text for _, text in checks)}", value)
    if unknown:
        return Judgement("noted", f"{seen}; nothing to judge it by: {', '.join(unknown)} not known", value)
    return Judgement("noted", seen, value)


def find(limit: Limit, question: Question, card: Card, planned: Mapping[str, str]) -> Bound | None:
    """The first of a limit's ways that is known."""
    for way in limit.ways:
        if way.startswith("card."):
            known = card.value(way.removeprefix("card."))
            if isinstance(known, (int, float)):
                return Bound(float(known), units.show(known, question.quantity, role=question.role), way)
        elif way.startswith("set."):
            text = planned.get(way.removeprefix("set."))
            if text is not None:
                return Bound(units.read(text, question.quantity), text, way)
        else:
            return Bound(units.read(way, question.quantity), way, way)
    return None


def limit_text(question: Question, card: Card, planned: Mapping[str, str]) -> str:
    """The limits of a question in words, as far as they are known.

    >>> from reelcare.core.checks.sheet import Limit
    >>> coils = Question("coils", {"en": "?"}, "count", "hose", "stop", at_least=Limit(("2",)))
    >>> limit_text(coils, Card("R1"), {})
    'at least 2'
    """
    parts = []
    for limit, word in (
        (question.at_least, "at least"),
        (question.at_most, "at most"),
        (question.about, "about"),
    ):
        bound = find(limit, question, card, planned) if limit is not None else None
        if bound is not None:
            parts.append(f"{word} {bound.text}" + (f" ({question.within:g} %)" if word == "about" else ""))
    return ", ".join(parts)


def _given(seen: str, bound: Bound, question: Question, decimal_comma: bool) -> float:
    """What rounding between two units gives a reading, in SI; a hair of floating point in the same unit."""
    hair = abs(bound.value) * 1e-9
    if question.quantity in ("count", "temperature"):
        return hair
    written, unit = units.split(seen, decimal_comma=decimal_comma)
    try:
        same = units.split(bound.text)[1] == unit and not bound.way.startswith("card.")
    except units.UnitsError:
        same = False
    if same or not unit:
        return hair
    digits = seen.replace(",", ".").partition(".")[2]
    places = len(digits) - len(digits.lstrip("0123456789"))
    half = 0.5 * 10.0**-places * units.UNITS[unit].factor
    return max(hair, min(half, abs(bound.value) * MOST_GIVEN)) if written else hair

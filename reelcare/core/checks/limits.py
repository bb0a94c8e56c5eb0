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

_WORDS: dict[str, dict[str, str]] = {
    "at least": {"en": "at least", "es": "al menos"},
    "at most": {"en": "at most", "es": "como máximo"},
    "about": {"en": "about", "es": "unos"},
    "off": {"en": "% off at most", "es": "% de diferencia como máximo"},
    "and": {"en": "and", "es": "y"},
    "right is": {"en": "right is", "es": "lo correcto es"},
    "nothing": {"en": "nothing to judge it by:", "es": "nada con qué juzgarlo:"},
    "not known": {"en": "not known", "es": "no se conoce"},
    "cannot be": {"en": "cannot be; read it again", "es": "no puede ser; léalo otra vez"},
    "whole": {"en": "a whole number is right here", "es": "aquí va un número entero"},
    "set.planned_speed": {"en": "planned speed of the set", "es": "velocidad prevista en la puesta"},
    "set.inlet_pressure": {"en": "inlet pressure of the set", "es": "presión de entrada de la puesta"},
    "set.least_coils": {"en": "least coils of the set", "es": "mínimo de espiras de la puesta"},
}
"""The words around a limit, and what a limit that is not known is called, by language."""
_FINEST = 6
"""Decimal places after which a limit is not written more closely."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What an answer is worth. `says` is one line for the person; `value` is SI, None for a choice."""

    judged: Judged
    says: str
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit found: in SI, with the text it was written as ('' for a figure of the card) and where it came from."""

    value: float
    text: str
    way: str

    def shown(self, question: Question, unit: str = "") -> str:
        """The limit as text in a unit ('': as it was written), so close that a reading of just that meets it."""
        if question.quantity == "count":
            return self.text or f"{self.value:g}"
        if self.text and unit in ("", units.split(self.text)[1]):
            return self.text
        name = unit or units.unit_for(question.quantity, "metric", question.role)
        step = units.step_for(question.quantity, "metric", question.role) if not unit else 1.0
        texts = [units.write(self.value, name, step)] if not unit else []
        texts += [units.write(self.value, name, 10.0**-places) for places in range(_FINEST)]
        return next((text for text in texts if self._meets(text, question)), units.write(self.value, name))

    def _meets(self, text: str, question: Question) -> bool:
        off = abs(units.read(text, question.quantity) - self.value)
        return off <= _given(text, self, question, False)


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
        return Judgement("unreadable", f"{seen}: {word('cannot be', language)}")
    if question.kind == "count" and value != int(value):
        return Judgement("unreadable", f"{seen}: {word('whole', language)}")
    return _reading(question, seen, value, card, planned, decimal_comma, language)


def word(text: str, language: str) -> str:
    """A word around a limit in a language; itself where there is none."""
    return said(_WORDS.get(text, {"en": text}), language)


def _choice(question: Question, seen: str, language: str) -> Judgement:
    choice = question.choice(seen)
    if choice is None:
        return Judgement("unreadable", f"{seen!r}: not one of the choices")
    says = said(choice.says, language)
    if choice.right:
        return Judgement("right", says)
    return Judgement("noted" if question.if_not == "note" else "wrong", says)


def _reading(
    question: Question,
    seen: str,
    value: float,
    card: Card,
    planned: Mapping[str, str],
    decimal_comma: bool,
    language: str,
) -> Judgement:
    checks: list[tuple[bool, str]] = []
    unknown: list[str] = []
    unit = units.split(seen, decimal_comma=decimal_comma)[1]
    for name, limit in _limits(question):
        bound = find(limit, question, card, planned)
        if bound is None:
            unknown += list(limit.ways)
            continue
        given = _given(seen, bound, question, decimal_comma)
        says = f"{word(name, language)} {bound.shown(question, unit)}"
        if name == "at least":
            checks.append((value >= bound.value - given, says))
        elif name == "at most":
            checks.append((value <= bound.value + given, says))
        else:
            off = bound.value * question.within / 100
            fine = abs(value - bound.value) <= off + given
            checks.append((fine, f"{says}, {question.within:g} {word('off', language)}"))
    both = f" {word('and', language)} "
    wrong = [text for fine, text in checks if not fine]
    if wrong:
        return Judgement("wrong", f"{seen}; {word('right is', language)} {both.join(wrong)}", value)
    if checks:
        return Judgement("right", f"{seen}; {both.join(text for _, text in checks)}", value)
    if unknown:
        names = ", ".join(word(one, language) for one in unknown)
        says = f"{seen}; {word('nothing', language)} {names} {word('not known', language)}"
        return Judgement("noted", says, value)
    return Judgement("noted", seen, value)


def _limits(question: Question) -> list[tuple[str, Limit]]:
    """The limits that a question has, each with its word."""
    found = (("at least", question.at_least), ("at most", question.at_most), ("about", question.about))
    return [(name, limit) for name, limit in found if limit is not None]


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
                return Bound(units.read(text, question.quantity), text, way)
        else:
            return Bound(units.read(way, question.quantity), way, way)
    return None


def limit_text(
    question: Question, card: Card, planned: Mapping[str, str], *, language: str = "en", unit: str = ""
) -> str:
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
    for name, limit in _limits(question):
        bound = find(limit, question, card, planned)
        if bound is not None:
            within = f" ({question.within:g} %)" if name == "about" else ""
            parts.append(f"{word(name, language)} {bound.shown(question, unit)}{within}")
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

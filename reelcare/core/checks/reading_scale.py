"""A reading against its limits as figures of one scale, in a person's unit: where right lies, what must never be, and
what is read.

The rules of this file: the limits are those that `limits.py` finds, and whether a reading is right is its word.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.checks.limits import Judgement, bounds
from reelcare.core.checks.sheet import Question
from reelcare.core.machine.card import Card


@dataclass(frozen=True, slots=True)
class ReadingScale:
    """Figures in `unit` ('' for a count). Right is from `least` to `most`, and a reading must never be outside of
    `never_least` to `never_most`; None where nothing limits it."""

    unit: str
    least: float | None = None
    most: float | None = None
    never_least: float | None = None
    never_most: float | None = None
    reading: float | None = None
    is_right: bool = False

    @property
    def bounds(self) -> tuple[float, ...]:
        """All figures that limit it."""
        return tuple(x for x in (self.never_least, self.least, self.most, self.never_most) if x is not None)


def scale_of(
    question: Question,
    card: Card,
    planned: Mapping[str, str],
    system: units.System,
    judgement: Judgement | None = None,
) -> ReadingScale | None:
    """The scale of a question, and on it what was read where that was judged; None where nothing is known to limit it.

    >>> from reelcare.core.checks.sheet import Limit
    >>> coils = Question("coils", {"en": "?"}, "count", "hose", "stop", at_least=Limit(("2",)))
    >>> scale_of(coils, Card("R1"), {}, "metric").least
    2.0
    """
    unit = question.unit(system)

    def told(value: float | None) -> float | None:
        return round(units.in_unit(value, unit), 9) if unit and value is not None else value

    known = {name: bound.value for name, bound in bounds(question, card, planned)}
    if not known:
        return None
    about, part = known.get("about"), question.within / 100
    lows = [known.get("at least"), known.get("never below"), None if about is None else about * (1 - part)]
    highs = [known.get("at most"), known.get("never above"), None if about is None else about * (1 + part)]
    least = max((x for x in lows if x is not None), default=None)
    most = min((x for x in highs if x is not None), default=None)

    read = judgement.value if judgement is not None else None
    return ReadingScale(
        unit,
        least=told(least),
        most=told(most),
        never_least=told(known.get("never below")),
        never_most=told(known.get("never above")),
        reading=told(read),
        is_right=judgement is not None and judgement.judged == "right",
    )

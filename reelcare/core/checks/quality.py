"""How checks were answered: marks on the record that a supervisor sees beside what is usual, and no verdict.

The rules of this file: a mark refuses nothing and clears nothing. A fast answer is not by itself a bad one: published
work found the most accurate inspectors among the fastest (row Q29 of the references); what has been seen before
accidents is an answer given in less than a second (row Q16). So figures are told with those of all, and their spread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import NormalDist, median

from reelcare.core.checks.verdict import Given, Walk

TOO_FAST = timedelta(seconds=1)
"""Faster than a person can look: an answer in less than a second after the question (NTSB/AAR-89/04, as quoted)."""
SAME_CHECKS, SAME_SPAN = 5, timedelta(days=14)
"""How many checks in a row, over how long, may show the same reading to the digit before it is marked (our choice)."""
EARLY = timedelta(minutes=10)
"""How long after its water a machine runs before it shows what the last gate looks at (common practice, no source)."""
CONFIDENCE = NormalDist().inv_cdf(0.975)
"""Standard deviations of a 95 % interval."""


@dataclass(frozen=True, slots=True)
class Share:
    """A count out of a number of trials, with the 95 % interval of Wilson (1927)."""

    count: int
    of: int

    @property
    def span(self) -> tuple[float, float] | None:
        """The interval, which small numbers make wide.

        >>> [round(one, 4) for one in Share(0, 10).span]
        [0.0, 0.2775]
        """
        if not self.of:
            return None
        z, n, p = CONFIDENCE, self.of, self.count / self.of
        middle = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
        return min(p, max(0.0, middle - half)), max(p, min(1.0, middle + half))

    def __add__(self, other: Share) -> Share:
        """Both together."""
        return Share(self.count + other.count, self.of + other.of)


@dataclass(frozen=True, slots=True)
class TimedAnswer:
    """One answer and how long after the question (the answer before it, or the beginning) it came."""

    given: Given
    after: timedelta

    @property
    def fast(self) -> bool:
        """Whether it came faster than a person can look."""
        return self.after < TOO_FAST


def timed_answers(walk: Walk) -> list[TimedAnswer]:
    """Every answer of a check, with the time since the answer before it on the same terminal.

    Clocks may go back: then the time is nothing, and the answer is marked. Answers from paper have no times of their
    own: they are left out.
    """
    last: dict[str, datetime] = {}
    found = []
    timed = (one for one in walk.given if not one.from_paper)
    for one in sorted(timed, key=lambda given: (given.at, given.id)):
        before = last.get(one.terminal, walk.begun)
        found.append(TimedAnswer(one, max(timedelta(0), one.at - before)))
        last[one.terminal] = one.at
    return found


def looked_too_early(walk: Walk) -> bool | None:
    """Whether what runs was looked at too early after its water for the last gate to mean much; None where it was not
    looked at."""
    opened = next((one.at for one in reversed(walk.signed) if one.gate == "water"), None)
    seen = [one.at for one in walk.counting().values() if walk.sheet.gate_of(one.question) == "running"]
    return max(seen) - opened < EARLY if opened is not None and seen else None


@dataclass(frozen=True, slots=True)
class FinishedCheck:
    """One finished check as it is looked at: whose, of which machine, and its walk."""

    machine: str
    by: str
    walk: Walk


@dataclass(frozen=True, slots=True)
class RepeatedReading:
    """The same reading again and again: the question, what was read, in how many checks, and over which time."""

    machine: str
    question: str
    seen: str
    checks: int
    since: datetime
    until: datetime


@dataclass(frozen=True, slots=True)
class PersonMarks:
    """How one person's checks were answered: answers that came fast, checks that found anything, those whose last gate
    was looked at early, the middle time."""

    name: str
    checks: int
    fast: Share
    found: Share
    early: Share
    middle: float | None


def same_readings(checks: Sequence[FinishedCheck]) -> list[RepeatedReading]:
    """Runs of the same reading of a machine, to the digit; `checks` in their order."""
    going: dict[tuple[str, str], RepeatedReading] = {}
    found = []
    for one in checks:
        kept = one.walk.counting()
        for question in one.walk.sheet.questions:
            given = kept.get(question.id)
            if given is None or question.kind != "reading":
                continue
            key = (one.machine, question.id)
            last = going.get(key)
            if last is not None and last.seen == given.seen:
                going[key] = replace(last, checks=last.checks + 1, until=given.at)
                continue
            if last is not None:
                found.append(last)
            going[key] = RepeatedReading(one.machine, question.id, given.seen, 1, given.at, given.at)
    found += going.values()
    marked = [one for one in found if one.checks >= SAME_CHECKS and one.until - one.since >= SAME_SPAN]
    return sorted(marked, key=lambda one: (-one.checks, one.machine, one.question))


def people(checks: Iterable[FinishedCheck]) -> tuple[PersonMarks, list[PersonMarks]]:
    """All people together, then each of them, by name."""
    by_name: dict[str, list[FinishedCheck]] = {}
    everything = list(checks)
    for one in everything:
        by_name.setdefault(one.by, []).append(one)
    return _person("all", everything), [_person(name, mine) for name, mine in sorted(by_name.items())]


def _person(name: str, checks: Sequence[FinishedCheck]) -> PersonMarks:
    timed = [looked for one in checks for looked in timed_answers(one.walk)]
    fast = Share(sum(one.fast for one in timed), len(timed))
    wrong = sum(any(one.walk.judgement(given).judged == "wrong" for given in one.walk.given) for one in checks)
    middle = median([one.after.total_seconds() for one in timed]) if timed else None
    early = [one for one in (looked_too_early(each.walk) for each in checks) if one is not None]
    return PersonMarks(name, len(checks), fast, Share(wrong, len(checks)), Share(sum(early), len(early)), middle)

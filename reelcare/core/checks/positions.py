"""Parts with positions, and what each activity needs: may this be done now, and how does one come from here to there.

The rules of this file: it knows no part and no activity; they stand in a table (`checklists/positions.toml`), of
which this file reads what fits a machine's equipment. A position that is not known never counts as the right one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple, TypeVar

from reelcare.core.machine.card import NEEDS, Card
from reelcare.core.wording import Words, said

Positions = Mapping[str, str]
"""The position of each part that is known, by the part's name."""


Where = TypeVar("Where")


class PositionsError(ValueError):
    """A table of positions that cannot be right: every problem, with its place."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Part:
    """A part, its positions with their words, and whether anybody may move it in passing."""

    id: str
    says: Words
    positions: Mapping[str, Words]
    by_hand: bool
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Activity:
    """Something that is done: the positions that it needs, and those that hold afterwards."""

    id: str
    says: Words
    needs: Mapping[str, tuple[str, ...]]
    changes: Mapping[str, str]
    caution: Words | None = None
    only: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Goal:
    """Where people want to come to."""

    id: str
    says: Words
    where: Mapping[str, tuple[str, ...]]
    only: tuple[str, ...] = ()


class InTheWay(NamedTuple):
    """One thing that stands in the way: the part, where it is (None: not known), and where it must be."""

    part: str
    found: str | None
    needed: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """The whole table, or what fits one machine."""

    parts: Mapping[str, Part] = field(default_factory=dict)
    activities: Mapping[str, Activity] = field(default_factory=dict)
    goals: Mapping[str, Goal] = field(default_factory=dict)

    def for_machine(self, card: Card) -> Table:
        """The table without parts, activities and goals for which the card says that the machine has nothing."""
        parts = {id: one for id, one in self.parts.items() if all(card.has(need) for need in one.needs)}
        return Table(
            parts,
            {
                id: replace(one, needs=_of(parts, one.needs), changes=_of(parts, one.changes))
                for id, one in self.activities.items()
                if _fits(card, one.only)
            },
            {id: replace(one, where=_of(parts, one.where)) for id, one in self.goals.items() if _fits(card, one.only)},
        )

    def in_the_way(self, doing: str, now: Positions) -> list[InTheWay]:
        """Everything that stands in the way of an activity; nothing where it may be done."""
        return _missing(self.activities[doing].needs, now)

    def allowed(self, now: Positions) -> list[Activity]:
        """The activities that may be done now."""
        return [one for one in self.activities.values() if not _missing(one.needs, now)]

    def after(self, doing: str, now: Positions) -> dict[str, str]:
        """The positions after an activity. Raises ValueError where it may not be done."""
        if self.in_the_way(doing, now):
            raise ValueError(f"{doing}: may not be done now")
        return {**now, **self.activities[doing].changes}

    def steps_to(self, where: Mapping[str, tuple[str, ...]], now: Positions) -> list[Activity] | None:
        """The shortest sequence of allowed activities that leads there; None where none does.

        Of equally short ones, the first in the order of the table.
        """
        begin = frozenset(now.items())
        came: dict[frozenset[tuple[str, str]], tuple[frozenset[tuple[str, str]], str] | None] = {begin: None}
        waiting = deque([begin])
        while waiting:
            here = waiting.popleft()
            there = dict(here)
            if not _missing(where, there):
                return self._way(here, came)
            for one in self.allowed(there):
                then = frozenset({**there, **one.changes}.items())
                if then not in came:
                    came[then] = (here, one.id)
                    waiting.append(then)
        return None

    def _way(self, end: Any, came: Mapping[Any, Any]) -> list[Activity]:
        way = []
        step = came[end]
        while step is not None:
            way.append(self.activities[step[1]])
            step = came[step[0]]
        return way[::-1]

    def steps_before(self, doing: str, now: Positions) -> list[Activity] | None:
        """The shortest sequence after which an activity may be done; None where none is."""
        return self.steps_to(self.activities[doing].needs, now)

    def seen_after_a_pause(self, now: Positions, *, moved: bool = False) -> dict[str, str]:
        """What is still known after an interruption: what anybody may have moved in passing is not, and nothing is
        after the machine itself was moved."""
        return {} if moved else {part: one for part, one in now.items() if not self.parts[part].by_hand}

    def unknown(self, now: Positions) -> list[Part]:
        """The parts that must be looked at (again)."""
        return [one for id, one in self.parts.items() if id not in now]

    def tell(self, one: InTheWay, language: str = "en") -> str:
        """What stands in the way, in words.

        >>> table = read_positions({"parts": [{"id": "pawl", "says": "Pawl", "stays": "hand", "positions": [
        ...     {"id": "up", "says": "up"}, {"id": "down", "says": "down"}]}], "activities": [], "goals": []})
        >>> table.tell(InTheWay("pawl", "up", ("down",))), table.tell(InTheWay("pawl", None, ("down",)))
        ('Pawl: up, must be down', 'Pawl: not looked at, must be down')
        """
        part = self.parts[one.part]
        or_, must, unseen = {"es": (" o ", "debe ser", "sin mirar")}.get(language, (" or ", "must be", "not looked at"))
        needed = or_.join(said(part.positions[position], language) for position in one.needed)
        found = unseen if one.found is None else said(part.positions[one.found], language)
        return f"{said(part.says, language)}: {found}, {must} {needed}"


def _of(parts: Mapping[str, Part], found: Mapping[str, Where]) -> dict[str, Where]:
    return {part: where for part, where in found.items() if part in parts}


def _fits(card: Card, only: tuple[str, ...]) -> bool:
    return not only or any(card.has(need) for need in only)


def _missing(needs: Mapping[str, tuple[str, ...]], now: Positions) -> list[InTheWay]:
    return [InTheWay(part, now.get(part), where) for part, where in needs.items() if now.get(part) not in where]


def read_positions(table: Mapping[str, Any]) -> Table:
    """The table that a file says. Raises PositionsError with every problem."""
    problems: list[str] = []
    parts = {one.id: one for one in (_part(row, problems) for row in _rows(table, "parts", problems))}
    activities = {
        one.id: one for one in (_activity(row, parts, problems) for row in _rows(table, "activities", problems))
    }
    goals = {one.id: one for one in (_goal(row, parts, problems) for row in _rows(table, "goals", problems))}
    if problems:
        raise PositionsError(problems)
    return Table(parts, activities, goals)


def _rows(table: Mapping[str, Any], name: str, problems: list[str]) -> list[Mapping[str, Any]]:
    rows = table.get(name, [])
    if not isinstance(rows, list) or not all(
        isinstance(row, Mapping) and isinstance(row.get("id"), str) for row in rows
    ):
        problems.append(f"{name}: a list of tables, each with an id, is right here")
        return []
    ids = [row["id"] for row in rows]
    problems += [f"{name}: {id} stands there twice" for id in sorted({id for id in ids if ids.count(id) > 1})]
    return rows


def _words(value: Any, where: str, problems: list[str]) -> Words:
    words = {"en": value} if isinstance(value, str) else value
    if not isinstance(words, Mapping) or not isinstance(words.get("en"), str):
        problems.append(f"{where}: a text, or a text by language, is right here")
        return {"en": ""}
    return dict(words)


def _equipment(value: Any, where: str, problems: list[str]) -> tuple[str, ...]:
    found = tuple(value or ())
    problems += [f"{where}: {one!r} is not known; known are {', '.join(NEEDS)}" for one in found if one not in NEEDS]
    return found


def _part(row: Mapping[str, Any], problems: list[str]) -> Part:
    where = f"parts ({row['id']})"
    positions = row.get("positions")
    if not isinstance(positions, list) or len(positions) < 2:
        problems.append(f"{where}.positions: two or more are right")
        positions = []
    if row.get("stays") not in ("hand", "still"):
        problems.append(f"{where}.stays: {row.get('stays')!r}; hand or still is right")
    return Part(
        row["id"],
        _words(row.get("says"), f"{where}.says", problems),
        {one["id"]: _words(one.get("says"), f"{where}.{one['id']}", problems) for one in positions},
        row.get("stays") == "hand",
        _equipment(row.get("needs"), f"{where}.needs", problems),
    )


def _where(value: Any, parts: Mapping[str, Part], where: str, problems: list[str]) -> dict[str, tuple[str, ...]]:
    found = {}
    for part, positions in (value or {}).items():
        if part not in parts:
            problems.append(f"{where}: {part!r} is no part; known are {', '.join(parts)}")
            continue
        wrong = [one for one in positions if one not in parts[part].positions]
        problems += [f"{where}.{part}: {one!r}; right are {', '.join(parts[part].positions)}" for one in wrong]
        found[part] = tuple(positions)
    return found


def _activity(row: Mapping[str, Any], parts: Mapping[str, Part], problems: list[str]) -> Activity:
    where = f"activities ({row['id']})"
    changes = _where({part: [one] for part, one in row.get("changes", {}).items()}, parts, f"{where}.changes", problems)
    return Activity(
        row["id"],
        _words(row.get("says"), f"{where}.says", problems),
        _where(row.get("needs"), parts, f"{where}.needs", problems),
        {part: one[0] for part, one in changes.items()},
        _words(row["caution"], f"{where}.caution", problems) if "caution" in row else None,
        _equipment(row.get("only"), f"{where}.only", problems),
    )


def _goal(row: Mapping[str, Any], parts: Mapping[str, Part], problems: list[str]) -> Goal:
    where = f"goals ({row['id']})"
    return Goal(
        row["id"],
        _words(row.get("says"), f"{where}.says", problems),
        _where(row.get("where"), parts, f"{where}.where", problems),
        _equipment(row.get("only"), f"{where}.only", problems),
    )

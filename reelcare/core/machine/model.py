"""The machine as one model: parts with positions, what each activity needs and changes, and whether it may be done now.

The rules of this file: it knows no part and no activity. They stand in a table (`checklists/machine.toml`, read by
`model_reader.py`), of which `for_machine` leaves what a machine's card says it has. A position that is not known never
counts as the right one. Stopping needs nothing, and nothing forbids it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

from reelcare.core.machine.card import Card
from reelcare.core.machine.ways import MOST_STATES, Rule, Ways, Where
from reelcare.core.text import _, current_language
from reelcare.core.wording import ProblemsError, Words, said

Positions = Mapping[str, str]
"""The position of each part that is known, by the part's id."""

SAFE = "working on it"
"""The goal at which a machine is safe to work on."""


class ModelError(ProblemsError):
    """A table of the machine that contradicts itself."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part, its positions in words, where it is seen and drawn, and whether anybody may move it in passing."""

    id: str
    says: Words
    short: Words
    at: Words
    lit: str
    positions: Mapping[str, Words]
    by_hand: bool
    equipment: tuple[str, ...] = ()
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """The equipment that single positions take."""


@dataclass(frozen=True, slots=True)
class Effect:
    """Where an activity brings a part: from anywhere, or only from one position, or not with some equipment."""

    to: str
    only_from: str = ""
    unless: str = ""


@dataclass(frozen=True, slots=True)
class Also:
    """What an activity needs and changes besides on a machine whose card says that it has some equipment."""

    equipment: str
    needs: Where
    changes: Mapping[str, Effect]


@dataclass(frozen=True, slots=True)
class Activity:
    """Something that is done: the positions that it needs, and those that hold afterwards."""

    id: str
    says: Words
    short: Words
    needs: Where
    one_of: tuple[Where, ...]
    changes: Mapping[str, Effect]
    caution: Words | None = None
    equipment: tuple[str, ...] = ()
    also: tuple[Also, ...] = ()
    stop: bool = False
    barred_by: tuple[str, ...] = ()
    stands_for: tuple[str, ...] = ()

    def barred(self, held: Collection[str]) -> bool:
        """Whether a hold for one of some sides ("run", "road") forbids it."""
        return any(side in held for side in self.barred_by)


@dataclass(frozen=True, slots=True)
class Goal:
    """Where people want to come to."""

    id: str
    says: Words
    short: Words
    where: Where
    one_of: tuple[Where, ...] = ()
    equipment: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    """Activities that no way to it takes."""


@dataclass(frozen=True, slots=True)
class Step:
    """One activity of a procedure, left out with or without some equipment."""

    activity: str
    only_if: str = ""
    unless: str = ""


@dataclass(frozen=True, slots=True)
class Procedure:
    """An order of the work: where it begins (a state, or the end of another procedure), and its activities."""

    id: str
    says: Words
    begins: str
    steps: tuple[Step, ...]
    equipment: tuple[str, ...] = ()


class InTheWay(NamedTuple):
    """One thing that stands in the way: the part, where it is (None: not known), where it must be, and the parts and
    positions of which one would do instead."""

    part: str
    found: str | None
    needed: tuple[str, ...]
    instead: tuple[tuple[str, tuple[str, ...]], ...] = ()


class Requirement(NamedTuple):
    """One thing that an activity needs: a part in one of some positions, or one of the others `instead`."""

    part: str
    positions: tuple[str, ...]
    instead: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def met(self, now: Positions) -> bool:
        """Whether it is so."""
        return any(now.get(part) in where for part, where in ((self.part, self.positions), *self.instead))


@dataclass(frozen=True)
class MachineModel:
    """The whole table, or what fits one machine."""

    parts: Mapping[str, Part] = field(default_factory=dict)
    activities: Mapping[str, Activity] = field(default_factory=dict)
    goals: Mapping[str, Goal] = field(default_factory=dict)
    states: Mapping[str, Positions] = field(default_factory=dict)
    procedures: Mapping[str, Procedure] = field(default_factory=dict)
    second_run: tuple[str, ...] = ()
    begins: Mapping[str, str] = field(default_factory=dict)
    rescue: tuple[str, ...] = ()
    no_rescue: Words = field(default_factory=dict)

    def for_machine(self, card: Card) -> MachineModel:
        """What of the table fits a machine: nothing that its card says it has not."""
        parts = {one.id: _fit_part(one, card) for one in self.parts.values() if card.has_all(one.equipment)}
        activities = {
            one.id: _fit_activity(one, card, parts) for one in self.activities.values() if card.has_all(one.equipment)
        }
        for id, one in activities.items():
            activities[id] = replace(one, stands_for=tuple(stop for stop in one.stands_for if stop in activities))
        return replace(
            self,
            parts=parts,
            activities=activities,
            goals={
                one.id: replace(one, where=_of(parts, one.where), one_of=_groups(parts, one.one_of))
                for one in self.goals.values()
                if card.has_all(one.equipment)
            },
            states={id: {part: at for part, at in one.items() if part in parts} for id, one in self.states.items()},
            procedures={
                one.id: replace(one, steps=tuple(step for step in one.steps if _taken(step, card, activities)))
                for one in self.procedures.values()
                if card.has_all(one.equipment)
            },
            rescue=tuple(one for one in self.rescue if one in activities),
        )

    # --- may it be done

    def requirements(self, doing: str) -> list[Requirement]:
        """All that an activity needs."""
        one = self.activities[doing]
        return list(_requirements(one.needs, one.one_of))

    def in_the_way(self, doing: str, now: Positions) -> list[InTheWay]:
        """Everything that stands in the way of an activity; nothing where it may be done."""
        return _missing(self.requirements(doing), now)

    def in_the_way_of(self, goal: str, now: Positions) -> list[InTheWay]:
        """Everything that is not as a goal says; nothing where the machine is there."""
        one = self.goals[goal]
        return _missing(list(_requirements(one.where, one.one_of)), now)

    @property
    def stops(self) -> list[Activity]:
        """The activities that stop a machine, which stand first wherever activities are shown."""
        return [one for one in self.activities.values() if one.stop]

    def after(self, doing: str, now: Positions) -> dict[str, str]:
        """The positions after an activity. Raises ValueError where it may not be done."""
        if self.in_the_way(doing, now):
            raise ValueError(_("{doing}: may not be done now", doing=doing))
        one = self.activities[doing]
        if one.stands_for:
            there = dict(now)
            for stop in one.stands_for:
                there = self.after(stop, there)
            return there
        moved = {part: how.to for part, how in one.changes.items() if how.only_from in ("", now.get(part))}
        return {**now, **moved}

    # --- the way

    @cached_property
    def ways(self) -> Ways:
        """The search for ways through this model."""
        rules = [
            Rule(one.id, one.needs, one.one_of, {part: (how.to, how.only_from) for part, how in one.changes.items()})
            for one in self.activities.values()
            if not one.stands_for
        ]
        return Ways({part: tuple(one.positions) for part, one in self.parts.items()}, rules)

    def way_to(
        self,
        where: Where,
        now: Positions,
        *,
        one_of: tuple[Where, ...] = (),
        held: Collection[str] = (),
        without: Collection[str] = (),
        most: int = MOST_STATES,
    ) -> list[Activity] | None:
        """A short sequence of allowed activities that leads there (see `Ways.way`); None where none is known.

        Neither what a hold for one of the sides `held` forbids nor what is `without` is a step of it.
        """
        barred = {one.id for one in self.activities.values() if one.barred(held)} | set(without)
        found = self.ways.way(where, one_of, now, without=barred, most=most)
        return None if found is None else [self.activities[one] for one in found]

    def way_to_goal(self, goal: str, now: Positions, *, held: Collection[str] = ()) -> list[Activity] | None:
        """A short safe way to a goal; None where none is known."""
        one = self.goals[goal]
        return self.way_to(one.where, now, one_of=one.one_of, held=held, without=one.without)

    def way_before(self, doing: str, now: Positions, *, held: Collection[str] = ()) -> list[Activity] | None:
        """A short sequence after which an activity may be done; None where none is known."""
        one = self.activities[doing]
        return self.way_to(one.needs, now, one_of=one.one_of, held=held)

    # --- procedures

    def steps_of(self, procedure: str) -> list[str]:
        """The activities of a procedure in their order."""
        return [one.activity for one in self.procedures[procedure].steps]

    def state_at(self, name: str) -> dict[str, str]:
        """A named state, or that at the end of a procedure. Raises ValueError where a step is not allowed."""
        if name in self.states:
            return dict(self.states[name])
        now = self.state_at(self.procedures[name].begins)
        for doing in self.steps_of(name):
            if self.in_the_way(doing, now):
                reasons = "; ".join(self.tell(one) for one in self.in_the_way(doing, now))
                raise ValueError(_(
                    "procedures ({name}): {doing} is not allowed at its place: {reasons}",
                    name=name, doing=doing, reasons=reasons,
                ))  # fmt: skip
            now = self.after(doing, now)
        return now

    def moved_by(self, procedures: Collection[str]) -> frozenset[str]:
        """The parts that the activities of some procedures move."""
        return frozenset(
            part
            for name in procedures
            if name in self.procedures
            for doing in self.steps_of(name)
            for part in self.activities[doing].changes
        )

    # --- what is known

    def seen_after_a_pause(self, now: Positions) -> dict[str, str]:
        """What is still known after an interruption: what anybody may have moved in passing is not."""
        return {part: one for part, one in now.items() if not self.parts[part].by_hand}

    def unknown(self, now: Positions) -> list[Part]:
        """The parts that must be looked at (again)."""
        return [one for id, one in self.parts.items() if id not in now]

    def tell(self, one: InTheWay) -> str:
        """What stands in the way, in words: `Drive: in, must be out`."""
        language = current_language()
        found = _("not seen") if one.found is None else said(self.parts[one.part].positions[one.found], language)
        part = said(self.parts[one.part].says, language)
        needed = self._where(one.part, one.needed)
        instead = [f"{said(self.parts[other].says, language)} {self._where(other, where)}"
                   for other, where in one.instead]  # fmt: skip
        told = _("{part}: {found}, must be {needed}", part=part, found=found, needed=needed)
        return _(", or ").join([told, *instead])

    def _where(self, part: str, where: tuple[str, ...]) -> str:
        return _(" or ").join(said(self.parts[part].positions[one], current_language()) for one in where)


def _taken(step: Step, card: Card, activities: Mapping[str, Activity]) -> bool:
    return (
        step.activity in activities
        and (not step.only_if or card.says(step.only_if) is True)
        and (not step.unless or card.says(step.unless) is not True)
    )


def _fit_part(one: Part, card: Card) -> Part:
    positions = {id: says for id, says in one.positions.items() if card.has_all(one.only.get(id, ()))}
    return replace(one, positions=positions, only={})


def _fit_activity(one: Activity, card: Card, parts: Mapping[str, Part]) -> Activity:
    needs, changes = dict(one.needs), dict(one.changes)
    for more in one.also:
        if card.says(more.equipment) is True:
            needs.update(more.needs)
            changes.update(more.changes)
    changes = {
        part: effect
        for part, effect in changes.items()
        if part in parts and not (effect.unless and card.has(effect.unless))
    }
    return replace(one, needs=_of(parts, needs), one_of=_groups(parts, one.one_of), changes=changes, also=())


def _of(parts: Mapping[str, Part], found: Where) -> dict[str, tuple[str, ...]]:
    return {
        part: tuple(one for one in where if one in parts[part].positions)
        for part, where in found.items()
        if part in parts
    }


def _groups(parts: Mapping[str, Part], found: tuple[Where, ...]) -> tuple[Where, ...]:
    return tuple(group for group in (_of(parts, one) for one in found) if group)


def _requirements(needs: Where, one_of: tuple[Where, ...]) -> Iterator[Requirement]:
    for part, where in needs.items():
        yield Requirement(part, where)
    for group in one_of:
        (part, where), *instead = group.items()
        yield Requirement(part, where, tuple(instead))


def _missing(requirements: list[Requirement], now: Positions) -> list[InTheWay]:
    return [
        InTheWay(one.part, now.get(one.part), one.positions, one.instead) for one in requirements if not one.met(now)
    ]

"""A sheet: what is asked, stage by stage, and what counts as right.

The rules of this file: a question asks for what is seen, and what is right is data, never code. A sheet is read
from its table, and made one again, in `sheet_table.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from reelcare.core import units
from reelcare.core.canonical_json import digest_of
from reelcare.core.machine.card import Card
from reelcare.core.text import mark
from reelcare.core.wording import Words

if TYPE_CHECKING:  # whoever marks a sheet by the model has it loaded; reading entries takes sheets alone
    from reelcare.core.machine.model import MachineModel

Kind = Literal["position", "reading", "count", "seen", "test"]
IfNot = Literal["stop", "fix-by", "note"]
Owner = Literal["machine", "place", "adjustment", "passing"]
OWNERS: tuple[Owner, ...] = get_args(Owner)
"""Whose a hold is, the hardest to end first: something is broken, the place is wrong, something stands wrong, or
weather and people that pass."""
Gate = Literal["pull-out", "water", "running"]
GATES: tuple[Gate, ...] = get_args(Gate)
"""What a pre-start permits, one after the other; from `water` on a machine is clear."""
GATE_TITLES: Mapping[str, str] = {
    "pull-out": mark("may pull out"),
    "water": mark("may open the water"),
    "running": mark("may be left running"),
}
For = Literal["run", "road", "shop", "season"]
KINDS: tuple[Kind, ...] = get_args(Kind)
FORS: tuple[For, ...] = get_args(For)
PRE_START, GOES_ON = "pre-start", "goes-on"
"""The sheets that an ordinary run begins with, and that one goes on with after a stop half-way."""
LIMITS = ("at_least", "at_most", "about", "never_above", "never_below")
"""The keys of a question's limits."""
READ = ("reading", "count")
"""The kinds that are answered with a number; the others have choices."""


class Choice(NamedTuple):
    """One thing that can be seen, the positions that seeing it establishes besides those of its question, and, where
    it differs from the question's, what a wrong one brings and whose the hold is."""

    id: str
    says: Words
    right: bool = False
    sets: str = ""
    if_not: IfNot | None = None
    owner: Owner | None = None


class Limit(NamedTuple):
    """A bound: ways to find it in order of trust, each a quantity (`10 psi`), `card.` or `set.` and a name."""

    ways: tuple[str, ...]


class Question(NamedTuple):
    """One question of a sheet."""

    id: str
    ask: Words
    kind: Kind
    part: str
    if_not: IfNot
    choices: tuple[Choice, ...] = ()
    quantity: units.Quantity = "count"
    role: str = ""
    at_least: Limit | None = None
    at_most: Limit | None = None
    about: Limit | None = None
    within: float = 10.0
    needs: tuple[str, ...] = ()
    fix_by: Mapping[str, int] | None = None
    sets: str = ""
    why: Words | None = None
    caution: Words | None = None
    do: Words | None = None
    retest: Words | None = None
    source: str = ""
    common_practice: bool = False
    again: bool = False
    """Whether it is asked again before a second run: found by `for_second_run`, never by what a file says."""
    keeps: str = ""
    short: Words | None = None
    rests_on: tuple[str, ...] = ()
    """Parts of the machine: once one of them has moved, the question is asked again."""
    never_above: Limit | None = None
    """Beyond it a reading holds, whatever `if_not` says."""
    never_below: Limit | None = None
    never_times: float | None = None
    """A reading over so many times what `about` finds holds as well: it is no slip of an adjustment."""
    cannot_read: bool = False
    """Whether "cannot be read" is an answer."""
    owner: Owner | None = None
    """Whose a hold is that a wrong answer brings; the machine's where nothing is said."""
    by_hand: bool = False
    """Whether it is asked again after a change of person or a long pause before the water is open: it speaks of what
    anybody may have moved in passing, or of the feet. Found by `for_hand_over`, never by what a file says."""

    @property
    def is_number(self) -> bool:
        """Whether the answer is a number."""
        return self.kind in READ

    def unit(self, system: units.System) -> str:
        """The unit in which a person of that system reads it; '' for a count."""
        return "" if self.quantity == "count" else units.unit_for(self.quantity, system, self.role)

    @property
    def can_hold(self) -> bool:
        """Whether an answer to it can hold the machine."""
        never = self.never_above is not None or self.never_below is not None
        return never or "stop" in (self.if_not, *(one.if_not for one in self.choices))

    @property
    def positions(self) -> tuple[tuple[str, str], ...]:
        """The parts and positions that a right answer establishes (`sets = "drive=out; stop test=tested"`)."""
        return _pairs(self.sets)

    def established(self, seen: str) -> tuple[tuple[str, str], ...]:
        """The parts and positions that a right answer establishes: the question's, and those of the choice."""
        choice = self.choice(seen)
        return self.positions + (_pairs(choice.sets) if choice is not None else ())

    @property
    def title(self) -> Words:
        """Its short title; what it asks where it has none."""
        return self.short or self.ask

    @property
    def position(self) -> tuple[str, str] | None:
        """The first of them: the part that the question is about."""
        found = self.positions
        return found[0] if found else None

    def choice(self, id: str) -> Choice | None:
        """The choice of this id."""
        return next((one for one in self.choices if one.id == id), None)


@lru_cache(maxsize=1024)
def _pairs(sets: str) -> tuple[tuple[str, str], ...]:
    pairs = (one.partition("=") for one in sets.split(";"))
    return tuple((part.strip(), where.strip()) for part, mark, where in pairs if mark and where.strip())


class Stage(NamedTuple):
    """One stage of a walk-round, tied to a place; `in_order` says that its order is that of the work, `gate` what it
    permits with the others of that gate."""

    id: str
    title: Words
    questions: tuple[Question, ...]
    in_order: bool = False
    gate: Gate | None = None


@dataclass(frozen=True)
class Sheet:
    """A check sheet."""

    id: str
    title: Words
    checks_for: For
    stages: tuple[Stage, ...]
    begins: str = ""
    """The state or procedure of the machine's model at whose end it begins; '' is the usual one of its kind."""
    ends: str = ""
    """The goal at which a machine stands once all was answered right; '' where none is meant."""
    needs: tuple[str, ...] = ()
    """The equipment without which the whole sheet is not for a machine."""

    def fits(self, card: Card) -> bool:
        """Whether the sheet is for a machine: its card denies nothing that the sheet needs."""
        return card.has_all(self.needs)

    @cached_property
    def questions(self) -> tuple[Question, ...]:
        """All questions in their order."""
        return tuple(question for stage in self.stages for question in stage.questions)

    @cached_property
    def on_paper(self) -> str:
        """Its name on a blank, with four signs that are others where a figure on it would mean something else: another
        question, or another choice."""
        figures = [[one.id, *(choice.id for choice in one.choices)] for one in self.questions]
        return f"{self.id} {digest_of(figures)[:4]}"

    @cached_property
    def gates(self) -> tuple[Gate, ...]:
        """The gates that it has, in their order; none where it is signed once."""
        return tuple(dict.fromkeys(one.gate for one in self.stages if one.gate is not None))

    @property
    def goes_on(self) -> bool:
        """Whether it goes on from a run that was stopped half-way: its gates begin after the pull-out."""
        return bool(self.gates) and self.gates[0] != GATES[0]

    @cached_property
    def gate_places(self) -> Mapping[str, int]:
        """For each question the place of its gate among the gates; empty where there are none."""
        found: dict[str, int] = {}
        for stage in self.stages:
            if stage.gate is not None:
                found |= dict.fromkeys((one.id for one in stage.questions), self.gates.index(stage.gate))
        return found

    @cached_property
    def gate_ends(self) -> tuple[int, ...]:
        """How many questions the first gates have together: none of them, the first, the first two and so on."""
        places = tuple(self.gate_places.values())
        return (0, *(sum(one <= gate for one in places) for gate in range(len(self.gates))))

    def gate_of(self, id: str) -> Gate | None:
        """The gate of a question."""
        place = self.gate_places.get(id)
        return None if place is None else self.gates[place]

    @cached_property
    def places(self) -> Mapping[str, int]:
        """The place of each question in the order, by id."""
        return {one.id: place for place, one in enumerate(self.questions)}

    @cached_property
    def by_part(self) -> Mapping[str, list[tuple[int, str, str]]]:
        """The questions about each part that has positions: place, id, position."""
        found: dict[str, list[tuple[int, str, str]]] = {}
        for place, one in enumerate(self.questions):
            if one.position is not None:
                found.setdefault(one.position[0], []).append((place, one.id, one.position[1]))
        return found

    def question(self, id: str) -> Question | None:
        """The question of this id."""
        place = self.places.get(id)
        return None if place is None else self.questions[place]

    def stage_of(self, id: str) -> Stage | None:
        """The stage in which a question stands."""
        return next((stage for stage in self.stages if any(one.id == id for one in stage.questions)), None)

    @cached_property
    def _without(self) -> dict[frozenset[str], Sheet]:
        """What was asked of `without` before: a long history has the same for every check."""
        return {}

    def without(self, left_out: Collection[str]) -> Sheet:
        """The sheet without some questions, and without stages that are empty then."""
        key = frozenset(left_out)
        found = self._without.get(key)
        if found is None:
            stages = (
                stage._replace(questions=tuple(one for one in stage.questions if one.id not in key))
                for stage in self.stages
            )
            found = self._without[key] = replace(self, stages=tuple(one for one in stages if one.questions))
        return found


def left_out(sheet: Sheet, card: Card) -> tuple[str, ...]:
    """The questions that the card says do not apply to the machine."""
    return tuple(one.id for one in sheet.questions if not card.has_all(one.needs))


def left_out_again(sheet: Sheet, card: Card) -> tuple[str, ...]:
    """What is left out before a second run on the same hydrant: what does not apply, and what cannot have changed."""
    not_here = set(left_out(sheet, card))
    return tuple(one.id for one in sheet.questions if one.id in not_here or not one.again)


def for_second_run(sheet: Sheet, model: MachineModel) -> Sheet:
    """The sheet with each question marked that is asked again before a second run: what it speaks of, or rests on, is
    moved by what is done between two runs. The mark stays with a sheet that is kept, so that it is judged as asked.
    """
    moved = model.moved_by(model.second_run)
    stages = (
        stage._replace(questions=tuple(one._replace(again=bool(moved & _parts(one))) for one in stage.questions))
        for stage in sheet.stages
    )
    return replace(sheet, stages=tuple(stages)) if sheet.checks_for == "run" else sheet


FEET = "legs"
"""The part that is looked at again although it moves by no hand: it alone holds the pull of the hose."""


def for_hand_over(sheet: Sheet, model: MachineModel) -> Sheet:
    """The sheet with each stop question marked that is asked again after a change of person or a long pause."""
    moved = {one.id for one in model.parts.values() if one.by_hand} | {FEET}

    def marked(one: Question) -> Question:
        return one._replace(by_hand=one.if_not == "stop" and any(part in moved for part, _ in one.positions))

    stages = (
        stage._replace(questions=tuple(map(marked, stage.questions))) if stage.gate is not None else stage
        for stage in sheet.stages
    )
    return replace(sheet, stages=tuple(stages))


def _parts(question: Question) -> frozenset[str]:
    named = (*question.positions, *(pair for one in question.choices for pair in _pairs(one.sets)))
    return frozenset((*(part for part, _ in named), *question.rests_on))


def for_machine(sheet: Sheet, card: Card) -> Sheet:
    """The sheet with the questions that fit the machine's equipment."""
    return sheet.without(left_out(sheet, card))

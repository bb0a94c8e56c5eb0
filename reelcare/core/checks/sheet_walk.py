"""A sheet against the model of the machine: does each question stand where the work has it, and where does it end?

The rules of this file: a sheet is walked as people walk it, with right answers, by allowed activities. What a question
asks for must be come to at its place; what is found otherwise can be put right there, so that what was answered before
holds again, and without any step that a hold forbids; after the last answer the machine stands at the sheet's goal.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from reelcare.core.checks.sheet import Question, Sheet, for_machine
from reelcare.core.machine.card import Card
from reelcare.core.machine.model import MachineModel
from reelcare.core.machine.ways import Where
from reelcare.core.text import _, mark

NEAR, FAR = 500, 5000
"""States looked at for the steps to one question, without and with undoing what was answered before."""


def unknown_names(sheet: Sheet, model: MachineModel) -> Iterator[str]:
    """What a sheet says of parts, positions, states or goals that the model has not."""
    for key, found, known in (
        ("begins", sheet.begins, (*model.states, *model.procedures)),
        ("ends", sheet.ends, tuple(model.goals)),
    ):
        if found and found not in known:
            yield _("{key}: {found!r} is not known; choose from {known}", key=key, found=found, known=", ".join(known))
    for question in sheet.questions:
        pairs = list(question.positions)
        for choice in question.choices:
            pairs += [pair for pair in question.established(choice.id) if pair not in pairs]
        for part, where in pairs:
            if part not in model.parts:
                yield _(
                    "{id}.sets: {part!r} is no part of the machine; parts are {parts}",
                    id=question.id, part=part, parts=", ".join(model.parts),
                )  # fmt: skip
            elif where not in model.parts[part].positions:
                right = ", ".join(model.parts[part].positions)
                yield _(
                    "{id}.sets: {part} cannot be {where!r}; choose from {right}",
                    id=question.id, part=part, where=where, right=right,
                )  # fmt: skip
        for part in question.rests_on:
            if part not in model.parts:
                yield _(
                    "{id}.rests_on: {part!r} is no part of the machine; parts are {parts}",
                    id=question.id, part=part, parts=", ".join(model.parts),
                )  # fmt: skip


def problems(sheet: Sheet, model: MachineModel, card: Card) -> list[str]:
    """What of a sheet does not go on a machine: the question, what is in the way, and the cure."""
    if not sheet.fits(card):
        return []
    return list(_Walking(for_machine(sheet, card), model.for_machine(card)).problems())


class _Walking:
    """One sheet walked on one machine."""

    def __init__(self, sheet: Sheet, model: MachineModel) -> None:
        self.sheet = sheet
        self.model = model
        self.now = model.state_at(sheet.begins or model.begins[sheet.checks_for])
        self.asked: set[str] = set()

    def problems(self) -> Iterator[str]:
        for question in self.sheet.questions:
            rights = [one.id for one in question.choices if one.right] or [""]
            targets = [one for one in map(lambda seen: self._targets(question, seen), rights) if one]
            for one in targets[1:]:
                if self._way(one, self.now) is None:
                    yield self._not_at_its_place(question, one)
            if not targets:
                continue
            yield from self._put_right(question, targets[0])
            way = self._way({**self._kept(targets[0]), **targets[0]}, self.now) or self._way(
                targets[0], self.now, most=FAR
            )
            if way is None:
                yield self._not_at_its_place(question, targets[0])
                way = []
            for doing in way:
                self.now = self.model.after(doing, self.now)
            self.now.update({part: where for part, (where,) in targets[0].items()})
            self.asked.update(targets[0])
        yield from self._end()

    def _targets(self, question: Question, seen: str) -> Where:
        pairs = question.established(seen)
        parts = self.model.parts
        return {part: (where,) for part, where in pairs if part in parts and where in parts[part].positions}

    def _kept(self, targets: Where) -> Where:
        """What was answered before, and is not asked now."""
        return {part: (self.now[part],) for part in self.asked if part not in targets}

    def _way(
        self, where: Where, now: Mapping[str, str], without: Sequence[str] = (), most: int = NEAR
    ) -> list[str] | None:
        found = self.model.way_to(where, now, without=without, most=most)
        return None if found is None else [one.id for one in found]

    def _put_right(self, question: Question, targets: Where) -> Iterator[str]:
        """What stands right already could stand elsewhere: then it must be possible to put it right here."""
        if any(self.now[part] != where for part, (where,) in targets.items()):
            return
        if self.sheet.gate_of(question.id) == "running":
            return  # what is found otherwise under way is put right by stopping, and the sheet is begun again
        wanted = {**self._kept(targets), **targets}
        goes_on = [one.id for one in self.model.activities.values() if one.barred_by]
        for part, (where,) in targets.items():
            if not self._without_going_on(part, where):
                continue
            others = [one for one in self.model.parts[part].positions if one != where]
            if not any(self._way(wanted, {**self.now, part: one}, goes_on) is not None for one in others):
                yield _(
                    "{id}: {part} found {others} cannot be put right here without undoing an answer before; "
                    "ask it earlier",
                    id=question.id, part=part, others=_(" or ").join(others),
                )  # fmt: skip

    def _without_going_on(self, part: str, where: str) -> bool:
        """Whether anything but the run itself brings a part there."""
        return any(
            part in one.changes and one.changes[part].to == where and not one.barred_by
            for one in self.model.activities.values()
        )

    def _not_at_its_place(self, question: Question, targets: Where) -> str:
        sets = "; ".join(f"{part}={where}" for part, (where,) in targets.items())
        here = ", ".join(f"{part} {self.now[part]}" for part in targets)
        return _(
            "{id}: no allowed steps lead to {sets} at this place (here: {here}); move the question",
            id=question.id, sets=sets, here=here,
        )  # fmt: skip

    def _end(self) -> Iterator[str]:
        if self.sheet.ends and self.sheet.ends in self.model.goals:
            for one in self.model.in_the_way_of(self.sheet.ends, self.now):
                says = mark("ends: not {ends!r} after the last question; {tell}; ask it")
                yield _(says, ends=self.sheet.ends, tell=self.model.tell(one))

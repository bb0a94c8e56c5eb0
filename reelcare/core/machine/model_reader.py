"""Reads the table of the machine and refuses one that contradicts itself: every problem at once, with place and cure.

The rules of this file: what a table says is data. What no table may say is refused here: a stop that needs something, a
hold that forbids stopping, making safe or rescue, a part or position that does not exist, a procedure that does not go.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reelcare.core.machine.card import NEEDS, is_need
from reelcare.core.machine.equipment_kinds import few_kinds
from reelcare.core.machine.model import (
    SAFE,
    Activity,
    Also,
    Effect,
    Goal,
    MachineModel,
    ModelError,
    Part,
    Procedure,
    Step,
)  # fmt: skip
from reelcare.core.machine.table_reader import TableReader
from reelcare.core.machine.ways import Where
from reelcare.core.parts import PARTS
from reelcare.core.text import _
from reelcare.core.wording import Words, too_long_of

SIDES = ("run", "road")
_KEYS = {
    "parts": ("id", "says", "short", "at", "lit", "equipment", "stays", "positions"),
    "activities": (
        "id", "says", "short", "needs", "one_of", "goal", "changes", "caution", "source", "equipment", "also", "stop",
        "barred_by", "stands_for",
    ),
    "goals": ("id", "says", "short", "where", "one_of", "equipment", "without"),
    "states": ("id", "says", "where"),
    "procedures": ("id", "says", "equipment", "from", "activities"),
}  # fmt: skip


def read_model(table: Mapping[str, Any]) -> MachineModel:
    """The model that a table says. Raises ModelError with every problem."""
    reader = _ModelReader(table)
    model = reader.model()
    if not reader.problems:
        reader.problems += _against_the_rules(model)
    if reader.problems:
        raise ModelError(reader.problems)
    return model


def contradictions(model: MachineModel) -> Iterator[str]:
    """What of a model does not go on some kind of machine: a step not allowed at its place, a goal that cannot be come
    to, an end from which the machine cannot be made safe. It walks the model, so it takes a second or two, and it ends
    with the first kind on which something does not go."""
    for card in few_kinds():
        found = list(_on_one_kind(model.for_machine(card)))
        if found:
            yield from found
            return


def _on_one_kind(model: MachineModel) -> Iterator[str]:
    ends = {}
    for name in (*model.states, *model.procedures):
        try:
            ends[name] = model.state_at(name)
        except (ValueError, KeyError) as why:
            yield str(why)
    for goal in model.goals:
        if ends and not any(model.way_to_goal(goal, one) is not None for one in ends.values()):
            yield _(
                "goals ({goal}): no allowed steps lead there from any state or procedure; see what its parts need",
                goal=goal,
            )
    if SAFE in model.goals:
        for name, here in ends.items():
            if model.way_to_goal(SAFE, here) is None:
                yield _(
                    "procedures ({name}): from its end the machine cannot be made safe; see what {safe!r} needs",
                    name=name,
                    safe=SAFE,
                )


def _against_the_rules(model: MachineModel) -> Iterator[str]:
    """What no table of a machine may say."""
    if not any(one.stop for one in model.activities.values()):
        yield _("activities: none is a stop; mark those that stop a machine with stop = true")
    if SAFE not in model.goals:
        yield _("goals: {safe!r} is missing; it says when a machine is safe to work on", safe=SAFE)
    for one in model.activities.values():
        for place, problem in _activity_problems(model, one):
            yield f"activities ({one.id}).{place}: {problem}"
    for part in model.parts.values():
        yield from (f"parts ({part.id}).short{problem}" for problem in too_long_of(part.short))


def _activity_problems(model: MachineModel, one: Activity) -> Iterator[tuple[str, str]]:
    makes_safe = _only_makes_safe(model, one)
    if one.stop and (one.needs or one.one_of or any(more.needs for more in one.also)):
        yield "needs", _("stopping is never forbidden; a stop needs nothing")
    for stop in one.stands_for:
        if stop not in model.activities or not model.activities[stop].stop:
            yield "stands_for", _("{stop!r} is no stop; mark it with stop = true, or take it away", stop=stop)
    if one.barred_by and (one.stop or one.stands_for or one.id in model.rescue or makes_safe):
        yield "barred_by", _("no hold forbids stopping, making safe or rescue; take it away")
    if not one.changes and not one.stands_for and not makes_safe:
        yield "changes", _("nothing; an activity that changes nothing is no step")
    for part, effect in one.changes.items():
        if one.needs.get(part) == (effect.to,) or effect.only_from == effect.to:
            yield f"changes.{part}", _("it needs {to} already, so it changes nothing", to=effect.to)


def _only_makes_safe(model: MachineModel, one: Activity) -> bool:
    """Whether an activity is no step but the seeing that all of SAFE is so."""
    safe = model.goals.get(SAFE)
    return safe is not None and dict(one.needs) == dict(safe.where) and not one.changes


class _ModelReader(TableReader):
    """Reads the table of a machine."""

    def __init__(self, table: Mapping[str, Any]) -> None:
        super().__init__()
        self.table = table
        self.parts: dict[str, Part] = {}
        self.goals: dict[str, Goal] = {}

    def model(self) -> MachineModel:
        """The model as far as it can be read."""
        self.parts = {row["id"]: self._part(row) for row in self._rows("parts")}
        self.goals = {row["id"]: self._goal(row) for row in self._rows("goals")}
        activities = {row["id"]: self._activity(row) for row in self._rows("activities")}
        states = {row["id"]: self._state(row) for row in self._rows("states")}
        rows = self._rows("procedures")
        begins = (*states, *(row["id"] for row in rows))
        rescue = self._section("rescue", ("activities", "none"))
        second = self._section("second_run", ("procedures",))
        sheets = self._section("begins", ("run", "road", "shop", "season"))
        avoided = [one for goal in self.goals.values() for one in goal.without]
        for where, names, known in (
            ("goals.without", avoided, activities),
            ("rescue.activities", rescue.get("activities", ()), activities),
            ("second_run.procedures", second.get("procedures", ()), begins),
            ("begins", sheets.values(), begins),
        ):
            self._known(names, known, where)
        return MachineModel(
            self.parts,
            activities,
            self.goals,
            states,
            {row["id"]: self._procedure(row, activities, begins) for row in rows},
            tuple(second.get("procedures", ())),
            dict(sheets),
            tuple(rescue.get("activities", ())),
            self._words(rescue.get("none", ""), "rescue.none"),
        )

    def _rows(self, name: str) -> list[Mapping[str, Any]]:
        rows = self.table.get(name, [])
        if not isinstance(rows, list) or not all(
            isinstance(row, Mapping) and isinstance(row.get("id"), str) for row in rows
        ):
            self.wrong(name, _("must be a list of tables, each with an id"))
            return []
        ids = [row["id"] for row in rows]
        for id in sorted({id for id in ids if ids.count(id) > 1}):
            self.wrong(name, _("{id} is there twice", id=id))
        for row in rows:
            self.keys(row, _KEYS[name], f"{name} ({row['id']})")
        return rows

    def _section(self, name: str, keys: tuple[str, ...]) -> Mapping[str, Any]:
        found = self.table.get(name, {})
        if not isinstance(found, Mapping):
            self.wrong(name, _("must be a section [{name}]", name=name))
            return {}
        self.keys(found, keys, name)
        return found

    def _known(self, names: Any, known: Any, where: str) -> None:
        for one in names:
            if one not in known:
                self.wrong(where, _("{one!r} is not known; choose from {known}", one=one, known=", ".join(known)))

    def _words(self, value: Any, where: str) -> Words:
        words = {"en": value} if isinstance(value, str) else value
        if not isinstance(words, Mapping) or not isinstance(words.get("en"), str):
            self.wrong(where, _("must be a text, or a text by language"))
            return {"en": ""}
        return dict(words)

    def _short(self, row: Mapping[str, Any], where: str) -> Words:
        return self._words(row.get("short", row.get("says", "")), f"{where}.short")

    def _equipment(self, value: Any, where: str) -> tuple[str, ...]:
        found = tuple([value] if isinstance(value, str) else value or ())
        for one in found:
            if not is_need(str(one)):
                self.wrong(where, _("{one!r} is not known; choose from {needs}", one=one, needs=", ".join(NEEDS)))
        return found

    def _part(self, row: Mapping[str, Any]) -> Part:
        where = f"parts ({row['id']})"
        positions = row.get("positions")
        if not isinstance(positions, list) or len(positions) < 2:
            self.wrong(f"{where}.positions", _("give two or more"))
            positions = []
        if row.get("stays") not in ("hand", "still"):
            self.wrong(f"{where}.stays", _("{stays!r}: must be hand or still", stays=row.get("stays")))
        if row.get("lit") not in PARTS:
            self.wrong(
                f"{where}.lit",
                _("{get!r} is not drawn; choose from {parts}", get=row.get("lit"), parts=", ".join(PARTS)),
            )
        return Part(
            row["id"],
            self._words(row.get("says"), f"{where}.says"),
            self._short(row, where),
            self._words(row.get("at", ""), f"{where}.at"),
            str(row.get("lit")),
            {one["id"]: self._words(one.get("says"), f"{where}.{one['id']}") for one in positions},
            row.get("stays") == "hand",
            self._equipment(row.get("equipment"), f"{where}.equipment"),
            {
                one["id"]: self._equipment(one["equipment"], f"{where}.{one['id']}")
                for one in positions
                if "equipment" in one
            },
        )

    def _where(self, value: Any, where: str) -> dict[str, tuple[str, ...]]:
        found = {}
        for part, positions in (value or {}).items():
            if part not in self.parts:
                self.wrong(where, _("{part!r} is no part; choose from {parts}", part=part, parts=", ".join(self.parts)))
                continue
            several = (positions,) if isinstance(positions, str) else tuple(positions)
            for one in several:
                if one not in self.parts[part].positions:
                    self.wrong(
                        f"{where}.{part}",
                        _(
                            "{one!r} is no position; choose from {positions}",
                            one=one,
                            positions=", ".join(self.parts[part].positions),
                        ),
                    )
            found[part] = several
        return found

    def _groups(self, value: Any, where: str) -> tuple[Where, ...]:
        return tuple(self._where(one, where) for one in value or ())

    def _effects(self, value: Any, where: str) -> dict[str, Effect]:
        found = {}
        for part, effect in (value or {}).items():
            if isinstance(effect, str):
                effect = {"to": effect}
            named = [effect[key] for key in ("to", "from") if key in effect]
            self._where({part: named}, where)
            if "unless" in effect:
                self._equipment(effect["unless"], f"{where}.{part}.unless")
            found[part] = Effect(str(effect.get("to", "")), effect.get("from", ""), effect.get("unless", ""))
        return found

    def _also(self, row: Mapping[str, Any], where: str) -> Also:
        self._equipment(row.get("if", ""), f"{where}.if")
        return Also(row.get("if", ""), self._where(row.get("needs"), where), self._effects(row.get("changes"), where))

    def _activity(self, row: Mapping[str, Any]) -> Activity:
        where = f"activities ({row['id']})"
        needs = self._where(row.get("needs"), f"{where}.needs")
        one_of = self._groups(row.get("one_of"), f"{where}.one_of")
        if "goal" in row:
            self._known([row["goal"]], self.goals, f"{where}.goal")
            goal = self.goals.get(row["goal"])
            if goal is not None:
                needs, one_of = {**goal.where, **needs}, (*goal.one_of, *one_of)
        self._known(row.get("barred_by", ()), SIDES, f"{where}.barred_by")
        return Activity(
            row["id"],
            self._words(row.get("says"), f"{where}.says"),
            self._short(row, where),
            needs,
            one_of,
            self._effects(row.get("changes"), f"{where}.changes"),
            self._words(row["caution"], f"{where}.caution") if "caution" in row else None,
            self._equipment(row.get("equipment"), f"{where}.equipment"),
            tuple(self._also(one, f"{where}.also") for one in row.get("also", ())),
            row.get("stop") is True,
            tuple(row.get("barred_by", ())),
            tuple(row.get("stands_for", ())),
        )

    def _goal(self, row: Mapping[str, Any]) -> Goal:
        where = f"goals ({row['id']})"
        return Goal(
            row["id"],
            self._words(row.get("says"), f"{where}.says"),
            self._short(row, where),
            self._where(row.get("where"), f"{where}.where"),
            self._groups(row.get("one_of"), f"{where}.one_of"),
            self._equipment(row.get("equipment"), f"{where}.equipment"),
            tuple(row.get("without", ())),
        )

    def _state(self, row: Mapping[str, Any]) -> dict[str, str]:
        where = f"states ({row['id']})"
        found = self._where(row.get("where"), where)
        for part in self.parts:
            if part not in found:
                self.wrong(where, _("{part} is missing; a state says where every part stands", part=part))
        return {part: positions[0] for part, positions in found.items()}

    def _procedure(
        self, row: Mapping[str, Any], activities: Mapping[str, Activity], begins: tuple[str, ...]
    ) -> Procedure:
        where = f"procedures ({row['id']})"
        self._known([row.get("from")], begins, f"{where}.from")
        steps = []
        for one in row.get("activities", ()):
            told = {"id": one} if isinstance(one, str) else one
            self._known([told.get("id")], activities, f"{where}.activities")
            for key in ("if", "unless"):
                if key in told:
                    self._equipment(told[key], f"{where}.{told.get('id')}.{key}")
            steps.append(Step(str(told.get("id")), told.get("if", ""), told.get("unless", "")))
        return Procedure(
            row["id"],
            self._words(row.get("says"), f"{where}.says"),
            str(row.get("from")),
            tuple(steps),
            self._equipment(row.get("equipment"), f"{where}.equipment"),
        )

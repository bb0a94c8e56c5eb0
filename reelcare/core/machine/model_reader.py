"""Reads the table of the machine and refuses one that contradicts itself: every problem at once, with place and cure.

The rules of this file: what a table says is data. What no table may say is refused here: a stop that needs something, a
hold that forbids stopping, making safe or rescue, a part or position that does not exist, a procedure that does not go.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
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
from reelcare.core.text import _, mark
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
    problems = reader.whole.problems or list(_against_the_rules(model))
    if problems:
        raise ModelError(problems)
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


class _ModelReader:
    """Reads the table of a machine."""

    def __init__(self, table: Mapping[str, Any]) -> None:
        self.whole = TableReader(table)
        self.parts: dict[str, Part] = {}
        self.goals: dict[str, Goal] = {}

    def model(self) -> MachineModel:
        """The model as far as it can be read."""
        self.parts = {row.table["id"]: self._part(row) for row in self._rows("parts")}
        self.goals = {row.table["id"]: self._goal(row) for row in self._rows("goals")}
        activities = {row.table["id"]: self._activity(row) for row in self._rows("activities")}
        states = {row.table["id"]: self._state(row) for row in self._rows("states")}
        rows = self._rows("procedures")
        begins = (*states, *(row.table["id"] for row in rows))
        rescue = self._section("rescue", ("activities", "none"))
        rescuing, none = rescue.texts("activities"), rescue.table.get("none", "")
        second = self._section("second_run", ("procedures",)).texts("procedures")
        sheets = self._section("begins", ("run", "road", "shop", "season")).table
        avoided = [one for goal in self.goals.values() for one in goal.without]
        for where, names, known in (
            ("goals.without", avoided, activities),
            ("rescue.activities", rescuing, activities),
            ("second_run.procedures", second, begins),
            ("begins", sheets.values(), begins),
        ):
            _known(self.whole, where, names, known)
        procedures = {row.table["id"]: self._procedure(row, activities, begins) for row in rows}
        no_rescue = _words(rescue, "none", none)
        return MachineModel(
            self.parts, activities, self.goals, states, procedures, second, dict(sheets), rescuing, no_rescue
        )

    def _rows(self, name: str) -> list[TableReader]:
        rows = self.whole.table.get(name, [])
        if not _is_list_of_named(rows):
            self.whole.wrong(name, _("must be a list of tables, each with an id"))
            return []
        ids = [row["id"] for row in rows]
        for id in sorted({id for id in ids if ids.count(id) > 1}):
            self.whole.wrong(name, _("{id} is there twice", id=id))
        found = [self.whole.at(row, f"{name} ({row['id']})") for row in rows]
        for row in found:
            row.keys(_KEYS[name])
        return found

    def _section(self, name: str, keys: tuple[str, ...]) -> TableReader:
        found = self.whole.table.get(name, {})
        if not isinstance(found, Mapping):
            self.whole.wrong(name, _("must be a section [{name}]", name=name))
            found = {}
        section = self.whole.at(found, name)
        section.keys(keys)
        return section

    def _part(self, row: TableReader) -> Part:
        positions = row.table.get("positions")
        if not isinstance(positions, list) or len(positions) < 2:
            row.wrong("positions", _("give two or more"))
            positions = []
        elif not _is_list_of_named(positions):
            row.wrong("positions", _("must be a list of tables, each with an id"))
            positions = []
        if row.table.get("stays") not in ("hand", "still"):
            row.wrong("stays", _("{stays!r}: must be hand or still", stays=row.table.get("stays")))
        lit = row.table.get("lit")
        if lit not in PARTS:
            row.wrong("lit", _("{get!r} is not drawn; choose from {parts}", get=lit, parts=", ".join(PARTS)))
        return Part(
            row.table["id"],
            _words(row, "says", row.table.get("says")),
            _short(row),
            _words(row, "at", row.table.get("at", "")),
            str(lit),
            {one["id"]: _words(row, one["id"], one.get("says")) for one in positions},
            row.table.get("stays") == "hand",
            _equipment(row, "equipment", row.table.get("equipment")),
            {one["id"]: _equipment(row, one["id"], one["equipment"]) for one in positions if "equipment" in one},
        )

    def _where(self, here: TableReader) -> dict[str, tuple[str, ...]]:
        found = {}
        for part, positions in here.table.items():
            if part not in self.parts:
                here.wrong("", _("{part!r} is no part; choose from {parts}", part=part, parts=", ".join(self.parts)))
                continue
            several, known = _several(here, part, positions), self.parts[part].positions
            for one in several:
                if one not in known:
                    says = mark("{one!r} is no position; choose from {positions}")
                    here.wrong(part, _(says, one=one, positions=", ".join(known)))
            found[part] = several
        return found

    def _groups(self, row: TableReader) -> tuple[Where, ...]:
        return tuple(self._where(one) for one in _tables(row, "one_of"))

    def _effects(self, here: TableReader) -> dict[str, Effect]:
        found = {}
        for part, effect in here.table.items():
            if isinstance(effect, str):
                effect = {"to": effect}
            elif not isinstance(effect, Mapping):
                here.wrong(part, _("must be a table"))
                continue
            self._where(here.at({part: [effect[key] for key in ("to", "from") if key in effect]}, here.where))
            if "unless" in effect:
                _equipment(here, f"{part}.unless", effect["unless"])
            found[part] = Effect(str(effect.get("to", "")), effect.get("from", ""), effect.get("unless", ""))
        return found

    def _also(self, row: TableReader) -> Also:
        _equipment(row, "if", row.table.get("if", ""))
        return Also(row.table.get("if", ""), self._where(_table(row, "needs")), self._effects(_table(row, "changes")))

    def _activity(self, row: TableReader) -> Activity:
        needs, one_of = self._where(_table(row, "needs")), self._groups(row)
        if "goal" in row.table:
            name = row.text("goal")
            _known(row, "goal", [name], self.goals)
            if name in self.goals:
                goal = self.goals[name]
                needs, one_of = {**goal.where, **needs}, (*goal.one_of, *one_of)
        barred_by = row.texts("barred_by")
        _known(row, "barred_by", barred_by, SIDES)
        return Activity(
            row.table["id"],
            _words(row, "says", row.table.get("says")),
            _short(row),
            needs,
            one_of,
            self._effects(_table(row, "changes")),
            _words(row, "caution", row.table["caution"]) if "caution" in row.table else None,
            _equipment(row, "equipment", row.table.get("equipment")),
            tuple(self._also(one) for one in _tables(row, "also")),
            row.table.get("stop") is True,
            barred_by,
            row.texts("stands_for"),
        )

    def _goal(self, row: TableReader) -> Goal:
        return Goal(
            row.table["id"],
            _words(row, "says", row.table.get("says")),
            _short(row),
            self._where(_table(row, "where")),
            self._groups(row),
            _equipment(row, "equipment", row.table.get("equipment")),
            row.texts("without"),
        )

    def _state(self, row: TableReader) -> dict[str, str]:
        found = self._where(_table(row, "where"))
        for part in self.parts:
            if not found.get(part):
                row.wrong("", _("{part} is missing; a state says where every part stands", part=part))
        return {part: positions[0] for part, positions in found.items() if positions}

    def _procedure(self, row: TableReader, activities: Mapping[str, Activity], begins: tuple[str, ...]) -> Procedure:
        _known(row, "from", [row.table.get("from")], begins)
        steps = []
        for one in _list(row, "activities"):
            told = {"id": one} if isinstance(one, str) else one
            if not isinstance(told, Mapping):
                row.wrong("activities", _("must be a table"))
                continue
            _known(row, "activities", [told.get("id")], activities)
            for key in ("if", "unless"):
                if key in told:
                    _equipment(row, f"{told.get('id')}.{key}", told[key])
            steps.append(Step(str(told.get("id")), told.get("if", ""), told.get("unless", "")))
        return Procedure(
            row.table["id"],
            _words(row, "says", row.table.get("says")),
            str(row.table.get("from")),
            tuple(steps),
            _equipment(row, "equipment", row.table.get("equipment")),
        )


def _is_list_of_named(rows: Any) -> bool:
    return isinstance(rows, list) and all(isinstance(row, Mapping) and isinstance(row.get("id"), str) for row in rows)


def _known(row: TableReader, key: str, names: Iterable[Any], known: Iterable[str]) -> None:
    known = tuple(known)
    for one in names:
        if one not in known:
            row.wrong(key, _("{one!r} is not known; choose from {known}", one=one, known=", ".join(known)))


def _words(row: TableReader, key: str, value: Any) -> Words:
    words = {"en": value} if isinstance(value, str) else value
    if not isinstance(words, Mapping) or "en" not in words or not all(isinstance(one, str) for one in words.values()):
        row.wrong(key, _("must be a text, or a text by language"))
        return {"en": ""}
    return dict(words)


def _short(row: TableReader) -> Words:
    return _words(row, "short", row.table.get("short", row.table.get("says", "")))


def _several(row: TableReader, key: str, value: Any) -> tuple[str, ...]:
    """One text, or a list of them."""
    several = (value,) if isinstance(value, str) else value
    if not isinstance(several, (list, tuple)) or not all(isinstance(one, str) for one in several):
        row.wrong(key, _("must be a list of texts"))
        return ()
    return tuple(several)


def _equipment(row: TableReader, key: str, value: Any) -> tuple[str, ...]:
    found = _several(row, key, () if value is None else value)
    for one in found:
        if not is_need(one):
            row.wrong(key, _("{one!r} is not known; choose from {needs}", one=one, needs=", ".join(NEEDS)))
    return found


def _list(row: TableReader, key: str) -> Sequence[Any]:
    value = row.table.get(key) or ()
    if not isinstance(value, (list, tuple)):
        row.wrong(key, _("must be a list"))
        return ()
    return value


def _table(row: TableReader, key: str) -> TableReader:
    """The table of a key; an empty one where there is none."""
    value = row.table.get(key) or {}
    if not isinstance(value, Mapping):
        row.wrong(key, _("must be a table"))
        value = {}
    return row.at(value, row.place(key))


def _tables(row: TableReader, key: str) -> list[TableReader]:
    found = _list(row, key)
    if not all(isinstance(one, Mapping) for one in found):
        row.wrong(key, _("must be a table"))
        return []
    return [row.at(one, row.place(key)) for one in found]

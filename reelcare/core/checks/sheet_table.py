"""Sheets from plain tables and back: every error at once, each with its place.

The rules of this file: a table is the content of a sheet's TOML file. `to_plain` and `read_sheet` are each other's
inverse, so that a finished check can keep the sheet as it was asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, get_args

from reelcare.core import units
from reelcare.core.checks.sheet import FORS, GATES, KINDS, LIMITS, OWNERS, Choice, IfNot, Limit, Question, Sheet, Stage
from reelcare.core.machine.card import is_need
from reelcare.core.machine.table_reader import TableReader
from reelcare.core.parts import PARTS
from reelcare.core.text import _
from reelcare.core.wording import ProblemsError, Words


class SheetError(ProblemsError):
    """A sheet that cannot be right."""


SHEET_KEYS = ("id", "title", "for", "stages", "begins", "ends", "needs")
_IF_NOT = get_args(IfNot)
_FIX_BY = ("hours", "metres", "runs", "days")
_QUANTITIES = tuple(units.COMMON)


class _SheetReader(TableReader):
    """Reads a sheet. `kept`: one that was asked already, perhaps by another version."""

    def __init__(self, *, kept: bool = False) -> None:
        super().__init__()
        self.kept = kept

    def keys(self, table: Mapping[str, Any], known: Sequence[str], where: str) -> None:
        if not self.kept:
            super().keys(table, known, where)

    def needs(self, table: Mapping[str, Any], where: str) -> tuple[str, ...]:
        if not self.kept:
            return super().needs(table, where)
        return tuple(one for one in self.texts(table, "needs", where) if is_need(one))

    def one_of(self, table: Mapping[str, Any], key: str, where: str, known: tuple[str, ...]) -> str:
        value = table.get(key)
        if value not in known:
            self.wrong(
                f"{where}.{key}", _("{value!r} is not known; choose from {known}", value=value, known=", ".join(known))
            )
            return known[0]
        return str(value)

    def words(self, table: Mapping[str, Any], key: str, where: str, *, needed: bool = False) -> Words | None:
        value = table.get(key)
        if value is None:
            if needed:
                self.wrong(f"{where}.{key}", _("missing; a text, or a text by language"))
            return None
        if isinstance(value, str):
            return {"en": value}
        if isinstance(value, Mapping) and all(isinstance(one, str) and one for one in value.values()):
            if "en" not in value:
                self.wrong(f"{where}.{key}", _("no English text; `en` is always there"))
            return dict(value)
        self.wrong(f"{where}.{key}", _("must be a text, or a text by language"))
        return None

    def tables(self, table: Mapping[str, Any], key: str, where: str) -> list[Mapping[str, Any]]:
        value = table.get(key)
        if not isinstance(value, (list, tuple)) or not value or not all(isinstance(one, Mapping) for one in value):
            self.wrong(f"{where}{key}", _("missing or empty; at least one is needed"))
            return []
        return list(value)


def read_sheet(table: Mapping[str, Any], *, kept: bool = False) -> Sheet:
    """The sheet that a table says. Raises SheetError with every problem.

    A sheet that is `kept` with a check is read as it was asked: keys that this version does not know, and equipment
    that its cards do not name, are passed over.
    """
    reader = _SheetReader(kept=kept)
    reader.keys(table, SHEET_KEYS, "")
    sheet = Sheet(
        id=reader.text(table, "id", "sheet", needed=True),
        title=reader.words(table, "title", "sheet", needed=True) or {"en": ""},
        checks_for=reader.one_of(table, "for", "sheet", FORS),  # type: ignore[arg-type]  # one of FORS
        stages=tuple(
            _stage(one, f"stages[{number}]", reader) for number, one in enumerate(reader.tables(table, "stages", ""))
        ),
        begins=reader.text(table, "begins", "sheet"),
        ends=reader.text(table, "ends", "sheet"),
        needs=reader.needs(table, "sheet"),
    )
    for problem in _gates(sheet):
        reader.wrong("stages", problem)
    seen: set[str] = set()
    for question in sheet.questions:
        if question.id and question.id in seen:
            reader.wrong(question.id, _("two questions have this id"))
        seen.add(question.id)
    if reader.problems:
        raise SheetError(reader.problems)
    return sheet


def _gates(sheet: Sheet) -> Iterator[str]:
    if not sheet.gates:
        return
    order = [None if one.gate is None else GATES.index(one.gate) for one in sheet.stages]
    if sheet.checks_for != "run":
        yield _("gates are for a sheet that clears a run")
    if None in order:
        yield _("either every stage has a gate or none")
    elif order != sorted(order):  # type: ignore[type-var]  # no None among them
        yield _("gates must be in the order {gates}", gates=", ".join(GATES))
    if "water" not in sheet.gates:
        yield _("gate `water` is missing; from it on a machine is clear")


def _stage(table: Mapping[str, Any], where: str, reader: _SheetReader) -> Stage:
    reader.keys(table, Stage._fields, where)
    return Stage(
        id=reader.text(table, "id", where, needed=True),
        title=reader.words(table, "title", where, needed=True) or {"en": ""},
        questions=tuple(
            _question(one, f"{where}.questions[{number}]", reader)
            for number, one in enumerate(reader.tables(table, "questions", f"{where}."))
        ),
        in_order=reader.flag(table, "in_order", where),
        gate=_optional(table, "gate", where, GATES, reader),
    )


def _question(table: Mapping[str, Any], where: str, reader: _SheetReader) -> Question:
    id = reader.text(table, "id", where, needed=True)
    where = f"{where} ({id})" if id else where
    reader.keys(table, Question._fields, where)
    question = Question(
        id=id,
        ask=reader.words(table, "ask", where, needed=True) or {"en": ""},
        kind=reader.one_of(table, "kind", where, KINDS),  # type: ignore[arg-type]  # one of KINDS
        part=reader.one_of(table, "part", where, PARTS),
        if_not=reader.one_of(table, "if_not", where, _IF_NOT),  # type: ignore[arg-type]
        choices=_choices(table, where, reader),
        quantity=_quantity(table, where, reader),
        role=reader.text(table, "role", where),
        at_least=_limit(table, "at_least", where, reader),
        at_most=_limit(table, "at_most", where, reader),
        about=_limit(table, "about", where, reader),
        within=_within(table, where, reader),
        needs=reader.needs(table, where),
        fix_by=_fix_by(table, where, reader),
        sets=reader.text(table, "sets", where),
        why=reader.words(table, "why", where),
        caution=reader.words(table, "caution", where),
        do=reader.words(table, "do", where),
        retest=reader.words(table, "retest", where),
        source=reader.text(table, "source", where),
        common_practice=reader.flag(table, "common_practice", where),
        again=reader.flag(table, "again", where),
        keeps=reader.text(table, "keeps", where),
        short=reader.words(table, "short", where),
        rests_on=reader.texts(table, "rests_on", where),
        never_above=_limit(table, "never_above", where, reader),
        never_below=_limit(table, "never_below", where, reader),
        never_times=_times(table, where, reader),
        cannot_read=reader.flag(table, "cannot_read", where),
        by_hand=reader.flag(table, "by_hand", where),
        owner=_optional(table, "owner", where, OWNERS, reader),
    )
    for problem in _fits(question):
        reader.wrong(where, problem)
    return question


def _fits(question: Question) -> Iterator[str]:
    limits = [one for one in (getattr(question, key) for key in LIMITS) if one is not None]
    yield from _never(question)
    if question.is_number:
        if question.choices:
            yield _("a {kind} has no choices", kind=question.kind)
        if question.if_not == "stop" and not any(_literal(one.ways[-1]) for one in limits):
            yield _("a stop question needs a limit that holds for every machine; end its list with a figure")
    else:
        if limits:
            yield _("a {kind} has choices, not limits", kind=question.kind)
        if len(question.choices) < 2:
            yield _("at least two choices are needed: what is right, and what else can be seen")
        elif not any(one.right for one in question.choices):
            yield _("no choice is right")
        elif all(one.right for one in question.choices) and question.if_not != "note":
            yield _("every choice is right, so nothing is asked")
    fix_by = "fix-by" in (question.if_not, *(one.if_not for one in question.choices))
    if fix_by and question.fix_by is None:
        yield _("fix-by needs fix_by, as in fix_by = { hours = 10 }")
    if question.role and question.role not in units.ROLES:
        yield _("role: {role!r} is not known; choose from {roles}", role=question.role, roles=", ".join(units.ROLES))
    if question.keeps and not question.is_number:
        yield _("keeps: only a number can be kept")
    if question.sets and question.position is None:
        yield _('sets: write it as in "pawl=up"')


def _never(question: Question) -> Iterator[str]:
    for one in (question.never_above, question.never_below):
        if one is not None and not _literal(one.ways[-1]):
            yield _("never_above and never_below hold for every machine; end their list with a figure")
    if question.cannot_read and question.kind != "reading":
        yield _("cannot_read: only a reading can be one that cannot be read")


def _times(table: Mapping[str, Any], where: str, reader: _SheetReader) -> float | None:
    value = table.get("never_times")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 1 < value <= 100:
        reader.wrong(f"{where}.never_times", _("{value!r}: must be a number above 1 and up to 100", value=value))
        return None
    if "about" not in table or "never_above" not in table:
        reader.wrong(f"{where}.never_times", _("goes with about and never_above"))
    return float(value)


def _literal(way: str) -> bool:
    return not way.startswith(("card.", "set."))


def _choices(table: Mapping[str, Any], where: str, reader: _SheetReader) -> tuple[Choice, ...]:
    if "choices" not in table:
        return ()
    found = []
    for number, one in enumerate(reader.tables(table, "choices", f"{where}.")):
        place = f"{where}.choices[{number}]"
        reader.keys(one, Choice._fields, place)
        found.append(
            Choice(
                reader.text(one, "id", place, needed=True),
                reader.words(one, "says", place, needed=True) or {"en": ""},
                reader.flag(one, "right", place),
                reader.text(one, "sets", place),
                _optional(one, "if_not", place, _IF_NOT, reader),
                _optional(one, "owner", place, OWNERS, reader),
            )
        )
    ids = [one.id for one in found]
    if len(set(ids)) != len(ids):
        reader.wrong(f"{where}.choices", _("two choices have the same id"))
    if len(found) > 9:
        reader.wrong(f"{where}.choices", _("more than nine choices; each needs a key of its own, 1 to 9"))
    return tuple(found)


def _optional(table: Mapping[str, Any], key: str, where: str, known: tuple[str, ...], reader: _SheetReader) -> Any:
    """One of the words that are known, None where nothing is said."""
    return reader.one_of(table, key, where, known) if key in table else None


def _quantity(table: Mapping[str, Any], where: str, reader: _SheetReader) -> units.Quantity:
    if table.get("kind") == "reading" and "quantity" not in table:
        reader.wrong(f"{where}.quantity", _("missing; one of {quantities}", quantities=", ".join(_QUANTITIES)))
        return "count"
    if "quantity" not in table:
        return "count"
    return reader.one_of(table, "quantity", where, _QUANTITIES)  # type: ignore[return-value]  # one of them


def _limit(table: Mapping[str, Any], key: str, where: str, reader: _SheetReader) -> Limit | None:
    if key not in table:
        return None
    value = table[key]
    ways = value if isinstance(value, (list, tuple)) else [value]
    found = []
    for one in ways:
        if isinstance(one, bool) or not isinstance(one, (str, int, float)):
            reader.wrong(f"{where}.{key}", _("must be a quantity, or `card.` or `set.` and a name"))
            continue
        text = one if isinstance(one, str) else f"{one:g}"
        if _literal(text):
            quantity = table.get("quantity", "count")
            try:
                units.read(text, quantity if quantity in _QUANTITIES else "count")
            except units.UnitsError as why:
                reader.wrong(f"{where}.{key}", str(why))
        elif text.startswith("card.") and text.count(".") != 2:
            reader.wrong(f"{where}.{key}", _("{text!r}; write it as in card.drive.most_loss", text=text))
        found.append(text)
    if not found:
        reader.wrong(f"{where}.{key}", _("empty"))
        return None
    return Limit(tuple(found))


def _within(table: Mapping[str, Any], where: str, reader: _SheetReader) -> float:
    value = table.get("within", 10)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value <= 100:
        reader.wrong(f"{where}.within", _("{value!r}: must be a percentage above 0 and up to 100", value=value))
        return 10.0
    return float(value)


def _fix_by(table: Mapping[str, Any], where: str, reader: _SheetReader) -> Mapping[str, int] | None:
    value = table.get("fix_by")
    if value is None:
        return None
    if not isinstance(value, Mapping) or not value:
        reader.wrong(f"{where}.fix_by", _("must be a table, as in { hours = 10 }"))
        return None
    for key, one in value.items():
        if key not in _FIX_BY or isinstance(one, bool) or not isinstance(one, int) or one <= 0:
            reader.wrong(f"{where}.fix_by.{key}", _("must be a whole number of {fix_by}", fix_by=", ".join(_FIX_BY)))
    return dict(value)


def to_plain(sheet: Sheet) -> dict[str, Any]:
    """The sheet as the table that `read_sheet` takes."""
    table = _table({one.name: getattr(sheet, one.name) for one in fields(sheet)})
    table["for"] = table.pop("checks_for")
    return table


def _table(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values that say something; what is not there is read as nothing said."""
    return {key: _plain(value) for key, value in values.items() if value}


def _plain(value: Any) -> Any:
    if isinstance(value, Limit):
        return list(value.ways)
    if isinstance(value, Question):
        table = _table(value._asdict())
        if not value.is_number:
            del table["quantity"]
        if value.about is None:
            del table["within"]
        return table
    if isinstance(value, (Stage, Choice)):
        return _table(value._asdict())
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return dict(value) if isinstance(value, Mapping) else value

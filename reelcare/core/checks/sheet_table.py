"""Sheets from plain tables and back: every error at once, each with its place.

The rules of this file: a table is the content of a sheet's TOML file. `to_plain` and `read_sheet` are each other's
inverse, so that a finished check can keep the sheet as it was asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, Self, get_args

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
    """Reads a sheet."""

    def one_of(self, key: str, known: tuple[str, ...]) -> str:
        value = self.table.get(key)
        if value not in known:
            self.wrong(key, _("{value!r} is not known; choose from {known}", value=value, known=", ".join(known)))
            return known[0]
        return str(value)

    def optional(self, key: str, known: tuple[str, ...]) -> Any:
        """One of the words that are known, None where nothing is said."""
        return self.one_of(key, known) if key in self.table else None

    def words(self, key: str) -> Words | None:
        value = self.table.get(key)
        if value is None:
            return None
        if isinstance(value, str):
            return {"en": value}
        if isinstance(value, Mapping) and all(isinstance(one, str) and one for one in value.values()):
            if "en" not in value:
                self.wrong(key, _("no English text; `en` is always there"))
            return dict(value)
        self.wrong(key, _("must be a text, or a text by language"))
        return None

    def needed_words(self, key: str) -> Words:
        if self.table.get(key) is None:
            self.wrong(key, _("missing; a text, or a text by language"))
        return self.words(key) or {"en": ""}

    def rows(self, key: str) -> list[Self]:
        """Readers of the tables of a list."""
        value = self.table.get(key)
        if not isinstance(value, (list, tuple)) or not value or not all(isinstance(one, Mapping) for one in value):
            self.wrong(key, _("missing or empty; at least one is needed"))
            return []
        return [self.at(one, f"{self.place(key)}[{number}]") for number, one in enumerate(value)]


class _KeptReader(_SheetReader):
    """Reads a sheet that was asked already, perhaps by another version."""

    def keys(self, known: Sequence[str]) -> None:
        """Pass over those that are not known."""

    def needs(self) -> tuple[str, ...]:
        """Those that are known."""
        return tuple(one for one in self.texts("needs") if is_need(one))


def read_sheet(table: Mapping[str, Any], *, kept: bool = False) -> Sheet:
    """The sheet that a table says. Raises SheetError with every problem.

    A sheet that is `kept` with a check is read as it was asked: keys that this version does not know, and equipment
    that its cards do not name, are passed over.
    """
    reader = (_KeptReader if kept else _SheetReader)(table)
    reader.keys(SHEET_KEYS)
    said = reader.at(table, "sheet")
    sheet = Sheet(
        id=said.text("id", needed=True),
        title=said.needed_words("title"),
        checks_for=said.one_of("for", FORS),  # type: ignore[arg-type]  # one of FORS
        stages=tuple(map(_stage, reader.rows("stages"))),
        begins=said.text("begins"),
        ends=said.text("ends"),
        needs=said.needs(),
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


def _stage(row: _SheetReader) -> Stage:
    row.keys(Stage._fields)
    return Stage(
        id=row.text("id", needed=True),
        title=row.needed_words("title"),
        questions=tuple(map(_question, row.rows("questions"))),
        in_order=row.flag("in_order"),
        gate=row.optional("gate", GATES),
    )


def _question(row: _SheetReader) -> Question:
    id = row.text("id", needed=True)
    row = row.at(row.table, f"{row.where} ({id})") if id else row
    row.keys(Question._fields)
    question = Question(
        id=id,
        ask=row.needed_words("ask"),
        kind=row.one_of("kind", KINDS),  # type: ignore[arg-type]  # one of KINDS
        part=row.one_of("part", PARTS),
        if_not=row.one_of("if_not", _IF_NOT),  # type: ignore[arg-type]
        choices=_choices(row),
        quantity=_quantity(row),
        role=row.text("role"),
        at_least=_limit(row, "at_least"),
        at_most=_limit(row, "at_most"),
        about=_limit(row, "about"),
        within=_within(row),
        needs=row.needs(),
        fix_by=_fix_by(row),
        sets=row.text("sets"),
        why=row.words("why"),
        caution=row.words("caution"),
        do=row.words("do"),
        retest=row.words("retest"),
        source=row.text("source"),
        common_practice=row.flag("common_practice"),
        again=row.flag("again"),
        keeps=row.text("keeps"),
        short=row.words("short"),
        rests_on=row.texts("rests_on"),
        never_above=_limit(row, "never_above"),
        never_below=_limit(row, "never_below"),
        never_times=_times(row),
        cannot_read=row.flag("cannot_read"),
        by_hand=row.flag("by_hand"),
        owner=row.optional("owner", OWNERS),
    )
    for problem in _fits(question):
        row.wrong("", problem)
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


def _times(row: _SheetReader) -> float | None:
    value = row.table.get("never_times")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 1 < value <= 100:
        row.wrong("never_times", _("{value!r}: must be a number above 1 and up to 100", value=value))
        return None
    if "about" not in row.table or "never_above" not in row.table:
        row.wrong("never_times", _("goes with about and never_above"))
    return float(value)


def _literal(way: str) -> bool:
    return not way.startswith(("card.", "set."))


def _choices(row: _SheetReader) -> tuple[Choice, ...]:
    if "choices" not in row.table:
        return ()
    found = tuple(map(_choice, row.rows("choices")))
    ids = [one.id for one in found]
    if len(set(ids)) != len(ids):
        row.wrong("choices", _("two choices have the same id"))
    if len(found) > 9:
        row.wrong("choices", _("more than nine choices; each needs a key of its own, 1 to 9"))
    return found


def _choice(row: _SheetReader) -> Choice:
    row.keys(Choice._fields)
    return Choice(
        id=row.text("id", needed=True),
        says=row.needed_words("says"),
        right=row.flag("right"),
        sets=row.text("sets"),
        if_not=row.optional("if_not", _IF_NOT),
        owner=row.optional("owner", OWNERS),
    )


def _quantity(row: _SheetReader) -> units.Quantity:
    if "quantity" in row.table:
        return row.one_of("quantity", _QUANTITIES)  # type: ignore[return-value]  # one of them
    if row.table.get("kind") == "reading":
        row.wrong("quantity", _("missing; one of {quantities}", quantities=", ".join(_QUANTITIES)))
    return "count"


def _limit(row: _SheetReader, key: str) -> Limit | None:
    if key not in row.table:
        return None
    value = row.table[key]
    ways = value if isinstance(value, (list, tuple)) else [value]
    found = []
    for one in ways:
        if isinstance(one, bool) or not isinstance(one, (str, int, float)):
            row.wrong(key, _("must be a quantity, or `card.` or `set.` and a name"))
            continue
        text = one if isinstance(one, str) else f"{one:g}"
        if _literal(text):
            quantity = row.table.get("quantity", "count")
            try:
                units.read(text, quantity if quantity in _QUANTITIES else "count")
            except units.UnitsError as why:
                row.wrong(key, str(why))
        elif text.startswith("card.") and text.count(".") != 2:
            row.wrong(key, _("{text!r}; write it as in card.drive.most_loss", text=text))
        found.append(text)
    if not found:
        row.wrong(key, _("empty"))
        return None
    return Limit(tuple(found))


def _within(row: _SheetReader) -> float:
    value = row.table.get("within", 10)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value <= 100:
        row.wrong("within", _("{value!r}: must be a percentage above 0 and up to 100", value=value))
        return 10.0
    return float(value)


def _fix_by(row: _SheetReader) -> Mapping[str, int] | None:
    value = row.table.get("fix_by")
    if value is None:
        return None
    if not isinstance(value, Mapping) or not value:
        row.wrong("fix_by", _("must be a table, as in { hours = 10 }"))
        return None
    for key, one in value.items():
        if key not in _FIX_BY or isinstance(one, bool) or not isinstance(one, int) or one <= 0:
            row.wrong(f"fix_by.{key}", _("must be a whole number of {fix_by}", fix_by=", ".join(_FIX_BY)))
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

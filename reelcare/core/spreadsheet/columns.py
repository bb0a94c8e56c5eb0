"""The columns that run logs and lists of machines can have, what stands in them, and which heading is which."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NamedTuple

from reelcare.core import units
from reelcare.core.machine.card import READERS, TOP
from reelcare.core.machine.card_readers import MASSES, ValueReader, day, flag
from reelcare.core.machine.card_toml import to_toml
from reelcare.core.spreadsheet.table import SpreadsheetTable
from reelcare.core.text import _
from reelcare.core.wording import ProblemsError, nearest

Reads = Literal["text", "moment", "day", "number", "flag", "quantity", "done"]
SheetKind = Literal["runs", "machines", "last done"]
"""What a spreadsheet is of: runs, machines, or when each item of the plan was last done."""
DATES = ("d/m/y", "m/d/y", "y-m-d", "d.m.y")
DECIMALS = (",", ".")


class MatchingError(ProblemsError):
    """A matching that cannot be, or that leaves a needed column out."""


class SpreadsheetColumn(NamedTuple):
    """What stands in a column: how it is read, of which quantity, and the unit that its name says."""

    reads: Reads
    quantity: units.Quantity = "count"
    unit: str = ""


def _of(quantity: units.Quantity, unit: str = "") -> SpreadsheetColumn:
    return SpreadsheetColumn("quantity", quantity, unit)


TEXT, FLAG = SpreadsheetColumn("text"), SpreadsheetColumn("flag")
DONE = SpreadsheetColumn("done")
RUNS: Mapping[str, SpreadsheetColumn] = {
    "machine": TEXT, "started": SpreadsheetColumn("moment"), "ended": SpreadsheetColumn("moment"),
    "duration": _of("duration"), "metres": _of("length"),
    "planned_speed": _of("speed"), "inlet": _of("pressure"), "gun": _of("pressure"), "drive_loss": _of("pressure"),
    "operator": TEXT, "place": TEXT, "stopped_by": TEXT, "notes": TEXT, "dwell": _of("duration"),
    "volume": _of("volume"), "meter": _of("volume"),
}  # fmt: skip
SPELT = {
    "metres": ("metres", "m"), "planned_speed_m_h": ("planned_speed", "m/h"), "inlet_kpa": ("inlet", "kPa"),
    "gun_kpa": ("gun", "kPa"), "drive_loss_kpa": ("drive_loss", "kPa"), "dwell_minutes": ("dwell", "min"),
    "volume_m3": ("volume", "m3"), "meter_m3": ("meter", "m3"),
}  # fmt: skip
"""Headings of the strict run log that say their unit: the column, and the unit."""
NEEDED_OF_RUNS = ("machine", "started", "ended", "metres")
"""Where a spreadsheet has no column for the end, it can have one that says how long each run took."""


NUMBERS_IN = {
    "in_use.hours": "h", "in_use.metres": "m", "season.hours_a_year": "h", "season.metres_a_year": "m",
    "cart.mass": "kg", "cart.arc": "°",
}  # fmt: skip
"""The units of bare numbers of a card."""


def _of_card(key: str, reader: ValueReader) -> SpreadsheetColumn:
    if reader.measures is not None and reader.measures != "count":
        return _of(reader.measures)
    if reader.measures is not None:
        unit = NUMBERS_IN.get(key, "")
        return SpreadsheetColumn("number", units.UNITS[unit].quantity if unit in units.UNITS else "count", unit)
    return FLAG if reader is flag else SpreadsheetColumn("day") if reader is day else TEXT


MACHINES: Mapping[str, SpreadsheetColumn] = {
    key: _of_card(key, reader) for key, reader in {**TOP, **READERS}.items() if key != "pump.points"
}
"""Every key of a card, but for the points of a curve, which are no cell."""


_SECTIONS: Mapping[SheetKind, str] = {"runs": "columns", "machines": "machines", "last done": "last_done"}


@dataclass(frozen=True, slots=True)
class Matching:
    """Which heading of a person's (or several, joined by a blank) is which of our columns, and what settles doubts."""

    dates: str = ""
    decimal: str = ""
    sheet: str = ""
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    machines: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    last_done: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)

    def of(self, kind: SheetKind) -> Mapping[str, tuple[str, ...]]:
        """The headings for a spreadsheet of a kind."""
        found: Mapping[str, tuple[str, ...]] = getattr(self, _SECTIONS[kind])
        return found

    def with_column(self, kind: SheetKind, name: str, headings: tuple[str, ...]) -> Matching:
        """The same with other headings for a column of ours; none say that it is not there."""
        changed: dict[str, Any] = {_SECTIONS[kind]: {**self.of(kind), name: headings}}
        return replace(self, **changed)

    def settled(self, key: str, value: str) -> Matching:
        """The same with a doubt settled: `dates`, `decimal`, `sheet` or `units.` and a name."""
        if key.startswith("units."):
            return replace(self, units={**self.units, key.removeprefix("units."): value})
        changed: dict[str, Any] = {key: value}
        return replace(self, **changed)

    def to_toml(self) -> str:
        """The matching as the file that `--as` takes."""
        table: dict[str, Any] = {key: value for key in ("dates", "decimal", "sheet") if (value := getattr(self, key))}
        for kind, section in _SECTIONS.items():
            said = {name: some[0] if len(some) == 1 else list(some) for name, some in self.of(kind).items() if some}
            table |= {section: said} if said else {}
        return to_toml({**table, "units": dict(self.units)} if self.units else table)


def read_matching(table: Mapping[str, Any]) -> Matching:
    """Read a matching from a TOML table. Raises MatchingError with every problem."""
    problems = [
        _("{key}: not known{hint}", key=key, hint=nearest(key, MATCHING_KEYS))
        for key in table
        if key not in MATCHING_KEYS
    ]
    dates, decimal = table.get("dates", ""), table.get("decimal", "")
    if dates not in ("", *DATES):
        problems.append(_("dates: {value!r} is not known; choose from {known}", value=dates, known=", ".join(DATES)))
    if decimal not in ("", *DECIMALS):
        problems.append(_('decimal: {value!r}: must be "," or "."', value=decimal))
    columns = _headings(table.get("columns", {}), "columns", RUNS, problems)
    machines = _headings(table.get("machines", {}), "machines", MACHINES, problems)
    done = table.get("last_done", {})
    items = dict.fromkeys(_flat(done), DONE)  # which items there are, the plan knows
    last_done = _headings(done, "last_done", items, problems)
    named = _flat(table.get("units", {}))
    for key, unit in named.items():
        column = RUNS.get(key) or MACHINES.get(key)
        if column is None or column.reads != "quantity":
            problems.append(_("units.{key}: no column with a unit has this name", key=key))
        elif (found := units.UNITS.get(_unit(unit))) is None or found.quantity != column.quantity:
            problems.append(_(
                "units.{key}: {unit!r} is not known; choose from {known}",
                key=key, unit=unit, known=_(units.COMMON[column.quantity]),
            ))  # fmt: skip
    if problems:
        raise MatchingError(problems)
    said = {key: _unit(unit) for key, unit in named.items()}
    return Matching(dates, decimal, str(table.get("sheet", "")), columns, machines, last_done, said)


MATCHING_KEYS = ("dates", "decimal", "sheet", *_SECTIONS.values(), "units")


def _unit(text: Any) -> str:
    if isinstance(text, str) and text.casefold() in MASSES:
        return text.casefold()
    try:
        return units.split(f"1 {text}")[1]
    except units.UnitsError:
        return ""


def _flat(table: Any, before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in table.items() if isinstance(table, Mapping) else ():
        found |= _flat(value, f"{before}{key}.") if isinstance(value, Mapping) else {f"{before}{key}": value}
    return found


def _headings(
    table: Any, where: str, known: Mapping[str, SpreadsheetColumn], problems: list[str]
) -> dict[str, tuple[str, ...]]:
    found = {}
    for key, value in _flat(table).items():
        several = [value] if isinstance(value, str) else value
        if key not in known:
            problems.append(_("{where}.{key}: not known{hint}", where=where, key=key, hint=nearest(key, list(known))))
        elif not isinstance(several, list) or not several or not all(isinstance(one, str) for one in several):
            problems.append(_("{where}.{key}: must be a heading, or a list of headings", where=where, key=key))
        else:
            found[key] = tuple(several)
    return found


@dataclass(frozen=True, slots=True)
class Place:
    """Where one of our columns stands in a table: the places of its cells, its heading, and the unit of its figures: as
    the heading says it, else the matching or the column; '' where none does."""

    name: str
    column: SpreadsheetColumn
    cells: tuple[int, ...]
    heading: str
    unit: str = ""
    begins: Place | None = None
    """Of an end that shares the column of its day with the beginning: where that stands. An end that is earlier in the
    day is of the next one."""


def unit_in(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit.

    >>> unit_in("Laid out (m)"), unit_in("Inlet [bar]"), unit_in("gelegt m"), unit_in("Machine")
    (('Laid out', 'm'), ('Inlet', 'bar'), ('gelegt', 'm'), ('Machine', ''))
    """
    text = heading.strip()
    if text[-1:] in (")", "]") and (begins := max(text.rfind("("), text.rfind("["))) > 0:
        unit, rest = _unit(text[begins + 1 : -1]), text[:begins].strip(" ,:-")
    else:
        rest, _blank, last = text.replace(",", " ").rpartition(" ")
        unit, rest = (_unit(last), rest.strip()) if rest and last in units.UNITS else ("", text)
    return (rest, unit) if unit else (text, "")


SERVICES: Mapping[str, SpreadsheetColumn] = {
    "machine": TEXT, "item": TEXT, "on": DONE, "at": SpreadsheetColumn("done", "duration", "h"),
}  # fmt: skip
"""The columns of last-done dates with one service in each row: on which day it was done, and at which hours."""


def is_of_services(matching: Matching) -> bool:
    """Whether last-done dates stand in rows of one service each, as one column says of which item they are; else an
    item has a column of its own."""
    return bool(matching.last_done.get("item"))


def known_columns(matching: Matching, kind: SheetKind, items: Iterable[str] = ()) -> Mapping[str, SpreadsheetColumn]:
    """The columns that a spreadsheet of a kind can have; `items` are those of the plan."""
    if kind != "last done":
        return RUNS if kind == "runs" else MACHINES
    if is_of_services(matching):
        return SERVICES
    return {"machine": TEXT, "now": _of("duration", "h"), **dict.fromkeys(items, DONE)}


def lacking(matching: Matching, kind: SheetKind, found: Mapping[str, Place]) -> list[str]:
    """The columns that a spreadsheet of a kind must have, and that were not found."""
    needed = {"runs": _needed_of_runs(matching, found), "machines": ["tag"], "last done": ["machine"]}[kind]
    told = [name for name in needed if name not in found]
    dated = not is_of_services(matching) or "on" in found or "at" in found
    return told if kind != "last done" or dated else [*told, "on"]


def _needed_of_runs(matching: Matching, found: Mapping[str, Place]) -> list[str]:
    """The columns that runs must have; how long each took stands for its end where that has none, as the matching can
    say."""
    has_no_end = "duration" in found or matching.columns.get("ended") == ()
    return ["duration" if name == "ended" and has_no_end and "ended" not in found else name for name in NEEDED_OF_RUNS]


def places(table: SpreadsheetTable, matching: Matching, kind: SheetKind, items: Iterable[str] = ()) -> dict[str, Place]:
    """Where our columns stand in a table. Raises MatchingError for headings that are not there, and for those that
    are needed."""
    found, problems = _placed(table, matching, kind, items)
    problems += [
        _(
            "{name}: no column given for it in a matching (--as); the headings are {known}",
            name=name,
            known=", ".join(table.header),
        )
        for name in lacking(matching, kind, found)
        if not matching.of(kind).get(name)  # else it is said already that its heading is not there
    ]
    if problems:
        raise MatchingError(problems)
    return found


def places_so_far(
    table: SpreadsheetTable, matching: Matching, kind: SheetKind, items: Iterable[str] = ()
) -> dict[str, Place]:
    """Where those of our columns stand that are matched already, whatever is needed besides."""
    return _placed(table, matching, kind, items)[0]


def _placed(
    table: SpreadsheetTable, matching: Matching, kind: SheetKind, items: Iterable[str]
) -> tuple[dict[str, Place], list[str]]:
    items = tuple(items)
    known = known_columns(matching, kind, items)
    of_other_form = {"now", *SERVICES, *items} if kind == "last done" else set()
    by_heading = {plain_heading(heading): place for place, heading in enumerate(table.header)}
    for place, heading in enumerate(table.header):
        by_heading.setdefault(plain_heading(unit_in(heading)[0]), place)
    found, problems = {}, []

    def placed(name: str, cells: tuple[int, ...], unit: str = "") -> Place:
        return _place(name, known[name], [table.header[one] for one in cells], cells, unit or matching.units.get(name))

    for name, headings in matching.of(kind).items():
        missing = [one for one in headings if plain_heading(one) not in by_heading]
        if name not in known and name in of_other_form:
            continue
        if name not in known:
            problems.append(_("{name}: not an item of the plan{hint}", name=name, hint=nearest(name, list(known))))
        elif missing:
            hint = nearest(missing[0], list(table.header))
            problems.append(
                _("{name}: no column is headed {heading!r}{hint}", name=name, heading=missing[0], hint=hint)
            )
        elif headings:
            found[name] = placed(name, tuple(by_heading[plain_heading(one)] for one in headings))
    spelt = {plain_heading(one): one for one in known}
    taken = {cell for one in found.values() for cell in one.cells}
    for place, heading in enumerate(table.header):
        if place in taken:
            continue  # somebody said what it is, though it is spelt like a column of ours
        name, unit = SPELT.get(heading, (unit_in(heading)[0], "")) if kind == "runs" else (unit_in(heading)[0], "")
        name = spelt.get(plain_heading(name), name)
        if name in known and name not in found and name not in matching.of(kind):
            found[name] = placed(name, (place,), unit)
    _settle_ends(found)
    return found, problems + _headed_twice(table, found)


def _settle_ends(found: dict[str, Place]) -> None:
    """Where there is a column for the end of a run: nothing else says how long it took, and an end that shares the
    column of its day with the beginning is read beside it."""
    started, ended = found.get("started"), found.get("ended")
    if ended is None:
        return
    found.pop("duration", None)
    if started is not None and started.cells[0] == ended.cells[0]:
        found["ended"] = replace(ended, begins=started)


def _place(
    name: str, column: SpreadsheetColumn, headings: list[str], cells: tuple[int, ...], otherwise: str | None
) -> Place:
    unit = unit_in(headings[0])[1] if column.reads in ("quantity", "number", "done") else ""
    fits = unit and (column.reads == "done" or _quantity_of(unit) == _quantity_of(column.unit, column.quantity))
    return Place(name, column, cells, " + ".join(headings), unit if fits else otherwise or column.unit)


def _quantity_of(unit: str, otherwise: str = "") -> str:
    known = units.UNITS.get(unit)
    return known.quantity if known is not None else "mass" if unit in MASSES else otherwise


def _headed_twice(table: SpreadsheetTable, found: Mapping[str, Place]) -> list[str]:
    """What is wrong where a column that is read has the heading of another; of those that nobody reads any may."""
    plain = [plain_heading(heading) for heading in table.header]
    cells = sorted({cell for one in found.values() for cell in one.cells})
    twice = dict.fromkeys(table.header[cell] for cell in cells if plain.count(plain[cell]) > 1)
    return [_("two columns are headed {name!r}; give one another heading", name=name) for name in twice]


def plain_heading(heading: str) -> str:
    """A heading without what two spellings of it may differ in: capitals and blanks."""
    return " ".join(heading.casefold().split())

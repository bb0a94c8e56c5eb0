"""Finds and reads sheets and plans: the user's own before the shipped ones.

The rules of this file: a bad file never keeps the good ones from loading; every error is told with its file
and place. A file is read with care: at most 256 KiB, UTF-8, with or without a byte order mark.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, time
from functools import cache
from pathlib import Path
from typing import Any

from reelcare import files
from reelcare.core.checks import limit_names, sheet_walk
from reelcare.core.checks.sheet import Sheet, for_hand_over, for_second_run
from reelcare.core.checks.sheet_table import SheetError, read_sheet
from reelcare.core.machine.equipment_kinds import few_kinds
from reelcare.core.machine.model import MachineModel, ModelError
from reelcare.core.machine.model_reader import contradictions, read_model
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import PlanError, read_plan, without_english
from reelcare.core.settings.set_limits import SetLimits, SetLimitsError, read_set_limits
from reelcare.core.text import _, mark
from reelcare.core.wording import nearest
from reelcare.register.errors import Refused, from_a_file

LARGEST = 256 * 1024
OWN = "sheets"
DEFAULT_PLAN = "plan-default.toml"
SET_LIMITS = "set-limits.toml"
MACHINE = "machine.toml"
OLD_POSITIONS = "positions.toml"
"""What the table of the machine was called before; it is named, and not read."""
WALKED_ON = 4
"""Kinds of machine on which one's own sheets are walked: each kind of each piece of equipment is among them."""


class FileError(ValueError):
    """A file that cannot be read; the message names it and the place in it."""


def plain_table(path: Path) -> dict[str, Any]:
    """The same as `toml_table`, with dates and times as text, as entries are plain JSON. Raises FileError."""
    table: dict[str, Any] = _without_times(toml_table(path))
    return table


def _without_times(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_times(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_without_times(one) for one in value]
    return str(value) if isinstance(value, (date, time)) else value


def toml_table(path: Path) -> dict[str, Any]:
    """The content of a TOML file. Raises FileError."""
    with from_a_file(path, FileError):
        size = path.stat().st_size
        if size > LARGEST:
            says = mark("{path}: {size} KiB; at most {largest} KiB are read")
            raise FileError(_(says, path=path, size=size // 1024, largest=LARGEST // 1024))
        data = path.read_bytes()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as why:
        raise FileError(
            _("{path}: not UTF-8 text (byte {start}); save it as UTF-8", path=path, start=why.start)
        ) from None
    longest = max((line.count(".") for line in text.splitlines()), default=0)
    if longest > 200:
        raise FileError(_("{path}: a key with {longest} parts; this is no sheet", path=path, longest=longest))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as why:
        raise FileError(f"{path}: {why}") from None
    except (RecursionError, ValueError) as why:
        raise FileError(_("{path}: cannot be read as TOML ({what})", path=path, what=type(why).__name__)) from None


@dataclass(frozen=True, slots=True)
class Sheets:
    """The sheets that could be read, by id, and what was wrong with the others."""

    by_id: Mapping[str, Sheet] = field(default_factory=dict)
    problems: tuple[str, ...] = ()

    def named(self, id: str) -> Sheet:
        """The sheet of this id. Raises Refused, naming the nearest."""
        if id not in self.by_id:
            raise Refused(_("{sheet}: no such sheet{nearest}", sheet=id, nearest=nearest(id, list(self.by_id))))
        return self.by_id[id]


def load(own: Path | None = None, shipped: Path | None = None) -> Sheets:
    """All sheets: those in the user's folder first, then the shipped ones of other ids."""
    own = own if own is not None else files.config_folder() / OWN
    shipped = shipped if shipped is not None else files.folder("checklists")
    by_id: dict[str, Sheet] = {}
    model, problems = _model_of(own, shipped)
    for folder in (own, shipped):
        here: dict[str, Path] = {}
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else []:
            if path.name.startswith("plan-") or path.name in (SET_LIMITS, MACHINE, OLD_POSITIONS):
                continue
            sheet = _read_fitting(path, model, problems, walked=folder is own)
            if sheet is None or (sheet.id in by_id and sheet.id not in here):
                continue
            if sheet.id in here:
                says = mark("{path}: id {id!r} is that of {name} too; only that one is used")
                problems.append(_(says, path=path, id=sheet.id, name=here[sheet.id].name))
                continue
            here[sheet.id] = path
            by_id[sheet.id] = sheet
    return Sheets(by_id, tuple(problems))


def _read_fitting(path: Path, model: MachineModel, problems: list[str], *, walked: bool) -> Sheet | None:
    """The sheet in a file, which speaks of parts and limits that there are and, where it is `walked`, goes on kinds of
    machine that differ in all their equipment (the shipped ones are walked on every kind by the tests). None where it
    does not; what is wrong joins the problems."""
    try:
        sheet = read_sheet(toml_table(path))
        wrong = [*limit_names.problems(sheet), *sheet_walk.unknown_names(sheet, model)]
        for card in few_kinds()[:WALKED_ON] if walked and not wrong else ():
            wrong = wrong or sheet_walk.problems(sheet, model, card)
        if wrong:
            raise SheetError(wrong)
        return for_hand_over(for_second_run(sheet, model), model)
    except FileError as why:
        problems.append(str(why))
    except SheetError as why:
        problems += [f"{path}: {one}" for one in why.problems]
    return None


def default_plan() -> tuple[Plan, dict[str, Any]]:
    """The default service plan with its table: the user's own, else the shipped one. Raises FileError."""
    own = files.config_folder() / OWN / DEFAULT_PLAN
    return plan_file(own if own.is_file() else files.folder("checklists") / DEFAULT_PLAN)


def set_limits() -> SetLimits:
    """The limits of a set: the user's own, and the shipped ones for what they leave out. Raises FileError with every
    problem in one line."""
    shipped = files.folder("checklists") / SET_LIMITS
    own = files.config_folder() / OWN / SET_LIMITS
    path, table = shipped, toml_table(shipped)
    if own.is_file():
        path = own
        for room, values in toml_table(own).items():
            known = table.get(room)
            table[room] = known | values if isinstance(known, dict) and isinstance(values, dict) else values
    try:
        return read_set_limits(table)
    except SetLimitsError as why:
        raise FileError("; ".join(f"{path}: {one}" for one in why.problems)) from None


def table_problems() -> Iterator[str]:
    """What is wrong with the tables that are no sheets: the limits of a set, and the plan of a new register."""
    for read in (set_limits, default_plan):
        try:
            read()
        except FileError as why:
            yield str(why)


def machine_model() -> MachineModel:
    """The model of the machine: the user's own, and the shipped one where there is none or it contradicts itself."""
    return _model_of(files.config_folder() / OWN, files.folder("checklists"))[0]


def _model_of(own: Path, shipped: Path) -> tuple[MachineModel, list[str]]:
    """The model that counts, and what is wrong with the user's own table of the machine."""
    problems = []
    if (own / OLD_POSITIONS).is_file():
        problems.append(
            _("{own}: no longer read; move its content to {own2}", own=own / OLD_POSITIONS, own2=own / MACHINE)
        )
    path = own / MACHINE
    if path.is_file():
        try:
            model = read_model(toml_table(path))
            wrong = list(contradictions(model))
            if not wrong:
                return model, problems
        except FileError as why:
            wrong = []
            problems.append(str(why))
        except ModelError as why:
            wrong = why.problems
        problems += [f"{path}: {one}" for one in wrong]
    at_hand = shipped / MACHINE
    return _shipped_model(at_hand if at_hand.is_file() else files.folder("checklists") / MACHINE), problems


@cache
def _shipped_model(path: Path) -> MachineModel:
    return read_model(toml_table(path))


def plan_file(path: Path) -> tuple[Plan, dict[str, Any]]:
    """The plan in a file with its table. Raises FileError with every problem in one line."""
    table = toml_table(path)
    try:
        plan = read_plan(table)
        problems = list(without_english(plan))
    except PlanError as why:
        problems = why.problems
    if problems:
        raise FileError("; ".join(f"{path}: {one}" for one in problems))
    return plan, table

"""What is due over all machines, ranked by the database from the thresholds in the rollup.

The rules of this file: one SQL text, built once from the rule that `core/upkeep/due.py` states for whole numbers;
a test holds the two against each other. It answers for now; a moment past is folded from the entries.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple

from reelcare.core.upkeep.due import SCALES, SOON
from reelcare.register import schema
from reelcare.register.register import Register

_COLUMN = {"hours": "seconds", "metres": "millimetres", "runs": "runs", "date": "day"}
_UNIT = {"hours": 3600.0, "metres": 1000.0, "runs": 1.0, "date": 1.0}


_TODAY = "CAST(:today AS BIGINT)"
NEVER = "CAST(-1e300 AS DOUBLE PRECISION)"
"""The used part of a scale that an item does not count by: less than any."""


class Ranked(NamedTuple):
    """One item of one machine as the database ranks it; amounts are in h, m, runs or days, by the scale `by`."""

    machine: str
    tag: str
    place: str
    item: str
    part: str
    state: str
    by: str
    used: float
    interval: float
    left: float
    life: float
    grace_left: float


def _now(scale: str) -> str:
    # the day is a number that the question brings along
    return _TODAY if scale == "date" else f"m.{_COLUMN[scale]}"


def _life(scale: str) -> str:
    name = _COLUMN[scale]
    life = f"CAST({_now(scale)} - i.from_{name} AS DOUBLE PRECISION) / (i.due_{name} - i.from_{name})"
    return f"COALESCE({life}, {NEVER})"


def _late(scale: str) -> str:
    return f"CASE WHEN {_now(scale)} > i.late_{_COLUMN[scale]} THEN 1 ELSE 0 END"


def _due(scale: str) -> str:
    return f"CASE WHEN {_now(scale)} >= i.due_{_COLUMN[scale]} THEN 1 ELSE 0 END"


def _by(greatest: str) -> str:
    """The scale that governs: of those past their grace, else of all, the one with the greatest used part."""
    lives = [f"l{place}" for place in range(4)]
    counted = [f"CASE WHEN late = 1 AND o{place} = 0 THEN {NEVER} ELSE l{place} END" for place in range(4)]
    cases = " ".join(
        f"WHEN {lives[place]} = {greatest}({', '.join(counted)}) AND (late = 0 OR o{place} = 1) THEN {place}"
        for place in range(4)
    )
    return f"CASE {cases} END"


def _pick(part: str) -> str:
    """A value of the governing scale, in its unit."""
    cases = []
    for place, scale in enumerate(SCALES):
        name, now = _COLUMN[scale], "today" if scale == "date" else _COLUMN[scale]
        value = {
            "used": f"{now} - from_{name}",
            "interval": f"due_{name} - from_{name}",
            "left": f"due_{name} - {now}",
            "grace_left": f"late_{name} - {now}",
            "life": f"CAST({now} - from_{name} AS DOUBLE PRECISION) / (due_{name} - from_{name})",
        }[part]
        shown = value if part == "life" else f"CAST({value} AS DOUBLE PRECISION) / {_UNIT[scale]}"
        cases.append(f"WHEN {place} THEN {shown}")
    return f"CASE by_scale {' '.join(cases)} END AS {part}"


def _text(greatest: str) -> str:
    lives = ", ".join(f"{_life(scale)} AS l{place}" for place, scale in enumerate(SCALES))
    lates = ", ".join(f"{_late(scale)} AS o{place}" for place, scale in enumerate(SCALES))
    first = (
        f"SELECT m.tag, m.place, m.seconds, m.millimetres, m.runs, {_TODAY} AS today, i.*, {lives}, {lates},"
        f" {greatest}({', '.join(_late(scale) for scale in SCALES)}) AS late,"
        f" {greatest}({', '.join(_due(scale) for scale in SCALES)}) AS due"
        " FROM item_now AS i JOIN machine_now AS m ON m.machine = i.machine"
    )
    second = f"SELECT *, {greatest}(l0, l1, l2, l3) AS most, {_by(greatest)} AS by_scale FROM ({first}) AS judged"
    state = (
        "CASE WHEN late = 1 THEN 'overdue' WHEN due = 1 THEN 'due'"
        f" WHEN most >= {SOON} THEN 'soon' ELSE 'ok' END AS state"
    )
    name = (
        f"CASE by_scale {' '.join(f'WHEN {place} THEN {scale!r}' for place, scale in enumerate(SCALES))} END AS by_name"
    )
    picked = ", ".join(_pick(part) for part in ("used", "interval", "left", "life", "grace_left"))
    return (
        f"SELECT machine, tag, place, item, part, {state}, {name}, {picked} FROM ({second}) AS picked"
        " ORDER BY life DESC, tag, item"
    )


DUE = _text("MAX")
"""The whole question for SQLite; `:today` is the day number of the day asked for."""


def ranked(register: Register, now: datetime) -> list[tuple[Any, ...]]:
    """Every item of every machine, worst first, as plain rows in the order of `Ranked`."""
    today = now.astimezone(register.zone).toordinal()
    text = DUE if register.db.greatest == "MAX" else _text(register.db.greatest)
    return schema.rows_named(register.db, text, {"today": today})


def overdue_machines(register: Register, now: datetime) -> list[str]:
    """The machines with anything overdue."""
    return sorted({row[0] for row in ranked(register, now) if row[5] == "overdue"})

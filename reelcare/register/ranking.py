"""What is due over all machines, ranked by the database from the thresholds in the rollup.

The rules of this file: one SQL text, built once from the rule that `core/upkeep/due.py` states for whole numbers;
a test holds the two against each other. It answers for now; a moment past is folded from the entries.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from reelcare.core.upkeep import due
from reelcare.core.upkeep.due import SCALES, SOON
from reelcare.core.upkeep.forecast import Forecast
from reelcare.core.upkeep.now import DueLine
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


NEWS = "i.each_time = 0 OR {late}"
"""The condition of an item that tells more than that a check is due before the next run."""
ACUTE = "i.past > 0 OR i.due_day <= {today}"
"""The condition of what is due or overdue, by indexes."""
OVERDUE = "i.past = 2 OR i.late_day < {today}"
"""The condition of what is overdue, by indexes."""


def _text(greatest: str, where: str = "", order: str = " ORDER BY life DESC, tag, item") -> str:
    lives = ", ".join(f"{_life(scale)} AS l{place}" for place, scale in enumerate(SCALES))
    lates = ", ".join(f"{_late(scale)} AS o{place}" for place, scale in enumerate(SCALES))
    late = f"{greatest}({', '.join(_late(scale) for scale in SCALES)})"
    first = (
        f"SELECT m.tag, m.place, m.seconds, m.millimetres, m.runs, {_TODAY} AS today, i.*, {lives}, {lates},"
        f" {late} AS late, {greatest}({', '.join(_due(scale) for scale in SCALES)}) AS due"
        " FROM item_now AS i JOIN machine_now AS m ON m.machine = i.machine"
    )
    if where:
        first += f" WHERE ({where.format(today=_TODAY, late=f'{late} = 1')})"
    second = f"SELECT *, {greatest}(l0, l1, l2, l3) AS most, {_by(greatest)} AS by_scale FROM ({first}) AS judged"
    state = (
        "CASE WHEN late = 1 THEN 'overdue' WHEN due = 1 THEN 'due'"
        f" WHEN most >= {SOON} THEN 'soon' ELSE 'ok' END AS state"
    )
    name = (
        f"CASE by_scale {' '.join(f'WHEN {place} THEN {scale!r}' for place, scale in enumerate(SCALES))} END AS by_name"
    )
    picked = ", ".join(_pick(part) for part in ("used", "interval", "left", "life", "grace_left"))
    return f"SELECT machine, tag, place, item, part, {state}, {name}, {picked} FROM ({second}) AS picked{order}"


DUE = _text("MAX")
"""The whole question for SQLite; `:today` is the day number of the day asked for."""


def _ask(register: Register, now: datetime, where: str = "", **more: Any) -> list[tuple[Any, ...]]:
    today = now.astimezone(register.zone).toordinal()
    text = DUE if not where and register.db.greatest == "MAX" else _text(register.db.greatest, where)
    return schema.rows_named(register.db, text, {"today": today, **more})


def ranked(register: Register, now: datetime, *, news: bool = False) -> list[tuple[Any, ...]]:
    """Every item of every machine, worst first, as plain rows in the order of `Ranked`; with `news`, only what tells
    more than that a check is due."""
    return _ask(register, now, NEWS if news else "")


def acute(register: Register, now: datetime, *, overdue: bool = False, news: bool = False) -> list[tuple[Any, ...]]:
    """What is due or overdue now (or overdue alone), worst first, found by index; rows as in `Ranked`."""
    found = OVERDUE if overdue else ACUTE
    return _ask(register, now, f"({found}) AND ({NEWS})" if news else found)


def worst(register: Register, now: datetime, most: int) -> list[tuple[Any, ...]]:
    """The `most` items with the greatest used part of their interval, as the first rows of `ranked` are.

    By counters and by date the order is kept in indexes. The used part of an item is at most the greater of the two; so
    the worst are among the first by counters and, for each item and length of its interval, the first by date. More are
    taken until the last one that is wanted is worse than all that was left out.
    """
    today = now.astimezone(register.zone).toordinal()
    taken = 2 * most
    while True:
        keys, bound = _candidates(register, today, taken)
        found = _of_keys(register, now, keys)[:most]
        if bound is None or (len(found) == most and found[-1][10] > bound):
            return found
        taken *= 4


def _candidates(register: Register, today: int, taken: int) -> tuple[set[tuple[str, str]], float | None]:
    """Machine and item of the candidates, and the greatest used part that one left out can have (None: none is)."""
    rows = schema.rows(register.db, "SELECT machine, item, life FROM item_now ORDER BY life DESC LIMIT ?", taken)
    if len(rows) < taken:
        return {(row[0], row[1]) for row in rows}, None
    least = float(rows[-1][2])
    left = [least]
    found = {(row[0], row[1]) for row in rows}
    for item, span in _spans(register):
        since = today - math.floor(max(least, 0.0) * span)
        dated = schema.rows(
            register.db,
            "SELECT machine, item, from_day FROM item_now WHERE item = ? AND span = ? AND from_day <= ?"
            " ORDER BY from_day LIMIT ?",
            item, span, since, taken,
        )  # fmt: skip
        found |= {(row[0], row[1]) for row in dated}
        if len(dated) == taken:
            left.append((today - dated[-1][2]) / span)
    return found, max(left)


def _spans(register: Register) -> Iterator[tuple[str, int]]:
    """Every item that has a date, with each length of its interval [days], by steps through the index."""
    item = ""
    while True:
        after = schema.rows(register.db, "SELECT item FROM item_now WHERE item > ? ORDER BY item LIMIT 1", item)
        if not after:
            return
        item, span = str(after[0][0]), 0
        while longer := schema.rows(
            register.db, "SELECT span FROM item_now WHERE item = ? AND span > ? ORDER BY span LIMIT 1", item, span
        ):
            span = int(longer[0][0])
            yield item, span


def _of_keys(register: Register, now: datetime, keys: Iterable[tuple[str, str]]) -> list[tuple[Any, ...]]:
    """The rows of `Ranked` of these items, worst first."""
    found: list[tuple[Any, ...]] = []
    asked = list(keys)
    for start in range(0, len(asked), KEYS):
        some = asked[start : start + KEYS]
        pairs = ", ".join(f"(:m{place}, :i{place})" for place in range(len(some)))
        named = {f"m{place}": machine for place, (machine, _) in enumerate(some)}
        named |= {f"i{place}": item for place, (_, item) in enumerate(some)}
        found += _ask(register, now, f"(i.machine, i.item) IN (VALUES {pairs})", **named)
    return sorted(found, key=lambda row: (-row[10], row[1], row[3]))


def due_lines(register: Register, rows: Sequence[tuple[Any, ...]], now: datetime) -> list[DueLine]:
    """Rows that the database found (as in `Ranked`), in full and in their order."""
    keys = [(row[0], row[3]) for row in rows]
    made = due_lines_of(register, keys, now)
    return [made[key] for key in keys if key in made]


def due_lines_of(register: Register, keys: Sequence[tuple[str, str]], now: datetime) -> dict[tuple[str, str], DueLine]:
    """Items by machine and item, judged by the core from the thresholds that are kept.

    What is due or overdue needs no forecast of its use: its day is today. Others have none here.
    """
    day = now.astimezone(register.zone).date()
    plans, found = register.plans(), {}
    for key, (totals, columns, done, tag, place) in _thresholds(register, keys).items():
        item = plans.newest(key[0]).item(key[1])
        if item is None:
            continue
        judged = due.judge_limbs(due.from_columns(columns), due.Point(day, *totals), stop=item.stop)
        last = date.fromordinal(done) if done is not None else None
        ahead = Forecast(day, day, day) if judged.state in ("overdue", "due") else None
        found[key] = DueLine(key[0], tag, place, item, judged, last, ahead)
    return found


Kept = tuple[tuple[int, int, int], tuple[int | None, ...], int | None, str, str]


def _thresholds(register: Register, keys: Sequence[tuple[str, str]]) -> dict[tuple[str, str], Kept]:
    found: dict[tuple[str, str], Kept] = {}
    for start in range(0, len(keys), KEYS):
        some = keys[start : start + KEYS]
        marks = ", ".join("(?, ?)" for _ in some)
        rows = schema.rows(
            register.db,
            f"SELECT i.machine, i.item, m.seconds, m.millimetres, m.runs, {_LIMBS}, i.done_day, m.tag, m.place"
            " FROM item_now AS i JOIN machine_now AS m ON m.machine = i.machine"
            f" WHERE (i.machine, i.item) IN (VALUES {marks})",
            *(part for key in some for part in key),
        )
        for machine, item, *rest in rows:
            totals = (int(rest[0]), int(rest[1]), int(rest[2]))
            found[machine, item] = (totals, tuple(rest[3:15]), rest[15], str(rest[16]), str(rest[17]))
    return found


_LIMBS = ", ".join(f"i.{edge}_{_COLUMN[scale]}" for scale in SCALES for edge in ("from", "due", "late"))
KEYS = 1000
"""So many items are asked for by one statement."""

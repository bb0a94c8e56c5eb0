"""What is due over all machines, ranked by the database from the thresholds in the rollup.

The rules of this file: one SQL text, built once from the rule that `core/service/due.py` states for whole numbers;
a test holds the two against each other. It answers for now; a moment past is folded from the entries.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from reelcare.core.forecast.forecast import Forecast
from reelcare.core.scales import Point
from reelcare.core.service import due
from reelcare.core.service.due_line import DueLine
from reelcare.register import schema
from reelcare.register.glance import thresholds_in
from reelcare.register.questions import ACUTE, DUE, IN_FULL, NEWS, OVERDUE, named_keys, question
from reelcare.register.register import Register


def _ask(register: Register, now: datetime, where: str = "", *, keys: str = "", **more: Any) -> list[tuple[Any, ...]]:
    today = now.astimezone(register.zone).toordinal()
    text = DUE if not (where or keys) and register.db.greatest == "MAX" else question(register.db.greatest, where, keys)
    return schema.rows_named(register.db, text, {"today": today, **more})


def ranked(register: Register, now: datetime, *, news: bool = False) -> list[tuple[Any, ...]]:
    """Every item of every machine, worst first, as plain rows of `questions.RANKED`; with `news`, only what tells
    more than that a check is due."""
    return _ask(register, now, NEWS if news else "")


def acute(register: Register, now: datetime, *, overdue: bool = False, news: bool = False) -> list[tuple[Any, ...]]:
    """What is due or overdue now (or overdue alone), worst first, found by index; rows of `questions.RANKED`."""
    found = OVERDUE if overdue else ACUTE
    return _ask(register, now, f"({found}) AND ({NEWS})" if news else found)


def worst(register: Register, now: datetime, most: int) -> list[tuple[Any, ...]]:
    """The `most` items with the greatest used part of their interval, as the first rows of `ranked` are; of several
    that are equally far at the end, any.

    By counters and by date the order is kept in indexes. The used part of an item is at most the greater of the two; so
    the worst are among the first by counters and, for each item and length of its interval, the first by date. More are
    taken until the last one that is wanted is as bad as all that was left out.
    """
    today = now.astimezone(register.zone).toordinal()
    taken = 2 * most
    while True:
        keys, bound = _candidates(register, today, taken)
        found = of_keys(register, now, keys)[:most]
        if bound is None or (len(found) == most and found[-1][10] >= bound):
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


def of_keys(register: Register, now: datetime, keys: Iterable[tuple[str, str]]) -> list[tuple[Any, ...]]:
    """The rows of `questions.RANKED` of these items, worst first."""
    found: list[tuple[Any, ...]] = []
    asked = list(keys)
    for start in range(0, len(asked), KEYS):
        text, named = named_keys(asked[start : start + KEYS])
        found += _ask(register, now, keys=text, **named)
    return sorted(found, key=lambda row: (-row[10], row[1], row[3]))


def overdue_lines(register: Register, now: datetime) -> list[DueLine]:
    """What is overdue over all machines, worst first, in full."""
    today = now.astimezone(register.zone).toordinal()
    found = _full(register, now, f"{IN_FULL} WHERE {OVERDUE.format(today=today)}")
    return sorted(found.values(), key=lambda line: (-line.due.used_fraction, line.tag, line.item.id))


def due_lines_of(register: Register, keys: Sequence[tuple[str, str]], now: datetime) -> dict[tuple[str, str], DueLine]:
    """Items by machine and item, in full."""
    found: dict[tuple[str, str], DueLine] = {}
    for start in range(0, len(keys), KEYS):
        some = keys[start : start + KEYS]
        marks = ", ".join("(?, ?)" for _ in some)
        source = "wanted JOIN item_now AS i ON i.machine = wanted.m AND i.item = wanted.i"
        text = f"WITH wanted (m, i) AS (VALUES {marks}) {IN_FULL.replace('item_now AS i', source, 1)}"
        found |= _full(register, now, text, *(part for key in some for part in key))
    return found


def _full(register: Register, now: datetime, text: str, *values: str) -> dict[tuple[str, str], DueLine]:
    """What a question for `IN_FULL` finds, judged by the core from the thresholds that are kept.

    What is due or overdue needs no forecast of its use: its day is today. Others have none here.
    """
    day = now.astimezone(register.zone).date()
    plans, found = register.plans(), {}
    for machine, id, tag, place, done, _, seconds, millimetres, runs, *columns in schema.rows(
        register.db, text, *values
    ):
        item = plans.newest(machine).item(id)
        if item is None:
            continue
        judged = due.judge_thresholds(thresholds_in(columns), Point(day, seconds, millimetres, runs), stop=item.stop)
        last = date.fromordinal(done) if done is not None else None
        ahead = Forecast(day, day, day) if judged.state in ("overdue", "due") else None
        found[machine, id] = DueLine(machine, tag, place, item, judged, last, ahead)
    return found


KEYS = 1000
"""So many items are asked for by one statement."""

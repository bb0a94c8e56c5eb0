"""`due`: the list of what is overdue at once, from what is kept with each machine; everything else from the register.

The rules of this file: it loads next to nothing, and asks for no more than it prints. What it prints is what `show.due`
prints, to the byte.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from functools import cache
from itertools import repeat
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.core.upkeep.scales import why
from reelcare.register.glimpse import UNUSUAL, Titles, glimpse
from reelcare.register.questions import PAST_GRACE

IN_TABLE = ("machine", "tag", "item", "done_day", "by_name", "left", "life")
"""What the table is made from and put in order by."""
CHOSEN_BY = ("place", "part")
"""What items can be chosen by."""


def due(asked: argparse.Namespace) -> int:
    """What is due, worst first."""
    where = common.where(asked)
    if asked.overdue and not (asked.machine or asked.as_of) and isinstance(where, Path):
        now = common.now()
        told = PAST_GRACE if asked.json else (*IN_TABLE, *(name for name in CHOSEN_BY if getattr(asked, name)))
        seen = _look(where, now, told, "en" if asked.json else common.language(asked))
        rows = _chosen(seen[0], told, asked) if seen is not None else []
        # where nothing is found at a place or of a part, it may be that there is none of that name
        if seen is not None and (rows or not any(getattr(asked, name) for name in CHOSEN_BY)):
            _, titles, today = seen
            if asked.json:
                stamp = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
                common.print_json({"as_of": stamp, "items": [_json(row, titles, today) for row in rows]})
            else:
                common.print_columns(_columns(rows, titles, today))
            return 1 if asked.exit_code and rows else 0
    from reelcare.cli import show

    return show.due(asked)


def _look(
    where: Path, now: datetime, told: Sequence[str], language: str
) -> tuple[list[tuple[Any, ...]], Titles, str] | None:
    """What is overdue, as rows of what is to be told, what items are called, and the day; None where the register is
    to be opened as always.

    The register is let go before anything is printed: whoever reads slowly holds it up for nobody.
    """
    try:
        with glimpse(where, now) as seen:
            return (seen.overdue(told), seen.titles(language), seen.today.isoformat()) if seen is not None else None
    except UNUSUAL:
        return None


def _chosen(rows: list[tuple[Any, ...]], told: Sequence[str], asked: argparse.Namespace) -> list[tuple[Any, ...]]:
    for name in CHOSEN_BY:
        wanted = getattr(asked, name)
        if wanted:
            at = told.index(name)
            rows = [row for row in rows if row[at].casefold() == wanted.casefold()]
    return rows[: asked.most]


def _columns(rows: list[tuple[Any, ...]], titles: Titles, today: str) -> Iterator[Sequence[str]]:
    """The table from rows that begin with `IN_TABLE`, column by column: of ten thousand lines that is told sooner than
    line by line."""
    of = {name: [row[at] for row in rows] for at, name in enumerate(IN_TABLE)}
    # many stand equally far, and were done on the same days
    stands, done = cache(why), cache(_done)
    yield "machine", *of["tag"]
    yield "item", *of["item"]
    yield "state", *repeat("overdue", len(rows))
    yield "where it stands", *map(stands, of["by_name"], of["left"])
    yield "likely", *repeat(today, len(rows))
    yield "last done", *(done(day) or "never" for day in of["done_day"])
    yield "what", *map(titles.of, of["machine"], of["item"])


def _done(day: int | None) -> str | None:
    return date.fromordinal(day).isoformat() if day is not None else None


def _json(row: tuple[Any, ...], titles: Titles, today: str) -> dict[str, Any]:
    """An item for other programs, from a row of `PAST_GRACE`."""
    one = dict(zip(PAST_GRACE, row, strict=True))
    return {
        "machine": one["tag"],
        "item": one["item"],
        "what": titles.of(one["machine"], one["item"]),
        "state": "overdue",
        "by": one["by_name"],
        **{name: one[name] for name in ("used", "interval", "left", "life", "grace_left")},
        "last_done": _done(one["done_day"]),
        "forecast": {"early": today, "likely": today, "late": today},
    }

"""`due`: the list of what is overdue at once, from what is kept with each machine; everything else from the register.

The rules of this file: it loads next to nothing, and asks for no more than it prints. What it prints is what `show.due`
prints, to the byte.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from functools import cache
from itertools import compress, repeat
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.core.scales import why
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
        if seen is not None:
            found, titles, today = seen
            rows, named = _chosen(*_in_the_plan(found, told, titles), told, asked)
            # where nothing is found at a place or of a part, it may be that there is none of that name
            if rows or not any(getattr(asked, name) for name in CHOSEN_BY):
                if asked.json:
                    common.print_json({"as_of": _stamp(now), "items": list(map(_json, rows, named, repeat(today)))})
                else:
                    common.print_columns(_columns(rows, named, today))
                return 1 if asked.exit_code and rows else 0
    from reelcare.cli import show

    return show.due(asked)


def _stamp(now: datetime) -> str:
    return now.isoformat(timespec="milliseconds").replace("+00:00", "Z")


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


def _in_the_plan(
    rows: list[tuple[Any, ...]], told: Sequence[str], titles: Titles
) -> tuple[list[tuple[Any, ...]], list[str]]:
    """The rows whose item stands in the plan of its machine, as `show.due` lists no others, and the items' titles."""
    machine, item = told.index("machine"), told.index("item")
    named = [titles.of(row[machine], row[item]) for row in rows]
    if None in named:
        rows = [row for row, title in zip(rows, named, strict=True) if title is not None]
    return rows, [title for title in named if title is not None]


def _chosen(
    rows: list[tuple[Any, ...]], named: list[str], told: Sequence[str], asked: argparse.Namespace
) -> tuple[list[tuple[Any, ...]], list[str]]:
    for name in CHOSEN_BY:
        wanted = getattr(asked, name)
        if wanted:
            at = told.index(name)
            kept = [row[at].casefold() == wanted.casefold() for row in rows]
            rows, named = list(compress(rows, kept)), list(compress(named, kept))
    return rows[: asked.most], named[: asked.most]


def _columns(rows: list[tuple[Any, ...]], named: list[str], today: str) -> Iterator[Sequence[str]]:
    """The table from rows that begin with `IN_TABLE` and the titles of their items, column by column: of ten thousand
    lines that is told sooner than line by line."""
    of = {name: [row[at] for row in rows] for at, name in enumerate(IN_TABLE)}
    # many stand equally far, and were done on the same days
    stands, done = cache(why), cache(_done)
    yield "machine", *of["tag"]
    yield "item", *of["item"]
    yield "state", *repeat("overdue", len(rows))
    yield "where it stands", *map(stands, of["by_name"], of["left"])
    yield "likely", *repeat(today, len(rows))
    yield "last done", *(done(day) or "never" for day in of["done_day"])
    yield "what", *named


def _done(day: int | None) -> str | None:
    return date.fromordinal(day).isoformat() if day is not None else None


def _json(row: tuple[Any, ...], title: str, today: str) -> dict[str, Any]:
    """An item for other programs, from a row of `PAST_GRACE` and its title."""
    one = dict(zip(PAST_GRACE, row, strict=True))
    return {
        "machine": one["tag"],
        "item": one["item"],
        "what": title,
        "state": "overdue",
        "by": one["by_name"],
        **{name: one[name] for name in ("used", "interval", "left", "life", "grace_left")},
        "last_done": _done(one["done_day"]),
        "forecast": {"early": today, "likely": today, "late": today},
    }

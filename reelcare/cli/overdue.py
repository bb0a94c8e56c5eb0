"""`due`: the list of what is overdue at once, from what is kept with each machine; everything else from the register.

The rules of this file: it loads next to nothing. What it prints is what `show.due` prints, to the byte.
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
from reelcare.register.glimpse import UNUSUAL, Item, Titles, glimpse


def due(asked: argparse.Namespace) -> int:
    """What is due, worst first."""
    where = common.where(asked)
    if asked.overdue and not (asked.machine or asked.as_of) and isinstance(where, Path):
        now = common.now()
        seen = _look(where, now, "en" if asked.json else common.language(asked))
        if seen is not None:
            items, titles, today = seen
            return _tell(_wanted(items, asked), titles, asked, now, today.isoformat())
    from reelcare.cli import show

    return show.due(asked)


def _look(where: Path, now: datetime, language: str) -> tuple[list[Item], Titles, date] | None:
    """What is overdue, what it is called, and on which day; None where the register is to be opened as always.

    The register is let go before anything is printed: whoever reads slowly holds it up for nobody.
    """
    try:
        with glimpse(where, now) as seen:
            return (seen.overdue(), seen.titles(language), seen.today) if seen is not None else None
    except UNUSUAL:
        return None


def _wanted(items: list[Item], asked: argparse.Namespace) -> list[Item]:
    if asked.place:
        items = [one for one in items if one.place.casefold() == asked.place.casefold()]
    if asked.part:
        items = [one for one in items if one.part.casefold() == asked.part.casefold()]
    return items[: asked.most]


def _tell(items: list[Item], titles: Titles, asked: argparse.Namespace, now: datetime, today: str) -> int:
    if asked.json:
        stamp = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        common.print_json({"as_of": stamp, "items": [_json(one, titles, today) for one in items]})
    else:
        common.print_columns(_columns(items, titles, today))
    return 1 if asked.exit_code and items else 0


def _columns(items: list[Item], titles: Titles, today: str) -> Iterator[Sequence[str]]:
    """The table, column by column: of ten thousand lines that is told sooner than line by line."""
    # many stand equally far, and were done on the same days
    stands, done = cache(why), cache(_done)
    yield ["machine", *(one.tag for one in items)]
    yield ["item", *(one.item for one in items)]
    yield ["state", *repeat("overdue", len(items))]
    yield ["where it stands", *(stands(one.by, one.left) for one in items)]
    yield ["likely", *repeat(today, len(items))]
    yield ["last done", *(done(one.done_day) or "never" for one in items)]
    yield ["what", *(titles.of(one.machine, one.item) for one in items)]


def _done(day: int | None) -> str | None:
    return date.fromordinal(day).isoformat() if day is not None else None


def _json(one: Item, titles: Titles, day: str) -> dict[str, Any]:
    return {
        "machine": one.tag,
        "item": one.item,
        "what": titles.of(one.machine, one.item),
        "state": "overdue",
        "by": one.by,
        "used": one.used,
        "interval": one.interval,
        "left": one.left,
        "life": one.life,
        "grace_left": one.grace_left,
        "last_done": _done(one.done_day),
        "forecast": {"early": day, "likely": day, "late": day},
    }

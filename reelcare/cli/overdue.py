"""`due`: the list of what is overdue at once, from what is kept with each machine; everything else from the register.

The rules of this file: it loads next to nothing. What it prints is what `show.due` prints, to the byte.
"""

from __future__ import annotations

import argparse
from datetime import date, datetime
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.core.upkeep.scales import why
from reelcare.register.glimpse import UNUSUAL, Item, glimpse, said


def due(asked: argparse.Namespace) -> int:
    """What is due, worst first."""
    where = common.where(asked)
    if asked.overdue and not (asked.machine or asked.as_of) and isinstance(where, Path):
        now = common.now()
        seen = _look(where, now)
        if seen is not None:
            items, today = seen
            return _tell([one for one in items if _wanted(one, asked)][: asked.most], asked, now, today)
    from reelcare.cli import show

    return show.due(asked)


def _look(where: Path, now: datetime) -> tuple[list[Item], date] | None:
    """What is overdue, and on which day; None where the register is to be opened as always.

    The register is let go before anything is printed: whoever reads slowly holds it up for nobody.
    """
    try:
        with glimpse(where, now) as seen:
            return (seen.overdue(), seen.today) if seen is not None else None
    except UNUSUAL:
        return None


def _wanted(one: Item, asked: argparse.Namespace) -> bool:
    if asked.place and one.place.casefold() != asked.place.casefold():
        return False
    return not asked.part or one.part.casefold() == asked.part.casefold()


def _tell(items: list[Item], asked: argparse.Namespace, now: datetime, today: date) -> int:
    if asked.json:
        stamp = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        common.print_json({"as_of": stamp, "items": [_json(one, today) for one in items]})
    else:
        language, day = common.language(asked), today.isoformat()
        common.print_table(
            ("machine", "item", "state", "where it stands", "likely", "last done", "what"),
            [
                (
                    one.tag,
                    one.item,
                    "overdue",
                    why(one.by, one.left),
                    day,
                    one.last_done.isoformat() if one.last_done else "never",
                    said(one.titles, language),
                )
                for one in items
            ],
        )
    return 1 if asked.exit_code and items else 0


def _json(one: Item, today: date) -> dict[str, Any]:
    day = today.isoformat()
    return {
        "machine": one.tag,
        "item": one.item,
        "what": said(one.titles, "en"),
        "state": "overdue",
        "by": one.by,
        "used": one.used,
        "interval": one.interval,
        "left": one.left,
        "life": one.life,
        "grace_left": one.grace_left,
        "last_done": one.last_done.isoformat() if one.last_done else None,
        "forecast": {"early": day, "likely": day, "late": day},
    }

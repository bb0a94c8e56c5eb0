"""A first look at a register in a file, before anything else of the program is there.

The rules of this file: nothing is written, nothing is judged, and nothing heavy is loaded; what is shown was kept with
each machine (`questions.py`). Where anything is out of the ordinary (no such file, not one of ours, another version, a
server, a read-only folder, a full disk) there is no glimpse, and the register is opened as always, which says why. What
a glimpse tells is what the register tells; a test holds the two together.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from operator import itemgetter
from pathlib import Path
from typing import Any, NamedTuple

from reelcare.register import steps, zones
from reelcare.register.questions import FEW, IN_ORDER, ORDER, RANK, RANKS, STANDS, named_keys, past_grace, question

UNUSUAL = (sqlite3.Error, OSError, ValueError, LookupError)
"""What a look can run into where a register is damaged, busy or odd: then it is opened as always, which says why."""


class Machine(NamedTuple):
    """A machine as the yard shows it; `checked` in ms, `next_state` and `next_title` of the item that comes first."""

    tag: str
    place: str
    seconds: int
    millimetres: int
    run: str
    road: str
    checked: int | None
    next_state: str
    next_title: str


class Titles:
    """What the items of the plans are called in one language."""

    def __init__(self, plans: Iterable[tuple[str | None, dict[str, Any]]], language: str) -> None:
        said = {machine: {item: _said(title, language) for item, title in plan.items()} for machine, plan in plans}
        self._all = said.pop(None, {})
        self._own = {machine: titles for machine, titles in said.items() if titles}

    def of(self, machine: str, item: str) -> str | None:
        """The title of an item by the machine's own plan, else by that of all; None where the plan has it not."""
        return self._own.get(machine, self._all).get(item)


class Glimpse:
    """A register in a file, looked at for a moment."""

    def __init__(self, db: sqlite3.Connection, now: datetime, zone: str) -> None:
        self._db = db
        self.now = now
        self.today = now.astimezone(zones.zone(zone)).date()

    def counts(self) -> dict[str, int]:
        """How many machines stand how."""
        rows = self._db.execute(f"SELECT {RANK} AS rank, COUNT(*) FROM machine_now GROUP BY rank", self._moment())
        return {RANKS[rank]: many for rank, many in rows}

    def machines(self, most: int, language: str) -> list[Machine]:
        """The first machines of the yard, in its order."""
        ids = [row[0] for row in self._db.execute(f"{ORDER} LIMIT {int(most)}", self._moment())]
        rows = self._db.execute(f"{MACHINES} WHERE machine IN ({', '.join('?' * len(ids))})", ids) if ids else ()
        found = {row[0]: row[1:] for row in rows}
        states = self._states([(one, found[one][-2]) for one in ids])
        titles = self.titles(language)
        moment = self._moment()
        return [
            machine_of(found[one], moment["now"], moment["today"], *_next(one, found[one], states, titles))
            for one in ids
        ]

    def overdue(self, told: Sequence[str]) -> list[tuple[Any, ...]]:
        """What is overdue over all machines, worst first: rows of what is to be told (names of `PAST_GRACE`), among
        which are `tag`, `item` and `life`."""
        found = self._db.execute(past_grace(told), {"today": self.today.toordinal()}).fetchall()
        # two sorts that keep the order of equals are one by all three
        found.sort(key=itemgetter(told.index("tag"), told.index("item")))
        found.sort(key=itemgetter(told.index("life")), reverse=True)
        return found

    def titles(self, language: str) -> Titles:
        """The titles of the items, by the newest plans."""
        rows = self._db.execute(
            f"SELECT machine, body FROM entry WHERE {FEW} AND kind = 'plan' AND {STANDS} {IN_ORDER}"
        )
        plans = (
            (machine, {str(item["id"]): item["what"] for item in json.loads(body)["plan"].get("items", ())})
            for machine, body in rows
        )
        return Titles(plans, language)

    def tags(self) -> list[str]:
        """The tags of all machines."""
        return [str(tag) for (tag,) in self._db.execute("SELECT tag FROM machine_now ORDER BY tag")]

    def people(self) -> list[str]:
        """The names of all who are enrolled."""
        rows = self._db.execute(f"SELECT body FROM entry WHERE {FEW} AND kind = 'person' {IN_ORDER}")
        return sorted({str(json.loads(body)["name"]) for (body,) in rows})

    def _moment(self) -> dict[str, int]:
        return {"today": self.today.toordinal(), "now": int(self.now.timestamp() * 1000)}

    def _states(self, keys: list[tuple[str, str]]) -> dict[tuple[str, str], str]:
        if not keys:
            return {}
        text, named = named_keys(keys)
        rows = self._db.execute(question(keys=text), {"today": self.today.toordinal(), **named})
        return {(row[0], row[3]): row[5] for row in rows}


MACHINES = (
    "SELECT machine, tag, place, seconds, millimetres, checked, held, run_held_day, road_held_day, run_from, run_until,"
    " road_from, road_until, next_item, life_day FROM machine_now"
)
"""What a row of the yard is made of; a condition follows."""


def machine_of(row: Sequence[Any], now: int, today: int, state: str, title: str) -> Machine:
    """A machine from a row of `MACHINES` without its id, at a moment [ms] of a day (its number)."""
    tag, place, seconds, millimetres, checked, held, run_day, road_day, run_from, run_until, road_from, road_until = (
        row[:12]
    )
    run = _word(held & 1, run_day, run_from, run_until, now, today)
    road = _word(held & 2, road_day, road_from, road_until, now, today)
    return Machine(tag, place, seconds, millimetres, run, road, checked, state, title)


def _word(held: int, held_day: int | None, since: int | None, until: int | None, now: int, today: int) -> str:
    if held or (held_day is not None and today >= held_day):
        return "held"
    return "clear" if since is not None and until is not None and since <= now <= until else "check due"


def _said(title: str | dict[str, str], language: str) -> str:
    return title if isinstance(title, str) else title.get(language) or title.get("en", "")


def _next(machine: str, row: tuple[Any, ...], states: dict[tuple[str, str], str], titles: Titles) -> tuple[str, str]:
    state = states.get((machine, row[12]), "")
    return state, titles.of(machine, row[12]) or "" if state else ""


@contextmanager
def glimpse(path: Path, now: datetime) -> Iterator[Glimpse | None]:
    """A look at a register; None where it is to be opened as always."""
    db = _opened(path)
    try:
        yield _ready(db, now) if db is not None else None
    finally:
        if db is not None:
            db.close()


def _opened(path: Path) -> sqlite3.Connection | None:
    try:
        with path.open("rb") as file:
            head = file.read(100)
        room = os.statvfs(path.parent) if hasattr(os, "statvfs") else None
    except OSError:
        return None
    version, ours = int.from_bytes(head[60:64], "big"), int.from_bytes(head[68:72], "big")
    if ours != steps.APPLICATION_ID or version != steps.NEWEST or not os.access(path.parent, os.W_OK):
        return None
    if room is not None and room.f_bavail * room.f_frsize < steps.ROOM_NEEDED:
        return None
    return sqlite3.connect(path, timeout=0.5)


def _ready(db: sqlite3.Connection, now: datetime) -> Glimpse | None:
    try:
        db.execute("PRAGMA query_only = 1")
        # all that is asked is answered from one state of the register, whoever writes meanwhile
        db.execute("BEGIN")
        about = dict(db.execute("SELECT name, value FROM about").fetchall())
    except sqlite3.Error:
        return None
    if about.get("derived") != steps.DERIVED or "zone" not in about:
        return None
    return Glimpse(db, now, about["zone"])

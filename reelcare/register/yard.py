"""The yard in its order, at any size: which machines there are, how each stands, and what a page of them shows.

The rules of this file: the order and the counts come from the glance that is kept with each machine (`core/state/
glance.py`), so that no machine is looked at but the one under the cursor. A test holds every word against the judge's.
The order within one standing goes by the used part of the next item; it moves with the days, and what is kept is of the
day on which it was worked out. `renew` brings it to today; where nothing can be written the order of that day stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from reelcare.core.machine.card import read_card
from reelcare.core.machine.tag import is_coming
from reelcare.core.machine.tag import machine_of as machine_of_tag
from reelcare.core.state.machine_now import MachineNow, see
from reelcare.core.state.plain_form import from_plain
from reelcare.register import ranking, schema
from reelcare.register.glimpse import MACHINES, Machine, machine_of
from reelcare.register.moments import milliseconds
from reelcare.register.questions import ORDER, RANKS

if TYPE_CHECKING:
    from reelcare.register.register import Register

AT_ONCE = 300
"""So many machines are ordered by today's dates while one waits; in a larger yard that is done after the first look."""

_EARLIER = "SELECT 1 FROM machine_now WHERE life_day <> ? LIMIT 1"


@dataclass(frozen=True, slots=True)
class Order:
    """The machines of a yard in its order, how many stand how, and whether the order is of an earlier day."""

    machines: tuple[str, ...]
    counts: dict[str, int]
    of_earlier: bool = False
    first: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    """By machine, what comes first today: used part and item; where it is not as it is kept."""

    def __len__(self) -> int:
        return len(self.machines)


def order(register: Register, now: datetime) -> Order:
    """Every machine: holds first, then what is due soonest, then by tag."""
    today = now.astimezone(register.zone).toordinal()
    rows = schema.rows_named(register.db, ORDER, {"today": today, "now": milliseconds(now)})
    ranks = [row[1] for row in rows]
    counts = {word: ranks.count(place) for place, word in enumerate(RANKS)}
    first: dict[str, tuple[float, str]] = {}
    earlier = bool(schema.rows(register.db, _EARLIER, today))
    if earlier and len(rows) <= AT_ONCE:
        first = _first_items(register, now)
        rows.sort(key=lambda row: (row[1], -first.get(row[0], (0.0, ""))[0], row[2]))
        earlier = False
    return Order(tuple(str(row[0]) for row in rows), counts, earlier, first)


def _first_items(register: Register, now: datetime) -> dict[str, tuple[float, str]]:
    """By machine: the used part of the item that comes first, and the item."""
    found: dict[str, tuple[float, str]] = {}
    for row in ranking.ranked(register, now, news=True):
        found.setdefault(row[0], (row[10], row[3]))
    return found


def renew(register: Register, now: datetime) -> None:
    """Bring the order of the yard to today. Raises a RegisterError where nothing can be written."""
    today = now.astimezone(register.zone).toordinal()
    first = _first_items(register, now)
    with register.db.writing():
        stale = schema.rows(register.db, "SELECT machine FROM machine_now WHERE life_day <> ?", today)
        register.db.many(
            "UPDATE machine_now SET life = ?, next_item = ?, life_day = ? WHERE machine = ?",
            [(*first.get(str(one), (0.0, "")), today, str(one)) for (one,) in stale],
        )


def rows(register: Register, order: Order, start: int, most: int, now: datetime, language: str) -> list[Machine]:
    """A page of the yard, as it is kept with each machine."""
    ids = order.machines[start : start + most]
    marks = ", ".join("?" * len(ids))
    kept = schema.rows(register.db, f"{MACHINES} WHERE machine IN ({marks})", *ids) if ids else []
    found = {str(row[0]): row[1:] for row in kept}
    keys = [(one, order.first.get(one, (0.0, ""))[1] if order.first else found[one][-2]) for one in ids if one in found]
    states = {(row[0], row[3]): row[5] for row in ranking.of_keys(register, now, keys)}
    plans, today = register.plans(), now.astimezone(register.zone).toordinal()
    made = []
    for machine, id in keys:
        item, state = plans.newest(machine).item(id), states.get((machine, id), "")
        title = item.title(language) if item is not None and state else ""
        made.append(machine_of(found[machine], milliseconds(now), today, state, title))
    return made


def machines(register: Register, ids: Sequence[str], now: datetime, *, forecasts: bool = False) -> list[MachineNow]:
    """These machines at `now`, in the order asked for; one that is gone is left out."""
    plans = register.plans()
    found: dict[str, MachineNow] = {}
    for machine, tally in _tallies(register, ids):
        seen, plan = from_plain(tally), plans.newest(machine)
        found[machine] = see(machine, read_card(seen.card), seen, plan, now, register.zone, forecasts=forecasts)
    return [found[one] for one in ids if one in found]


def _tallies(register: Register, ids: Sequence[str]) -> list[tuple[Any, ...]]:
    marks = ", ".join("?" * len(ids))
    return (
        schema.rows(register.db, f"SELECT machine, tally FROM machine_now WHERE machine IN ({marks})", *ids)
        if ids
        else []
    )


def find(register: Register, text: str, among: Sequence[str], start: int) -> int | None:
    """The first machine from a place on whose tag begins with a text, else whose tag, name or place has it in it; or
    the one whose code was scanned."""
    if is_coming(text):
        return start  # a code that is being read: nothing moves before it is whole
    scanned = machine_of_tag(text)
    if scanned is not None:
        return among.index(scanned) if scanned in among else None
    wanted = text.casefold()
    named = {
        str(machine): (str(tag).casefold(), f"{tag} {name} {place}".casefold())
        for machine, tag, name, place in schema.rows(register.db, "SELECT machine, tag, name, place FROM machine_now")
    }
    ahead = range(start, len(among))
    begins = next((place for place in ahead if named.get(among[place], ("", ""))[0].startswith(wanted)), None)
    if begins is not None:
        return begins
    return next((place for place in ahead if wanted in named.get(among[place], ("", ""))[1]), None)

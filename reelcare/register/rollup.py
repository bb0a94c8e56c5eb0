"""What is derived from the entries and kept for speed: it can be thrown away and worked out anew.

The rules of this file: the rollup is brought up to date in the transaction that writes the entry (`work.py`), and what
stands in it is what the entries give, whichever way they came in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from reelcare.core.canonical_json import canonical
from reelcare.core.entries import Entry, UpdateScope
from reelcare.core.fold import fold
from reelcare.core.machine.card import read_card
from reelcare.core.service import due
from reelcare.core.state import counters
from reelcare.core.state.limits import limits_of
from reelcare.core.state.machine_now import due_lines
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import to_plain
from reelcare.register import glance as glances
from reelcare.register import history, kept_tally, schema, steps
from reelcare.register.glance import columns_of
from reelcare.register.kept_tally import KeptTally
from reelcare.register.moments import milliseconds
from reelcare.register.progress import Progress

if TYPE_CHECKING:
    from reelcare.register.register import Register

_MACHINE_COLUMNS = "machine, tag, name, place, seconds, millimetres, runs, card, tally, " + ", ".join(glances.COLUMNS)
_OF_ITS_DAY = 3
"""The last columns of a machine's row are of the day on which they were worked out, and move on with the days."""
_ITEM_COLUMNS = (
    "machine, item, part, stop, from_seconds, due_seconds, late_seconds, from_millimetres, due_millimetres,"
    " late_millimetres, from_runs, due_runs, late_runs, from_day, due_day, late_day, each_time, done_day, past, life,"
    " span"
)

_KEEP_MACHINE = (
    f"INSERT INTO machine_now ({_MACHINE_COLUMNS}) VALUES ({', '.join('?' * 20)}) ON CONFLICT (machine) DO UPDATE SET "
    + ", ".join(f"{name} = excluded.{name}" for name in _MACHINE_COLUMNS.split(", ")[1:])
)
_KEEP_ITEM = f"INSERT INTO item_now ({_ITEM_COLUMNS}) VALUES ({', '.join('?' * 21)})"


def kept(register: Register, machine: str) -> MachineState | None:
    """The tally as the rollup keeps it."""
    found = schema.rows(register.db, "SELECT tally FROM machine_now WHERE machine = ?", machine)
    if not found:
        return None
    register.kept_tally = kept_tally.read(found[0][0], register.kept_tally)
    return register.kept_tally.tally


def worked_out(
    register: Register, machine: str, at: datetime | None = None, known: list[Entry] | None = None
) -> MachineState | None:
    """The tally folded from all entries up to a moment (`known`, where they are at hand already).

    A machine that was carded later than the moment is shown by its first card.
    """
    if known is not None:
        return fold(machine, known, register.known())
    return history.folded(register.db, machine, register.known(), at)


def _machine_row(
    register: Register, machine: str, tally: MachineState, text: str, *, of_its_day: bool = True
) -> tuple[Any, ...]:
    """What is kept of a machine, with its tally as text; the last columns, which are of its day, are empty where they
    are not wanted.
    """
    card = read_card(tally.card)
    totals = tally.totals
    plan = register.plans().newest(machine)
    at = tally.last[1] if tally.last is not None else datetime.min.replace(tzinfo=UTC)
    limits = limits_of(tally, plan)
    judged = due_lines(machine, card.tag, card.place, limits, plan, at, register.zone) if of_its_day else ()
    seen = glances.glance(tally, plan, at, register.zone, judged)
    return (
        machine, card.tag, card.name, card.place, totals.seconds, totals.millimetres, totals.runs,
        canonical(dict(tally.card)),
        text,
        *(_whole(getattr(seen, name)) for name in glances.COLUMNS),
    )  # fmt: skip


def _whole(value: Any) -> Any:
    """A moment as the register keeps it [ms]; anything else as it is."""
    if not isinstance(value, datetime):
        return value
    return milliseconds(value)


def _item_rows(register: Register, machine: str, tally: MachineState) -> list[tuple[Any, ...]]:
    rows = []
    for item in register.plans().newest(machine).items:
        cycle = tally.cycle(item)
        columns = columns_of(due.thresholds(item, cycle))
        past, life = moved(columns, tally.totals)
        done = cycle.last_done.toordinal() if cycle.last_done else None
        span = 0 if columns[9] is None or columns[10] is None else columns[10] - columns[9]
        rows.append(
            (machine, item.id, item.part, int(item.stop), *columns, int(item.each_time), done, past, life, span)
        )
    return rows


def moved(columns: Sequence[int | None], totals: counters.Totals) -> tuple[int, float]:
    """Where an item stands by its counters alone: 2 overdue, 1 due, 0 neither; and the used part (-1 without any).

    >>> moved((0, 3600, 3960, *[None] * 9), counters.Totals(1800, 0, 0))
    (0, 0.5)
    """
    past, life = 0, -1.0
    for place, here in enumerate((totals.seconds, totals.millimetres, totals.runs)):
        base, limit, late = columns[3 * place : 3 * place + 3]
        if base is None or limit is None or late is None:
            continue
        past = max(past, 2 if here > late else 1 if here >= limit else 0)
        life = max(life, (here - base) / (limit - base))
    return past, life


def keep(register: Register, machine: str, tally: MachineState, reach: UpdateScope = UpdateScope.HISTORY) -> None:
    """Write what is kept of a machine, as far as it may have changed."""
    db = register.db
    text = to_plain(tally)
    register.kept_tally = KeptTally(text, tally)
    if reach is UpdateScope.STATE:
        db.execute_sql("UPDATE machine_now SET tally = ? WHERE machine = ?", (text, machine))
        return
    db.execute_sql(_KEEP_MACHINE, _machine_row(register, machine, tally, text))
    db.execute_sql("DELETE FROM item_now WHERE machine = ?", (machine,))
    db.many(_KEEP_ITEM, _item_rows(register, machine, tally))


def bring_up_to_date(register: Register, progress: Progress) -> None:
    """Work everything out anew where it was kept in another shape, as an older version did."""
    shape = schema.rows(register.db, "SELECT value FROM about WHERE name = 'derived'")
    if shape == [(steps.DERIVED,)]:
        return
    with register.db.writing():
        machines = [str(one) for (one,) in schema.rows(register.db, _SPOKEN_OF)]
        for number, machine in enumerate(machines):
            tally = worked_out(register, machine)
            if tally is not None and tally.card:
                keep(register, machine, tally)
            progress(number + 1, len(machines))
        register.db.execute_sql(steps.KEEP_ABOUT, ("derived", steps.DERIVED))


_SPOKEN_OF = """
    WITH RECURSIVE spoken_of (machine) AS (
        SELECT MIN(machine) FROM entry
        UNION ALL
        SELECT (SELECT MIN(entry.machine) FROM entry WHERE entry.machine > spoken_of.machine) FROM spoken_of
        WHERE spoken_of.machine IS NOT NULL
    )
    SELECT machine FROM spoken_of WHERE machine IS NOT NULL"""
"""The machines that an entry speaks of: by the index from each to the next, where DISTINCT would read every entry."""


def machines(register: Register) -> list[str]:
    """The ids of all machines that an entry speaks of or of which anything is kept, in their order."""
    return sorted(
        str(one) for (one,) in schema.rows(register.db, f"{_SPOKEN_OF} UNION SELECT machine FROM machine_now")
    )


def differences(register: Register, machines: Iterable[str]) -> list[str]:
    """Every one of these machines whose rows are not what its entries give; changes nothing."""
    return [says for says, _, _ in _compare(register, machines)]


def rebuild(register: Register) -> list[str]:
    """Work the rollup out anew from the entries; the answer names every machine whose rows were not right."""
    found = list(_compare(register, machines(register)))
    for _, machine, tally in found:
        if tally is not None:
            keep(register, machine, tally)
        else:
            register.db.execute_sql("DELETE FROM machine_now WHERE machine = ?", (machine,))
            register.db.execute_sql("DELETE FROM item_now WHERE machine = ?", (machine,))
    return [says for says, _, _ in found]


def _compare(register: Register, machines: Iterable[str]) -> Iterator[tuple[str, str, MachineState | None]]:
    """What is wrong with the rollup: in words, the machine, and the tally it should have (None: no such machine)."""
    db = register.db
    for machine in machines:
        row = next(iter(schema.rows(db, f"SELECT {_MACHINE_COLUMNS} FROM machine_now WHERE machine = ?", machine)), ())
        tally = worked_out(register, machine)
        if tally is None or not tally.card:
            if row:
                yield f"{row[1]}: kept, but no entry speaks of it", machine, None
            continue
        text = to_plain(tally)
        machine_row = _machine_row(register, machine, tally, text, of_its_day=False)
        items = schema.rows(db, f"SELECT {_ITEM_COLUMNS} FROM item_now WHERE machine = ? ORDER BY item", machine)
        item_rows = sorted(_item_rows(register, machine, tally), key=lambda one: one[1])
        if row[:-_OF_ITS_DAY] != machine_row[:-_OF_ITS_DAY] or item_rows != items:
            yield f"{machine_row[1]}: totals or thresholds are not what the entries give", machine, tally

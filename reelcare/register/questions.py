"""Questions to a database as texts: what is due, by the rule that `core/service/due.py` states for whole numbers, and
in which order the yard stands, by the glance that `core/state/glance.py` keeps.

The rules of this file: text and nothing else, so that it is there at once. Tests hold the answers against the core.
"""

from __future__ import annotations

from collections.abc import Sequence

from reelcare.core.scales import SCALES, SOON, WHOLE, By

COLUMN = {"hours": "seconds", "metres": "millimetres", "runs": "runs", "date": "day"}
LIMBS = ", ".join(f"i.{edge}_{COLUMN[scale]}" for scale in SCALES for edge in ("from", "due", "late"))

_TODAY = "CAST(:today AS BIGINT)"
NEVER = "CAST(-1e300 AS DOUBLE PRECISION)"
"""The used part of a scale that an item does not count by: less than any."""


def _now(scale: str) -> str:
    # the day is a number that the question brings along
    return _TODAY if scale == "date" else f"m.{COLUMN[scale]}"


_FIGURES = ("used", "interval", "left", "life", "grace_left")


def _figure(part: str, scale: By, now: str) -> str:
    """A value of one scale, in its unit."""
    name = COLUMN[scale]
    if part == "life":
        return f"CAST({now} - from_{name} AS DOUBLE PRECISION) / (due_{name} - from_{name})"
    value = {
        "used": f"{now} - from_{name}",
        "interval": f"due_{name} - from_{name}",
        "left": f"due_{name} - {now}",
        "grace_left": f"late_{name} - {now}",
    }[part]
    return f"CAST({value} AS DOUBLE PRECISION) / {WHOLE[scale]}"


def _late(scale: str) -> str:
    return f"CASE WHEN {_now(scale)} > i.late_{COLUMN[scale]} THEN 1 ELSE 0 END"


def _due(scale: str) -> str:
    return f"CASE WHEN {_now(scale)} >= i.due_{COLUMN[scale]} THEN 1 ELSE 0 END"


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
    nows = ("today" if scale == "date" else COLUMN[scale] for scale in SCALES)
    cases = (
        f"WHEN {place} THEN {_figure(part, scale, now)}"
        for place, (scale, now) in enumerate(zip(SCALES, nows, strict=True))
    )
    return f"CASE by_scale {' '.join(cases)} END AS {part}"


_BY_NAME = (
    f"CASE by_scale {' '.join(f'WHEN {place} THEN {scale!r}' for place, scale in enumerate(SCALES))} END AS by_name"
)


RANKED = (
    "machine", "tag", "place", "item", "part", "state", "by_name", "used", "interval", "left", "life", "grace_left",
)  # fmt: skip
"""What a row of `question` is made of; amounts are in h, m, runs or days, by the scale `by_name`."""
NEWS = "i.each_time = 0 OR {late}"
"""The condition of an item that tells more than that a check is due before the next run."""
ACUTE = "i.past > 0 OR i.due_day <= {today}"
"""The condition of what is due or overdue, by indexes."""
OVERDUE = "i.past = 2 OR i.late_day < {today}"
"""The condition of what is overdue, by indexes."""


def question(greatest: str = "MAX", where: str = "", keys: str = "") -> str:
    """The question, of all items, of those that a condition picks, or of those whose keys are named (`keys`)."""
    lives = ", ".join(
        f"COALESCE({_figure('life', scale, _now(scale))}, {NEVER}) AS l{place}" for place, scale in enumerate(SCALES)
    )
    lates = ", ".join(f"{_late(scale)} AS o{place}" for place, scale in enumerate(SCALES))
    late = f"{greatest}({', '.join(_late(scale) for scale in SCALES)})"
    source = "item_now AS i JOIN machine_now AS m ON m.machine = i.machine"
    if keys:
        source = (
            f"wanted JOIN item_now AS i ON i.machine = wanted.m AND i.item = wanted.i JOIN {source.split('JOIN ')[1]}"
        )
    condition = f" WHERE ({where.format(today=_TODAY, late=f'{late} = 1')})" if where else ""
    first = (
        f"SELECT i.machine, m.tag, m.place, i.item, i.part, m.seconds, m.millimetres, m.runs, {_TODAY} AS today,"
        f" {LIMBS}, {lives}, {lates}, {greatest}({', '.join(_due(scale) for scale in SCALES)}) AS due"
        f" FROM {source}{condition}"
    )
    second = f"SELECT *, {greatest}(o0, o1, o2, o3) AS late, {greatest}(l0, l1, l2, l3) AS most FROM judged"
    third = f"SELECT *, {_by(greatest)} AS by_scale FROM weighed"
    state = (
        "CASE WHEN late = 1 THEN 'overdue' WHEN due = 1 THEN 'due'"
        f" WHEN most >= {SOON} THEN 'soon' ELSE 'ok' END AS state"
    )
    picked = ", ".join(_pick(part) for part in _FIGURES)
    # each step is worked out once for a row: put together, its parts would be worked out wherever they are named
    named = f"wanted (m, i) AS (VALUES {keys}), " if keys else ""
    return (
        f"WITH {named}judged AS MATERIALIZED ({first}), weighed AS MATERIALIZED ({second}),"
        f" ranked AS MATERIALIZED ({third})"
        f" SELECT machine, tag, place, item, part, {state}, {_BY_NAME}, {picked} FROM ranked"
        " ORDER BY life DESC, tag, item"
    )


def named_keys(keys: Sequence[tuple[str, str]]) -> tuple[str, dict[str, str]]:
    """Machines and items as `question` takes them: their places in its text, and what stands at each place.

    >>> named_keys([("m", "hose"), ("n", "gun")])
    ('(:m0, :i0), (:m1, :i1)', {'m0': 'm', 'i0': 'hose', 'm1': 'n', 'i1': 'gun'})
    """
    text = ", ".join(f"(:m{place}, :i{place})" for place in range(len(keys)))
    return text, {
        f"{name}{place}": part for place, key in enumerate(keys) for name, part in zip("mi", key, strict=True)
    }


DUE = question("MAX")
"""The whole question for SQLite; `:today` is the day number of the day asked for."""

_KEPT = {
    "machine": "i.machine", "tag": "m.tag", "place": "m.place", "item": "i.item", "part": "i.part",
    "done_day": "i.done_day",
}  # fmt: skip
PAST_GRACE = (*_KEPT, "by_name", *_FIGURES)
"""What `past_grace` can tell; amounts are in h, m, runs or days, by the scale `by_name`."""
TOTALS = "INDEXED BY machine_now_totals"
"""Has SQLite read where a machine stands from the index that has it all, and not from the long rows of machines."""


def past_grace(told: Sequence[str] = PAST_GRACE, greatest: str = "MAX", index: str = TOTALS) -> str:
    """The question what is past its grace on `:today`, with the figures of the scale on which it is furthest past: rows
    of what is to be told, in no order.

    What no counter has past its grace is so by date alone; only for the others is each scale looked at. A server
    knows no words for an index (`index` is empty then).
    """
    source = f"item_now AS i JOIN machine_now AS m {index} ON m.machine = i.machine"
    names = ", ".join(_KEPT[name] for name in told if name in _KEPT)
    dates = {**_KEPT, "by_name": "'date'", **{part: _figure(part, "date", _TODAY) for part in _FIGURES}}
    picks = {"by_name": _BY_NAME, **{part: _pick(part) for part in _FIGURES}}
    lives = [
        f"CASE WHEN {_now(scale)} > i.late_{COLUMN[scale]} THEN {_figure('life', scale, _now(scale))} ELSE {NEVER} END"
        f" AS l{place}"
        for place, scale in enumerate(SCALES)
    ]
    furthest = " ".join(f"WHEN l{place} THEN {place}" for place in range(4))
    worn = (
        f"SELECT *, CASE {greatest}(l0, l1, l2, l3) {furthest} END AS by_scale FROM (SELECT {names}, m.seconds,"
        f" m.millimetres, m.runs, {_TODAY} AS today, {LIMBS}, {', '.join(lives)} FROM {source} WHERE i.past = 2) AS w"
    )
    # each step is worked out once for a row: put together, its parts would be worked out wherever they are named
    return (
        f"WITH weighed AS MATERIALIZED ({worn})"
        f" SELECT {', '.join(dates[name] for name in told)} FROM {source}"
        f" WHERE i.late_day < {_TODAY} AND i.past < 2 UNION ALL"
        f" SELECT {', '.join(picks.get(name, name) for name in told)} FROM weighed"
    )


IN_FULL = (
    f"SELECT i.machine, i.item, m.tag, m.place, i.done_day, i.part, m.seconds, m.millimetres, m.runs, {LIMBS}"
    " FROM item_now AS i JOIN machine_now AS m ON m.machine = i.machine"
)
"""Items with where their machine stands and from, due and late of each scale; a condition follows."""

STANDS = (
    "NOT EXISTS (SELECT 1 FROM entry AS c WHERE c.refers = entry.id AND c.kind = 'correction'"
    " AND NOT EXISTS (SELECT 1 FROM entry AS d WHERE d.refers = c.id AND d.kind = 'correction'))"
)
"""The condition that an entry was not taken back, or that its correction was."""
IN_ORDER = "ORDER BY happened, recorded, id"
"""The order of entries: as things happened, then as they were recorded (`Entry.order`)."""
FEW = "kind IN ('card', 'plan', 'person')"
"""The condition of the index over the few entries that are asked for by kind; it must stand in a query to be used."""
RANKS = ("held", "check due", "clear")
"""The standings in the order of the yard."""
RANK = (
    "CASE WHEN held > 0 OR :today >= run_held_day OR :today >= road_held_day THEN 0"
    " WHEN :now >= run_from AND :now <= run_until THEN 2 ELSE 1 END"
)
"""The place of a machine's standing in `RANKS`, on a day (`:today`, its number) and at a moment (`:now`, ms)."""
ORDER = f"SELECT machine, {RANK} AS rank, tag FROM machine_now ORDER BY rank, life DESC, tag"
"""Every machine in the order of the yard."""

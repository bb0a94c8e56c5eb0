"""Service plans from plain tables and back: every error at once, each with its item and key.

The rules of this file: a table is the content of a plan's TOML file; `to_plain` gives it back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reelcare.core.machine.card_readers import is_day_of_year
from reelcare.core.machine.table_reader import TableReader
from reelcare.core.parts import PARTS
from reelcare.core.service.plan import Anchor, Interval, Item, Plan, reached
from reelcare.core.text import _, mark
from reelcare.core.wording import ProblemsError, Words, did_you_mean, too_long_of


class PlanError(ProblemsError):
    """A plan that cannot be right."""


_LIMBS = ("hours", "metres", "runs", "months")
_MOST = {"hours": 100_000, "metres": 100_000_000, "runs": 1_000_000, "months": 600}
_SCALE = {"hours": 3600, "metres": 1000, "runs": 1, "months": 1}
PLAN_KEYS = ("id", "title", "items", "source")
ITEM_KEYS = (
    "id", "what", "short", "every", "first", "first_after_repair", "grace", "anchor", "on", "covers", "part", "stop",
    "safety", "done_by", "steps", "cautions", "supplies", "minutes", "isolate", "source",
    "needs", "was",
)  # fmt: skip
ENERGIES = {
    "water": mark("water"), "hose tension": mark("hose tension"), "drum": mark("drum"), "pto": mark("PTO"),
    "hydraulics": mark("hydraulics"),
}  # fmt: skip
"""What is made safe before somebody works on a machine."""


def read_plan(table: Mapping[str, Any]) -> Plan:
    """The plan that a table says. Raises PlanError with every problem.

    >>> read_plan({"id": "p", "items": [{"id": "oil", "what": "Oil", "every": {"hours": 500}}]}).items[0].grace
    10
    """
    reader = TableReader(table)
    reader.keys(PLAN_KEYS)
    if not isinstance(table.get("id"), str) or not table.get("id"):
        reader.wrong("id", _("missing; a short name for the plan"))
    raw = table.get("items", [])
    if not isinstance(raw, (list, tuple)) or not raw:
        reader.wrong("items", _("none; a plan has at least one [[items]]"))
        raw = []
    items: list[Item] = []
    for number, one in enumerate(raw):
        where = f"items[{number}]"
        if isinstance(one, Mapping):
            items.append(_item(reader.at(one, where)))
        else:
            reader.wrong(where, _("must be a table"))
    reader.problems += _between(items)
    title = _words(reader, "title", table.get("title", table.get("id") or "plan"))
    source = reader.text("source")
    if reader.problems:
        raise PlanError(reader.problems)
    split_off = tuple(one for one in items if one.was)
    return Plan(str(table["id"]), title, tuple(items), source, split_off, {one.id: one for one in items})


def without_english(plan: Plan) -> Iterator[str]:
    """Every text of a plan that has no English: whoever reads another language than its own would read nothing."""
    told = [("title", plan.title)]
    for number, item in enumerate(plan.items):
        where = f"items[{number}] ({item.id})"
        told.append((f"{where}.what", item.what))
        for key in ("steps", "cautions", "supplies"):
            told += [(f"{where}.{key}[{place}]", words) for place, words in enumerate(getattr(item, key))]
    for where, words in told:
        if not words.get("en"):
            yield f"{where}: " + _("no English text; `en` is always there")


def _item(row: TableReader) -> Item:
    id = row.table.get("id")
    if isinstance(id, str) and id:
        row = row.at(row.table, f"{row.where} ({id})")
    else:
        row.wrong("id", _("missing; a short name for the item"))
        id = ""
    row.keys(ITEM_KEYS)
    if "what" not in row.table:
        row.wrong("what", _("missing; say what is done"))
    safety = row.flag("safety")
    return Item(
        id=id,
        what=_words(row, "what", row.table.get("what", "")),
        every=_interval(row, "every"),
        first=_interval(row, "first") if "first" in row.table else None,
        grace=_grace(row, safety),
        anchor=_anchor(row),
        on=_on(row),
        first_after_repair=_again(row),
        covers=row.texts("covers"),
        part=_part(row),
        stop=row.flag("stop"),
        safety=safety,
        done_by=row.text("done_by"),
        steps=_list_of_words(row, "steps"),
        cautions=_list_of_words(row, "cautions"),
        supplies=_list_of_words(row, "supplies"),
        minutes=_minutes(row),
        isolate=_energies(row),
        source=row.text("source"),
        short=_short(row),
        needs=row.needs(),
        was=row.texts("was"),
    )


def _interval(row: TableReader, key: str) -> Interval:
    value = row.table.get(key)
    if value is None:
        if key == "every":
            row.wrong(key, _("missing; say how often, as in every = { hours = 100 }"))
        return Interval()
    if not isinstance(value, Mapping):
        row.wrong(key, _("must be a table, as in { hours = 500, months = 12 }"))
        return Interval()
    limbs = row.at(value, row.place(key))
    limbs.keys(_LIMBS)
    found = [_limb(limbs, name) for name in _LIMBS]
    if not any(limb is not None for limb in found):
        row.wrong(key, _("empty; say hours, metres, runs or months"))
    return Interval(*found)


def _limb(limbs: TableReader, name: str) -> int | None:
    """One part of an interval, as it is kept."""
    count = limbs.table.get(name)
    if count is None:
        return None
    if isinstance(count, float) and name in ("hours", "metres") and count == count and abs(count) < 1e12:
        scaled = round(count * _SCALE[name])
    elif isinstance(count, int) and not isinstance(count, bool):
        scaled = count * _SCALE[name]
    else:
        wanted = mark("{count!r}: must be a number") if _SCALE[name] > 1 else mark("{count!r}: must be a whole number")
        limbs.wrong(name, _(wanted, count=count))
        return None
    if not 0 < scaled <= _MOST[name] * _SCALE[name]:
        limbs.wrong(name, _("{count}: must be above 0 and at most {most}", count=count, most=_MOST[name]))
    return scaled


def _grace(row: TableReader, safety: bool) -> int:
    grace = row.table.get("grace", 0 if safety else 10)
    if isinstance(grace, bool) or not isinstance(grace, int) or not 0 <= grace <= 50:
        row.wrong("grace", _("{grace!r}: must be a whole percentage from 0 to 50", grace=grace))
        return 10
    if safety and grace:
        row.wrong("grace", _("{grace}; a safety item has none, leave it out or say 0", grace=grace))
    return grace


def _anchor(row: TableReader) -> Anchor:
    anchor = row.table.get("anchor", "")
    if anchor not in ("", "done", "calendar"):
        row.wrong("anchor", _('{anchor!r}: must be "done" or "calendar"', anchor=anchor))
        return ""
    every = row.table.get("every")
    if anchor == "calendar" and not (isinstance(every, Mapping) and "months" in every):
        row.wrong("anchor", _("calendar goes with an interval of months"))
    return anchor  # type: ignore[no-any-return]  # one of the three by now


def _on(row: TableReader) -> str:
    on = row.text("on")
    if not on:
        return ""
    if row.table.get("anchor") != "calendar":
        row.wrong("on", _('goes with anchor = "calendar"'))
    if on not in ("opens", "closes") and not is_day_of_year(on):
        row.wrong("on", _('{on!r}: must be "opens", "closes" (of the season) or a day such as "04-15"', on=on))
    return on


def _again(row: TableReader) -> bool:
    again = row.flag("first_after_repair")
    for needed in ("first", "part"):
        if again and needed not in row.table:
            row.wrong("first_after_repair", _("needs `{needed}` as well", needed=needed))
    return again


def _part(row: TableReader) -> str:
    part = row.text("part")
    if part and part not in PARTS:
        near, parts = did_you_mean(part, PARTS), ", ".join(PARTS)
        row.wrong("part", _("{part!r} is not a part{near}; choose from {parts}", part=part, near=near, parts=parts))
    return part


def _energies(row: TableReader) -> tuple[str, ...]:
    found = row.texts("isolate")
    for one in found:
        if one not in ENERGIES:
            row.wrong("isolate", _("{one!r}; choose from {energies}", one=one, energies=", ".join(ENERGIES)))
    return found


def _minutes(row: TableReader) -> int | None:
    value = row.table.get("minutes")
    if value is None:
        return None
    least, most = 1, 10_000
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        wanted = _("{value!r}: must be a whole number from {least} to {most}", value=value, least=least, most=most)
        row.wrong("minutes", wanted)
        return None
    return value


def _words(row: TableReader, key: str, value: Any) -> Words:
    if isinstance(value, str):
        return {"en": value}
    if isinstance(value, Mapping) and value and all(isinstance(one, str) for one in value.values()):
        return dict(value)
    row.wrong(key, _("must be a text, or a text by language"))
    return {"en": ""}


def _short(row: TableReader) -> Words:
    short = _words(row, "short", row.table["short"]) if "short" in row.table else {}
    row.problems += [f"{row.place('short')}{too_long}" for too_long in too_long_of(short)]
    return short


def _list_of_words(row: TableReader, key: str) -> tuple[Words, ...]:
    value = row.table.get(key, ())
    if not isinstance(value, (list, tuple)):
        row.wrong(key, _("must be a list"))
        return ()
    return tuple(_words(row, f"{key}[{number}]", one) for number, one in enumerate(value))


def _between(items: list[Item]) -> Iterator[str]:
    known = [one.id for one in items]
    for id in sorted({one for one in known if one and known.count(one) > 1}):
        yield _("items: two items are called {id}", id=id)
    covers = {one.id: one.covers for one in items}
    for one in items:
        for other in one.covers:
            if other not in covers:
                yield _(
                    "items ({id}).covers: {other!r} is not an item of this plan{near}",
                    id=one.id, other=other, near=did_you_mean(other, known),
                )  # fmt: skip
    for id in known:
        if id and id in reached(covers[id], lambda one: covers.get(one, ())):
            yield _("items ({id}).covers: comes back to itself in a circle", id=id)


def to_plain(plan: Plan) -> dict[str, Any]:
    """The plan as the table that `read_plan` takes."""
    table = {"id": plan.id, "title": dict(plan.title), "items": [_plain_item(one) for one in plan.items]}
    return table | ({"source": plan.source} if plan.source else {})


def _plain_interval(interval: Interval) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in zip(_LIMBS, interval, strict=True):
        if value is not None:
            scale = _SCALE[name]
            found[name] = value // scale if value % scale == 0 else value / scale
    return found


def _plain_item(item: Item) -> dict[str, Any]:
    table: dict[str, Any] = {"id": item.id, "what": dict(item.what), "every": _plain_interval(item.every)}
    if item.short:
        table["short"] = dict(item.short)
    if item.first is not None:
        table["first"] = _plain_interval(item.first)
    if item.grace != (0 if item.safety else 10):
        table["grace"] = item.grace
    for key in ("anchor", "on", "first_after_repair", "part", "done_by", "source", "minutes", "stop", "safety"):
        if getattr(item, key):
            table[key] = getattr(item, key)
    for key in ("covers", "isolate", "needs", "was"):
        if getattr(item, key):
            table[key] = list(getattr(item, key))
    for key in ("steps", "cautions", "supplies"):
        if getattr(item, key):
            table[key] = [dict(one) for one in getattr(item, key)]
    return table

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
    reader = TableReader()
    reader.keys(table, PLAN_KEYS, "")
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
            items.append(_item(one, where, reader))
        else:
            reader.wrong(where, _("must be a table"))
    reader.problems += _between(items)
    title = _words(table.get("title", table.get("id") or "plan"), "title", reader)
    source = reader.text(table, "source", "")
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


def _item(table: Mapping[str, Any], where: str, reader: TableReader) -> Item:
    id = table.get("id")
    if isinstance(id, str) and id:
        where = f"{where} ({id})"
    else:
        reader.wrong(f"{where}.id", _("missing; a short name for the item"))
        id = ""
    reader.keys(table, ITEM_KEYS, where)
    if "what" not in table:
        reader.wrong(f"{where}.what", _("missing; say what is done"))
    safety = reader.flag(table, "safety", where)
    return Item(
        id=id,
        what=_words(table.get("what", ""), f"{where}.what", reader),
        every=_interval(table.get("every"), f"{where}.every", reader, needed=True),
        first=_interval(table["first"], f"{where}.first", reader) if "first" in table else None,
        grace=_grace(table, safety, where, reader),
        anchor=_anchor(table, where, reader),
        on=_on(table, where, reader),
        first_after_repair=_again(table, where, reader),
        covers=reader.texts(table, "covers", where),
        part=_part(table, where, reader),
        stop=reader.flag(table, "stop", where),
        safety=safety,
        done_by=reader.text(table, "done_by", where),
        steps=_list_of_words(table, "steps", where, reader),
        cautions=_list_of_words(table, "cautions", where, reader),
        supplies=_list_of_words(table, "supplies", where, reader),
        minutes=_minutes(table.get("minutes"), f"{where}.minutes", reader),
        isolate=_energies(table, where, reader),
        source=reader.text(table, "source", where),
        short=_short(table, where, reader),
        needs=reader.needs(table, where),
        was=reader.texts(table, "was", where),
    )


def _interval(value: Any, where: str, reader: TableReader, *, needed: bool = False) -> Interval:
    if value is None:
        if needed:
            reader.wrong(where, _("missing; say how often, as in every = { hours = 100 }"))
        return Interval()
    if not isinstance(value, Mapping):
        reader.wrong(where, _("must be a table, as in { hours = 500, months = 12 }"))
        return Interval()
    reader.keys(value, _LIMBS, where)
    limbs = [_limb(value.get(name), name, f"{where}.{name}", reader) for name in _LIMBS]
    if not any(limb is not None for limb in limbs):
        reader.wrong(where, _("empty; say hours, metres, runs or months"))
    return Interval(*limbs)


def _limb(count: Any, name: str, where: str, reader: TableReader) -> int | None:
    """One part of an interval, as it is kept."""
    if count is None:
        return None
    if isinstance(count, float) and name in ("hours", "metres") and count == count and abs(count) < 1e12:
        scaled = round(count * _SCALE[name])
    elif isinstance(count, int) and not isinstance(count, bool):
        scaled = count * _SCALE[name]
    else:
        wanted = mark("{count!r}: must be a number") if _SCALE[name] > 1 else mark("{count!r}: must be a whole number")
        reader.wrong(where, _(wanted, count=count))
        return None
    if not 0 < scaled <= _MOST[name] * _SCALE[name]:
        reader.wrong(where, _("{count}: must be above 0 and at most {most}", count=count, most=_MOST[name]))
    return scaled


def _grace(table: Mapping[str, Any], safety: bool, where: str, reader: TableReader) -> int:
    grace = table.get("grace", 0 if safety else 10)
    if isinstance(grace, bool) or not isinstance(grace, int) or not 0 <= grace <= 50:
        reader.wrong(f"{where}.grace", _("{grace!r}: must be a whole percentage from 0 to 50", grace=grace))
        return 10
    if safety and grace:
        reader.wrong(f"{where}.grace", _("{grace}; a safety item has none, leave it out or say 0", grace=grace))
    return grace


def _anchor(table: Mapping[str, Any], where: str, reader: TableReader) -> Anchor:
    anchor = table.get("anchor", "")
    if anchor not in ("", "done", "calendar"):
        reader.wrong(f"{where}.anchor", _('{anchor!r}: must be "done" or "calendar"', anchor=anchor))
        return ""
    if anchor == "calendar" and not (isinstance(table.get("every"), Mapping) and "months" in table["every"]):
        reader.wrong(f"{where}.anchor", _("calendar goes with an interval of months"))
    return anchor  # type: ignore[no-any-return]  # one of the three by now


def _on(table: Mapping[str, Any], where: str, reader: TableReader) -> str:
    on = reader.text(table, "on", where)
    if not on:
        return ""
    if table.get("anchor") != "calendar":
        reader.wrong(f"{where}.on", _('goes with anchor = "calendar"'))
    if on not in ("opens", "closes") and not is_day_of_year(on):
        wanted = _('{on!r}: must be "opens", "closes" (of the season) or a day such as "04-15"', on=on)
        reader.wrong(f"{where}.on", wanted)
    return on


def _again(table: Mapping[str, Any], where: str, reader: TableReader) -> bool:
    again = reader.flag(table, "first_after_repair", where)
    for needed in ("first", "part"):
        if again and needed not in table:
            reader.wrong(f"{where}.first_after_repair", _("needs `{needed}` as well", needed=needed))
    return again


def _part(table: Mapping[str, Any], where: str, reader: TableReader) -> str:
    part = reader.text(table, "part", where)
    if part and part not in PARTS:
        near, parts = did_you_mean(part, PARTS), ", ".join(PARTS)
        reader.wrong(
            f"{where}.part", _("{part!r} is not a part{near}; choose from {parts}", part=part, near=near, parts=parts)
        )
    return part


def _energies(table: Mapping[str, Any], where: str, reader: TableReader) -> tuple[str, ...]:
    found = reader.texts(table, "isolate", where)
    for one in found:
        if one not in ENERGIES:
            reader.wrong(
                f"{where}.isolate", _("{one!r}; choose from {energies}", one=one, energies=", ".join(ENERGIES))
            )
    return found


def _minutes(value: Any, where: str, reader: TableReader) -> int | None:
    if value is None:
        return None
    least, most = 1, 10_000
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        wanted = _("{value!r}: must be a whole number from {least} to {most}", value=value, least=least, most=most)
        reader.wrong(where, wanted)
        return None
    return value


def _words(value: Any, where: str, reader: TableReader) -> Words:
    if isinstance(value, str):
        return {"en": value}
    if isinstance(value, Mapping) and value and all(isinstance(one, str) for one in value.values()):
        return dict(value)
    reader.wrong(where, _("must be a text, or a text by language"))
    return {"en": ""}


def _short(table: Mapping[str, Any], where: str, reader: TableReader) -> Words:
    short = _words(table["short"], f"{where}.short", reader) if "short" in table else {}
    reader.problems += [f"{where}.short{too_long}" for too_long in too_long_of(short)]
    return short


def _list_of_words(table: Mapping[str, Any], key: str, where: str, reader: TableReader) -> tuple[Words, ...]:
    value = table.get(key, ())
    if not isinstance(value, (list, tuple)):
        reader.wrong(f"{where}.{key}", _("must be a list"))
        return ()
    return tuple(_words(one, f"{where}.{key}[{number}]", reader) for number, one in enumerate(value))


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

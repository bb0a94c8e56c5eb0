"""Service plans from plain tables and back: every error at once, each with its item and key.

The rules of this file: a table is the content of a plan's TOML file; `to_plain` gives it back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from reelcare.core.machine.card import NEEDS
from reelcare.core.parts import PARTS
from reelcare.core.service.plan import Anchor, Interval, Item, Plan
from reelcare.core.text import _, mark
from reelcare.core.wording import Words, closest, too_long_of


class PlanError(ValueError):
    """A plan that cannot be right. `problems` has every one of them."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


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
    problems = [
        _("{key}: not known{near}", key=key, near=_near(key, PLAN_KEYS)) for key in table if key not in PLAN_KEYS
    ]
    if not isinstance(table.get("id"), str) or not table.get("id"):
        problems.append(_("id: missing; a short name for the plan"))
    raw = table.get("items", [])
    if not isinstance(raw, (list, tuple)) or not raw:
        problems.append(_("items: none; a plan has at least one [[items]]"))
        raw = []
    items: list[Item] = []
    for number, one in enumerate(raw):
        where = f"items[{number}]"
        if not isinstance(one, Mapping):
            problems.append(_("{where}: must be a table", where=where))
            continue
        items.append(_item(one, where, problems))
    problems += _between(items)
    title = _words(table.get("title", table.get("id") or "plan"), "title", problems)
    source = _text(table, "source", "", problems)
    if problems:
        raise PlanError(problems)
    return Plan(str(table["id"]), title, tuple(items), source, {one.id: one for one in items})


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


def _near(word: str, known: tuple[str, ...] | list[str]) -> str:
    close = closest(word, known)
    return _("; did you mean {word}?", word=close) if close else ""


def _item(table: Mapping[str, Any], where: str, problems: list[str]) -> Item:
    id = table.get("id")
    if isinstance(id, str) and id:
        where = f"{where} ({id})"
    else:
        problems.append(_("{where}.id: missing; a short name for the item", where=where))
        id = ""
    problems += [
        _("{where}.{key}: not known{near}", where=where, key=key, near=_near(key, ITEM_KEYS))
        for key in table
        if key not in ITEM_KEYS
    ]
    if "what" not in table:
        problems.append(_("{where}.what: missing; say what is done", where=where))
    safety = _flag(table, "safety", where, problems)
    return Item(
        id=id,
        what=_words(table.get("what", ""), f"{where}.what", problems),
        every=_interval(table.get("every"), f"{where}.every", problems, needed=True),
        first=_interval(table["first"], f"{where}.first", problems) if "first" in table else None,
        grace=_grace(table, safety, where, problems),
        anchor=_anchor(table, where, problems),
        on=_on(table, where, problems),
        first_after_repair=_again(table, where, problems),
        covers=_texts(table, "covers", where, problems),
        part=_part(table, where, problems),
        stop=_flag(table, "stop", where, problems),
        safety=safety,
        done_by=_text(table, "done_by", where, problems),
        steps=_list_of_words(table, "steps", where, problems),
        cautions=_list_of_words(table, "cautions", where, problems),
        supplies=_list_of_words(table, "supplies", where, problems),
        minutes=_whole(table.get("minutes"), f"{where}.minutes", 1, 10_000, problems),
        isolate=_energies(table, where, problems),
        source=_text(table, "source", where, problems),
        short=_short(table, where, problems),
        needs=_needs(table, where, problems),
        was=_texts(table, "was", where, problems),
    )


def _interval(value: Any, where: str, problems: list[str], *, needed: bool = False) -> Interval:
    if value is None:
        if needed:
            problems.append(_("{where}: missing; say how often, as in every = {{ hours = 100 }}", where=where))
        return Interval()
    if not isinstance(value, Mapping):
        problems.append(_("{where}: must be a table, as in {{ hours = 500, months = 12 }}", where=where))
        return Interval()
    problems += [
        _("{where}.{key}: not known{near}", where=where, key=key, near=_near(key, _LIMBS))
        for key in value
        if key not in _LIMBS
    ]
    limbs: list[int | None] = []
    for name in _LIMBS:
        count = value.get(name)
        if isinstance(count, float) and name in ("hours", "metres") and count == count and abs(count) < 1e12:
            scaled = round(count * _SCALE[name])
        elif isinstance(count, int) and not isinstance(count, bool):
            scaled = count * _SCALE[name]
        elif count is None:
            limbs.append(None)
            continue
        else:
            problems.append(
                _("{where}.{name}: {count!r}: must be a number", where=where, name=name, count=count)
                if _SCALE[name] > 1
                else _("{where}.{name}: {count!r}: must be a whole number", where=where, name=name, count=count)
            )
            limbs.append(None)
            continue
        if not 0 < scaled <= _MOST[name] * _SCALE[name]:
            problems.append(
                _(
                    "{where}.{name}: {count}: must be above 0 and at most {most}",
                    where=where,
                    name=name,
                    count=count,
                    most=_MOST[name],
                )
            )
        limbs.append(scaled)
    if not any(limb is not None for limb in limbs):
        problems.append(_("{where}: empty; say hours, metres, runs or months", where=where))
    return Interval(*limbs)


def _grace(table: Mapping[str, Any], safety: bool, where: str, problems: list[str]) -> int:
    grace = table.get("grace", 0 if safety else 10)
    if isinstance(grace, bool) or not isinstance(grace, int) or not 0 <= grace <= 50:
        problems.append(
            _("{where}.grace: {grace!r}: must be a whole percentage from 0 to 50", where=where, grace=grace)
        )
        return 10
    if safety and grace:
        problems.append(
            _("{where}.grace: {grace}; a safety item has none, leave it out or say 0", where=where, grace=grace)
        )
    return grace


def _anchor(table: Mapping[str, Any], where: str, problems: list[str]) -> Anchor:
    anchor = table.get("anchor", "")
    if anchor not in ("", "done", "calendar"):
        problems.append(_('{where}.anchor: {anchor!r}: must be "done" or "calendar"', where=where, anchor=anchor))
        return ""
    if anchor == "calendar" and not (isinstance(table.get("every"), Mapping) and "months" in table["every"]):
        problems.append(_("{where}.anchor: calendar goes with an interval of months", where=where))
    return anchor  # type: ignore[no-any-return]  # one of the three by now


def _on(table: Mapping[str, Any], where: str, problems: list[str]) -> str:
    on = _text(table, "on", where, problems)
    if not on:
        return ""
    if table.get("anchor") != "calendar":
        problems.append(_('{where}.on: goes with anchor = "calendar"', where=where))
    if on not in ("opens", "closes") and not _is_day(on):
        problems.append(
            _(
                '{where}.on: {on!r}: must be "opens", "closes" (of the season) or a day such as "04-15"',
                where=where,
                on=on,
            )
        )
    return on


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(f"2024-{text}")
    except ValueError:
        return False
    return len(text) == 5 and text[2] == "-"  # ISO 8601 also knows weeks, as in W05-1


def _again(table: Mapping[str, Any], where: str, problems: list[str]) -> bool:
    again = _flag(table, "first_after_repair", where, problems)
    for needed in ("first", "part"):
        if again and needed not in table:
            problems.append(_("{where}.first_after_repair: needs `{needed}` as well", where=where, needed=needed))
    return again


def _part(table: Mapping[str, Any], where: str, problems: list[str]) -> str:
    part = _text(table, "part", where, problems)
    if part and part not in PARTS:
        problems.append(
            _(
                "{where}.part: {part!r} is not a part{near}; known are {parts}",
                where=where,
                part=part,
                near=_near(part, PARTS),
                parts=", ".join(PARTS),
            )
        )
    return part


def _needs(table: Mapping[str, Any], where: str, problems: list[str]) -> tuple[str, ...]:
    found = _texts(table, "needs", where, problems)
    problems += [
        _("{where}.needs: {one!r} is not known; known are {needs}", where=where, one=one, needs=", ".join(NEEDS))
        for one in found
        if not all(each.removeprefix("not ") in NEEDS for each in one.split(" or "))
    ]
    return found


def _energies(table: Mapping[str, Any], where: str, problems: list[str]) -> tuple[str, ...]:
    found = _texts(table, "isolate", where, problems)
    problems += [
        _("{where}.isolate: {one!r}; known are {energies}", where=where, one=one, energies=", ".join(ENERGIES))
        for one in found
        if one not in ENERGIES
    ]
    return found


def _text(table: Mapping[str, Any], key: str, where: str, problems: list[str]) -> str:
    value = table.get(key, "")
    if not isinstance(value, str):
        problems.append(
            _("{where}.{key}: must be a text", where=where, key=key) if where else _("{key}: must be a text", key=key)
        )
        return ""
    return value


def _flag(table: Mapping[str, Any], key: str, where: str, problems: list[str]) -> bool:
    value = table.get(key, False)
    if not isinstance(value, bool):
        problems.append(_("{where}.{key}: must be true or false", where=where, key=key))
        return False
    return value


def _whole(value: Any, where: str, least: int, most: int, problems: list[str]) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        problems.append(
            _(
                "{where}: {value!r}: must be a whole number from {least} to {most}",
                where=where,
                value=value,
                least=least,
                most=most,
            )
        )
        return None
    return value


def _texts(table: Mapping[str, Any], key: str, where: str, problems: list[str]) -> tuple[str, ...]:
    value = table.get(key, ())
    if not isinstance(value, (list, tuple)) or not all(isinstance(one, str) for one in value):
        problems.append(_("{where}.{key}: must be a list of texts", where=where, key=key))
        return ()
    return tuple(value)


def _words(value: Any, where: str, problems: list[str]) -> Words:
    if isinstance(value, str):
        return {"en": value}
    if isinstance(value, Mapping) and value and all(isinstance(one, str) for one in value.values()):
        return dict(value)
    problems.append(_("{where}: must be a text, or a text by language", where=where))
    return {"en": ""}


def _short(table: Mapping[str, Any], where: str, problems: list[str]) -> Words:
    short = _words(table["short"], f"{where}.short", problems) if "short" in table else {}
    problems += [f"{where}.short{too_long}" for too_long in too_long_of(short)]
    return short


def _list_of_words(table: Mapping[str, Any], key: str, where: str, problems: list[str]) -> tuple[Words, ...]:
    value = table.get(key, ())
    if not isinstance(value, (list, tuple)):
        problems.append(_("{where}.{key}: must be a list", where=where, key=key))
        return ()
    return tuple(_words(one, f"{where}.{key}[{number}]", problems) for number, one in enumerate(value))


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
                    id=one.id,
                    other=other,
                    near=_near(other, known),
                )
    for id in known:
        if id and _reaches(id, id, covers):
            yield _("items ({id}).covers: comes back to itself in a circle", id=id)


def _reaches(start: str, goal: str, covers: Mapping[str, tuple[str, ...]]) -> bool:
    waiting, seen = list(covers.get(start, ())), set()
    while waiting:
        one = waiting.pop()
        if one == goal:
            return True
        if one not in seen:
            seen.add(one)
            waiting.extend(covers.get(one, ()))
    return False


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

"""The table of a field, changed as a form changes it: one lane, or what licence, tariff and daylight allow.

The rules of this file: tables are as a file says them (`reelcare/core/night/field.py` reads them), quantities as texts
with their unit. Each function returns another table; none checks it, since `read_field` does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from reelcare.core.night.field import UNTIL

Table = Mapping[str, Any]
ALLOWED = ("licence.m3_season", "licence.m3_day", "licence.hours", "tariff.hours", "dark", "moves.same_hydrant",
           "moves.other_hydrant")  # fmt: skip
"""What a field says beside its lanes, by section and key; `dark` is two keys."""


def new_table(place: str) -> dict[str, Any]:
    """The table of a field without lanes, called after its place.

    >>> new_table("North Field")
    {'id': 'north-field', 'place': 'North Field', 'lanes': []}
    """
    return {"id": re.sub(r"[\W_]+", "-", place).strip("-").casefold() or place, "place": place, "lanes": []}


def with_lane(table: Table, lane: Table, instead_of: str = "") -> dict[str, Any]:
    """The table with one more lane, or with it in the place of another, which is named by its number.

    >>> with_lane({"lanes": [{"number": 1}]}, {"number": 2})["lanes"]
    [{'number': 1}, {'number': 2}]
    """
    lanes = list(table.get("lanes", ()))
    places = [at for at, one in enumerate(lanes) if instead_of and str(one.get("number")) == instead_of]
    if places:
        lanes[places[0]] = dict(lane)
    else:
        lanes.append(dict(lane))
    return {**table, "lanes": lanes}


def without_lane(table: Table, number: str) -> dict[str, Any]:
    """The table without a lane; who shared its flow shares it no more.

    >>> without_lane({"lanes": [{"number": 1}, {"number": 2, "shared_with": [1]}]}, "1")["lanes"]
    [{'number': 2}]
    """
    left = []
    for one in table.get("lanes", ()):
        if str(one.get("number")) == number:
            continue
        shares = one.get("shared_with", [])
        others = [each for each in (shares if isinstance(shares, list) else [shares]) if str(each) != number]
        left.append({key: value for key, value in one.items() if key != "shared_with"})
        if others:
            left[-1]["shared_with"] = others
    return {**table, "lanes": left}


def allowed_of(table: Table) -> dict[str, str]:
    """What licence, tariff and daylight allow, each as it is typed; '' where nothing is said, and m3 where no unit is.

    >>> allowed_of({"dark": {"from": "21:30", "until": "05:00"}})["dark"]
    '21:30-05:00'
    """
    found = {}
    for name in ALLOWED:
        section, _dot, key = name.partition(".")
        said = table.get(section, {})
        value = [said[one] for one in ("from", "until") if one in said] if not key else said.get(key, "")
        text = "-".join(map(str, value)) if isinstance(value, list) else str(value)
        found[name] = f"{text} m3" if isinstance(value, (int, float)) else text
    return found


def with_allowed(table: Table, typed: Mapping[str, str]) -> dict[str, Any]:
    """The table with other hours, licence and times of moves; what is '' is said no more."""
    sections: dict[str, dict[str, Any]] = {}
    for name in ALLOWED:
        section, _dot, key = name.partition(".")
        text = typed.get(name, "").strip()
        said = sections.setdefault(section, {})
        if not text:
            continue
        if key:
            said[key] = text
        else:
            said.update(zip(("from", "until"), UNTIL.split(text, maxsplit=1), strict=False))
    rest = {key: value for key, value in table.items() if key not in sections}
    return {**rest, **{name: said for name, said in sections.items() if said}}


def key_of(problem: str) -> tuple[str, str]:
    """What a problem of `read_field` is about, and what is wrong: a key of a lane, or a section with its key.

    >>> key_of("lanes[3].length: 320 without a unit"), key_of("licence.hours: from and until are the same")
    (('length', '320 without a unit'), ('licence.hours', 'from and until are the same'))
    """
    key, _colon, why = problem.partition(": ")
    if key.startswith("lanes["):
        return key.rpartition(".")[2], why
    return ("dark" if key.startswith("dark") else key), why

"""A machine's card as TOML, in the form in which it is added and revised (TOML 1.0.0)."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

_BARE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-")


def to_toml(card: Mapping[str, Any]) -> str:
    """The card as a TOML document that reads as the very same table.

    >>> print(to_toml({"tag": "R1", "hose": {"length": "400 m"}}))
    tag = "R1"
    <BLANKLINE>
    [hose]
    length = "400 m"
    <BLANKLINE>
    """
    top = {key: value for key, value in card.items() if not isinstance(value, Mapping)}
    first = [key for key in ("tag", "name", "place") if key in top]
    lines = [*_lines({key: top[key] for key in dict.fromkeys((*first, *top))})]
    for key, value in card.items():
        if isinstance(value, Mapping):
            lines += ["", f"[{_key(key)}]", *_lines(value)]
    return "\n".join(lines) + "\n"


def _lines(table: Mapping[str, Any]) -> Iterator[str]:
    return (f"{_key(key)} = {_value(value)}" for key, value in table.items())


def _key(key: str) -> str:
    return key if key and _BARE.issuperset(key) else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, str):
        # a basic string of TOML has the escapes of JSON, but for the sign DEL, which must be escaped
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(_lines(value))} }}"
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value)


def flat(table: Mapping[str, Any], before: str = "") -> dict[str, str]:
    """Every value of a card by its dotted key, yes and no as the file says them.

    >>> flat({"tag": "R1", "hose": {"length": "400 m"}, "drum": {"brake": True}})
    {'tag': 'R1', 'hose.length': '400 m', 'drum.brake': 'true'}
    """
    found: dict[str, str] = {}
    for key, value in table.items():
        if isinstance(value, Mapping):
            found |= flat(value, f"{before}{key}.")
        else:
            found[f"{before}{key}"] = str(value).lower() if isinstance(value, bool) else str(value)
    return found


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """What another card changes: the key, what it said and what it says; '' where nothing.

    >>> list(differences({"tag": "R1", "place": "Yard"}, {"tag": "R1", "name": "Reed"}))
    [('place', 'Yard', ''), ('name', '', 'Reed')]
    """
    old, new = flat(before), flat(after)
    for key in dict.fromkeys((*old, *new)):
        if old.get(key, "") != new.get(key, ""):
            yield key, old.get(key, ""), new.get(key, "")

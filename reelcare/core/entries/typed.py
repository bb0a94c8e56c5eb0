"""An entry as people typed it, made fit to keep: every text in it clean (`clean.py`) and none longer than is meant,
every moment in UTC."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from reelcare.core.clean import clean
from reelcare.core.entries import EntryError, Kind, fields_of, kept
from reelcare.core.text import _

LONGEST_NAME = 80
LONGEST_TEXT = 4000
_NAMES = {"tag", "name", "place", "part", "operator", "item", "role", "counter", "title"}


def cleaned(what: Kind) -> Kind:
    """The same entry with every text in it clean and every moment as it is kept. Raises EntryError where a text is too
    long to be meant."""
    changes: dict[str, Any] = {}
    for one in fields_of(type(what)):
        name, value = one.name, getattr(what, one.name)
        if type(value) is str and _is_ordinary(value):
            continue
        if isinstance(value, datetime):
            if kept(value) is not value:
                changes[name] = kept(value)
            continue
        new = _clean_any(value, name)
        if new != value:
            changes[name] = new
    return replace(what, **changes) if changes else what  # type: ignore[type-var]


def _is_ordinary(text: str) -> bool:
    """Whether a text is clean and of no more than a name's length, as most are."""
    return len(text) <= LONGEST_NAME and text.isascii() and text.isprintable() and text == text.strip()


def _clean_any(value: Any, where: str) -> Any:
    if isinstance(value, str):
        text = clean(value, lines=where not in _NAMES)
        longest = LONGEST_NAME if where in _NAMES else LONGEST_TEXT
        if len(text) > longest:
            raise EntryError(_(
                "{where}: {n} characters; at most {longest} are kept, so shorten it",
                where=where, n=len(text), longest=longest,
            ))  # fmt: skip
        return text
    if isinstance(value, dict):
        return {clean(str(key)): _clean_any(part, str(key)) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return type(value)(_clean_any(part, where) for part in value)
    return value

"""What people type, made fit to keep: composed, without characters that steer a terminal or hide.

The rules of this file: nothing is interpreted. Control, bidirectional and zero-width characters and lone
surrogates become U+FFFD, so that it stays visible that something stood there; line ends are kept in notes.
"""

from __future__ import annotations

import unicodedata
from dataclasses import fields, replace
from datetime import datetime
from typing import Any

from reelcare.core.entries import EntryError, What

LONGEST_NAME = 80
LONGEST_TEXT = 4000
_STEERING = {"Cc", "Cs", "Co", "Cn"}
_HIDDEN = set("​‌‎‏‪‫‬‭‮⁠⁦⁧⁨⁩﻿؜᠎\u2028\u2029")
_NAMES = {"tag", "name", "place", "part", "operator", "item", "role", "counter", "title"}


def clean(text: str, *, lines: bool = False) -> str:
    """`text` in composed form (NFC), trimmed, with what steers or hides replaced by U+FFFD.

    >>> clean("  Wei\\u200bde \\x1b[2J ")
    'Wei�de �[2J'
    """
    if text.isascii() and text.isprintable():
        return text.strip()
    kept = []
    for sign in unicodedata.normalize("NFC", text.replace("\r\n", "\n")):
        if sign in "\n\t" and lines:
            kept.append(sign)
        elif sign in "\n\t":
            kept.append(" ")
        elif unicodedata.category(sign) in _STEERING or sign in _HIDDEN:
            kept.append("�")
        else:
            kept.append(sign)
    return "".join(kept).strip()


def cleaned(what: What) -> What:
    """The same entry with every text in it clean. Raises EntryError where a text is too long to be meant."""
    changes: dict[str, Any] = {}
    for one in fields(what):  # type: ignore[arg-type]  # every kind is a dataclass
        value = getattr(what, one.name)
        if isinstance(value, datetime):
            continue
        new = _clean_any(value, one.name)
        if new != value:
            changes[one.name] = new
    return replace(what, **changes) if changes else what  # type: ignore[type-var]


def _clean_any(value: Any, where: str) -> Any:
    if isinstance(value, str):
        text = clean(value, lines=where not in _NAMES)
        longest = LONGEST_NAME if where in _NAMES else LONGEST_TEXT
        if len(text) > longest:
            raise EntryError(f"{where}: {len(text)} characters; at most {longest} are kept, so shorten it")
        return text
    if isinstance(value, dict):
        return {clean(str(key)): _clean_any(part, str(key)) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return type(value)(_clean_any(part, where) for part in value)
    return value

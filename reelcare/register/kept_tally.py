"""A tally beside the texts in which a register keeps it.

The rules of this file: the texts are the truth. Where a register has the very texts that are in hand, it has the tally
that is in hand, whoever wrote them; and a part of a tally that is the same value as before is written as before.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from reelcare.core.state import tally_plain
from reelcare.core.state.tally import Tally

_encoded = json.JSONEncoder(separators=(",", ":"), sort_keys=True, check_circular=False).encode


@dataclass(frozen=True, slots=True)
class KeptTally:
    """A tally, the texts that it and its card stand in, and the texts of its parts as far as they are in hand."""

    text: str
    card: str
    tally: Tally
    parts: Mapping[str, str]


def read(text: str, card: str, last: KeptTally | None) -> KeptTally:
    """The tally of these texts: the last one where it stands in the same."""
    if last is not None and last.text == text and last.card == card:
        return last
    return KeptTally(text, card, tally_plain.from_plain(json.loads(text), json.loads(card)), {})


def parts_of(tally: Tally, last: KeptTally | None = None) -> dict[str, str]:
    """The text of each part of a tally; those that are the last one's are not written out again."""
    before = last.parts if last is not None else {}
    return {
        name: before[name]
        if last is not None and name in before and getattr(tally, name) is getattr(last.tally, name)
        else _encoded(plain(getattr(tally, name)))
        for name, plain in tally_plain.PARTS.items()
    }


def text_of(parts: Mapping[str, str]) -> str:
    """The text of a tally, of its parts."""
    return "{" + ",".join(f'"{name}":{part}' for name, part in parts.items()) + "}"

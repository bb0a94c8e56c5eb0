"""Signs: one for each state, each of its own shape, and all of them in plain ASCII as well.

The rules of this file: a state is always shown by sign and word together, so that neither colour nor shape
alone carries it. Two states never share a sign, in either form.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from functools import lru_cache
from typing import Literal

from reelcare.core.wording import cells

Tone = Literal["good", "warning", "bad", "soft", "faint", "part"]
"""How loud a state is; a face gives each its colour."""

STATES: dict[str, tuple[str, Tone]] = {
    # a machine's standing
    "clear": ("○", "good"),
    "check due": ("◊", "warning"),
    "held": ("■", "bad"),
    # an item's
    "overdue": ("▲", "bad"),
    "due": ("►", "warning"),
    "soon": ("≈", "soft"),
    "ok": ("·", "faint"),
    # what nobody has seen yet
    "unknown": ("?", "soft"),
    # an answer's
    "right": ("✓", "good"),
    "wrong": ("✗", "bad"),
    "noted": ("¬", "soft"),
    "unreadable": ("¿", "warning"),
    # a check's
    "passed": ("●", "good"),
    "open": ("◦", "soft"),
    # a signal's
    "steady": ("=", "good"),
    "learning": ("…", "faint"),
    "drifting": ("~", "warning"),
    # a fault's
    "repaired": ("◄", "soft"),
    "re-tested": ("«", "soft"),
    "released": ("»", "good"),
    # the part that the present question is about
    "lit": ("◆", "part"),
    # where a person stands on the walk
    "here": ("◉", "part"),
}
"""Each state's sign and tone."""

ASCII_FORM: dict[str, str] = {
    "○": "o", "◊": "*", "■": "#", "▲": "!", "►": ">", "≈": "z", "·": ".", "◆": "@", "✓": "y", "✗": "x",
    "¬": "n", "¿": "&", "●": "0", "◦": "c", "…": ":", "◄": "<", "«": "(", "»": ")", "◉": "Q",
    "◎": "O", "◌": ".", "•": "o", "∙": ".", "˙": "'", "¨": '"', "°": "o", "¤": "*", "▼": "v", "▾": "v",
    "▴": "^", "▸": ">", "◂": "<", "△": "^", "▽": "v", "▷": ">", "◁": "<", "□": "U", "▪": "#", "▫": "o",
    "╱": "/", "╲": "\\", "╳": "X", "−": "-", "–": "-", "—": "-", "×": "x", "↵": "/", "←": "<",
    "→": ">", "↑": "^", "↓": "v", "↗": "/", "²": "2", "³": "3", "½": "h", "±": "~", "‘": "'", "’": "'",
    "“": '"', "”": '"', "¡": "!", "�": "?",
    # the drawings
    "⊙": "8", "⊗": "x", "⊕": "O", "⊘": "g", "∘": ",", "◇": "D", "▣": "#", "⊥": "T",
    # shades and part blocks, most first
    "█": "#", "▓": "#", "▒": "%", "░": ":", "▇": "#", "▆": "#", "▅": "=", "▄": "=", "▃": "-", "▂": "_",
    "▁": "_", "▀": '"', "▔": "-", "▉": "#", "▊": "#", "▋": "#", "▌": "|", "▍": "|", "▎": "|", "▏": "|",
    "▐": "|", "▕": "|", "▖": ".", "▗": ".", "▘": "'", "▝": "'", "▚": "\\", "▞": "/", "▙": "#", "▛": "#",
    "▜": "#", "▟": "#",
}  # fmt: skip
"""Signs of ours in plain ASCII, one for one."""


@lru_cache(4096)
def ascii_form(text: str, width: Callable[[str], int] = cells) -> str:
    """`text` in ASCII, as wide as before: ours by their form, letters without accents, the rest as `?`.

    >>> ascii_form("╭─ Cañón ○ 水")
    '+- Canon o ??'
    """
    return text if text.isascii() else "".join(_ascii(one, width) for one in text)


@lru_cache(4096)
def _ascii(one: str, width: Callable[[str], int]) -> str:
    if one.isascii():
        return one
    wide = width(one)
    if wide <= 0:
        return ""
    if one in ASCII_FORM:
        return ASCII_FORM[one]
    if "\u2500" <= one <= "\u257f":
        return _line_drawn(one)
    bare = unicodedata.normalize("NFKD", one)[0]
    return bare if bare.isascii() and bare.isprintable() and wide == 1 else "?" * wide


def _line_drawn(one: str) -> str:
    name = unicodedata.name(one)
    sides = {side for side in ("UP", "DOWN", "LEFT", "RIGHT") if side in name}
    if "VERTICAL" in name:
        return "+" if "HORIZONTAL" in name or sides & {"LEFT", "RIGHT"} else "|"
    if "HORIZONTAL" in name:
        return "+" if sides & {"UP", "DOWN"} else "=" if "DOUBLE" in name else "-"
    if sides & {"UP", "DOWN"}:
        return "+" if sides & {"LEFT", "RIGHT"} else "|"
    return "-"

"""How many cells a sign takes, where all terminals agree.

They agree on letters, figures and drawn signs of one cell, on the ideographs, kana and hangul syllables that take two
(Unicode Standard Annex 11), and on the marks of the combining blocks that go onto the sign before. On emoji, on signs
that are joined, on letters that Unicode got lately and on what is no sign at all they do not: those have no width here.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_MARKS = ((0x0300, 0x034E), (0x0350, 0x036F), (0x1DC4, 0x1DCF), (0x20D0, 0x20DC))
_WIDE = ((0x3001, 0x3029), (0x3041, 0x3096), (0x30A1, 0x30FA), (0x4E00, 0x9FA5), (0xAC00, 0xD7A3), (0xFF01, 0xFF60))
_NARROW = (
    (0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0x02FF), (0x0370, 0x0482), (0x048A, 0x052F), (0x1E00, 0x1FFF), (0x2010, 0x2027),
    (0x2030, 0x205E), (0x2070, 0x20AF), (0x2100, 0x218F), (0x2190, 0x21FF), (0x2200, 0x22FF), (0x2500, 0x25FC),
    (0x25FF, 0x25FF), (0x2800, 0x28FF),
)  # fmt: skip
"""Latin, Greek and Cyrillic letters, and the punctuation, arrows and drawn signs that the screens use."""


@lru_cache(maxsize=4096)
def width(sign: str) -> int | None:
    """Cells of a sign: 1, 2, or 0 for a mark on the sign before; None where terminals differ.

    >>> [width(sign) for sign in ("a", "水", chr(0x301), "😀")]
    [1, 2, 0, None]
    """
    for ranges, cells, kinds in ((_NARROW, 1, "LNPSZ"), (_WIDE, 2, "LNPS"), (_MARKS, 0, "M")):
        if any(first <= ord(sign) <= last for first, last in ranges):
            return cells if unicodedata.category(sign)[0] in kinds else None
    return None


@lru_cache(maxsize=4096)
def is_narrow(text: str) -> bool:
    """Whether every sign of a text takes one cell; asked for once for all of it, because most texts come again.

    >>> is_narrow("Heron —"), is_narrow("水")
    (True, False)
    """
    return all(width(sign) == 1 for sign in text)


def may_join(sign: str) -> bool:
    """Whether a terminal may draw it onto the sign before: marks, joiners and selectors."""
    return unicodedata.category(sign)[0] in "MC"

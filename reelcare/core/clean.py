"""One text made fit to keep: composed, without characters that steer a terminal or hide.

The rules of this file: nothing is interpreted. Control, bidirectional and zero-width characters and lone surrogates
become U+FFFD, so that it stays visible that something stood there; line ends are kept in notes.
"""

from __future__ import annotations

import unicodedata

_STEERING = {"Cc", "Cs", "Co", "Cn"}
_HIDDEN = set("​‌‎‏‪‫‬‭‮⁠⁦⁧⁨⁩﻿؜᠎\u2028\u2029")


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

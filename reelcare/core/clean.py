"""One text made fit to keep, or to print: composed, without characters that steer a terminal or hide.

The rules of this file: nothing is interpreted. Control, bidirectional and zero-width characters and lone surrogates
become U+FFFD, so that it stays visible that something stood there; line ends are kept in notes. Before that, bytes that
a locale without UTF-8 could only hand on as surrogates (PEP 383) are read as the UTF-8 that they are.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

Has = Callable[[str], bool]
"""Whether a font has a sign."""
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
    text = from_locale_bytes(text)
    for sign in unicodedata.normalize("NFC", text.replace("\r\n", "\n")):
        if sign in "\n\t" and lines:
            kept.append(sign)
        elif sign in "\n\t":
            kept.append(" ")
        elif _steers(sign):
            kept.append("�")
        else:
            kept.append(sign)
    return "".join(kept).strip()


def unclean(text: str, *, lines: bool = False) -> str:
    """The first character of a text that steers a terminal or hides, by its code point; '' where none does. One that
    only a newer Unicode knows is none of these: another computer let it in as the letter or sign that it is there.

    >>> unclean("a\\u202eb"), unclean("a\\nb"), unclean("a\\nb", lines=True), unclean("a\\u0378b")
    ('U+202E', 'U+000A', '', '')
    """
    if text.isascii() and text.isprintable():
        return ""
    allowed = "\n\t" if lines else ""
    return next(
        (f"U+{ord(sign):04X}" for sign in text if sign not in allowed and _steers(sign) and not _is_newer(sign)), ""
    )


def _steers(sign: str) -> bool:
    return unicodedata.category(sign) in _STEERING or sign in _HIDDEN


def _is_newer(sign: str) -> bool:
    """Whether this Python's Unicode does not know a character, and a newer one may."""
    code = ord(sign)
    is_never_one = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    return unicodedata.category(sign) == "Cn" and not is_never_one


def escaped(text: str) -> str:
    """JSON text in which what steers a terminal or hides stands as its number: it says the same to a program.

    >>> escaped('"a\u202eb"')
    '"a\\\\u202eb"'
    """
    if text.isascii():
        return text
    return "".join(_number(sign) if ord(sign) > 126 and _steers(sign) else sign for sign in text)


def _number(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4))


def from_locale_bytes(text: str) -> str:
    """Decode as UTF-8 the bytes that a locale without UTF-8 could only pass on as surrogates (PEP 383). Any other text
    comes back as it is.

    >>> from_locale_bytes("\\udcc5\\udc81ukasz"), from_locale_bytes("\\udcff") == "\\udcff"
    ('Łukasz', True)
    """
    try:
        return text.encode("utf-8", "surrogateescape").decode("utf-8")
    except UnicodeError:
        return text


def printable(text: str, has: Has) -> str:
    """A text in the signs that a font has: what it has not is written in another way, so that nothing is left out.

    >>> printable("5 ㎥ 水", str.isascii)
    '5 m3 [U+6C34]'
    """
    return "".join(sign if has(sign) else _spelt(sign, has) for sign in clean(text, lines=True))


def _spelt(sign: str, has: Has) -> str:
    """A sign that a font has not, by others: taken apart, without its accent, or else by its number in Unicode."""
    apart = unicodedata.normalize("NFKD", sign)
    for other in (apart, "".join(one for one in apart if not unicodedata.combining(one))):
        if other and all(map(has, other)):
            return other
    return f"[U+{ord(sign):04X}]"

"""UUIDv7 (RFC 9562, section 5.7): ids that sort by time and never clash between terminals."""

from __future__ import annotations

import os
from collections.abc import Callable


class Ids:
    """Makes UUIDv7 text, each greater than the one before even within one millisecond."""

    def __init__(self, entropy: Callable[[int], bytes] = os.urandom) -> None:
        self._entropy = entropy
        self._last = (0, 0)

    def next(self, milliseconds: int) -> str:
        """The next id, for a moment in milliseconds since 1970.

        >>> first, second = Ids().next(5), Ids().next(6)
        >>> first < second, first[14]
        (True, '7')
        """
        moment, tail = self._last
        if milliseconds > moment:
            # the top bit stays clear, so that there is room to count up within the millisecond
            moment, tail = milliseconds, int.from_bytes(self._entropy(10), "big") & ((1 << 73) - 1)
        else:
            tail += 1
        self._last = (moment, tail)
        number = (moment << 80) | (0x7 << 76) | ((tail >> 62) << 64) | (0b10 << 62) | (tail & ((1 << 62) - 1))
        text = f"{number:032x}"
        return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"

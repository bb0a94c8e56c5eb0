"""Reads the values of a plain table and collects what is wrong with them: every problem at once, with its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reelcare.core.machine.card import NEEDS, is_need
from reelcare.core.text import _
from reelcare.core.wording import did_you_mean


class TableReader:
    """Reads tables. `where` is the place of a table, '' for the whole. A value that is wrong is noted, and read as if
    it were not there."""

    def __init__(self) -> None:
        self.problems: list[str] = []

    def wrong(self, where: str, what: str) -> None:
        """Note what is wrong at a place."""
        self.problems.append(_("{where}: {what}", where=where, what=what))

    def keys(self, table: Mapping[str, Any], known: Sequence[str], where: str) -> None:
        """Note the keys that are not known."""
        for key in table:
            if key not in known:
                near = did_you_mean(key, known)
                self.problems.append(_("{key}: not known{near}", key=_place(where, key), near=near))

    def text(self, table: Mapping[str, Any], key: str, where: str, *, needed: bool = False) -> str:
        """A text, '' where it is not there."""
        value = table.get(key, "")
        if not isinstance(value, str) or (needed and not value):
            self.wrong(_place(where, key), _("missing") if key not in table else _("must be a text"))
            return ""
        return value

    def texts(self, table: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
        """A list of texts."""
        value = table.get(key, ())
        if not isinstance(value, (list, tuple)) or not all(isinstance(one, str) for one in value):
            self.wrong(_place(where, key), _("must be a list of texts"))
            return ()
        return tuple(value)

    def needs(self, table: Mapping[str, Any], where: str) -> tuple[str, ...]:
        """The equipment that something needs, in the words that a card can answer."""
        found = self.texts(table, "needs", where)
        for one in found:
            if not is_need(one):
                known = ", ".join(NEEDS)
                self.wrong(_place(where, "needs"), _("{one!r} is not known; choose from {needs}", one=one, needs=known))
        return found

    def flag(self, table: Mapping[str, Any], key: str, where: str) -> bool:
        """True or false."""
        value = table.get(key, False)
        if not isinstance(value, bool):
            self.wrong(_place(where, key), _("must be true or false"))
            return False
        return value


def _place(where: str, key: str) -> str:
    return f"{where}.{key}" if where else key

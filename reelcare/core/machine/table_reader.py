"""Reads the values of a plain table and collects what is wrong with them: every problem at once, with its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Self

from reelcare.core.machine.card import NEEDS, is_need
from reelcare.core.text import _
from reelcare.core.wording import did_you_mean


class TableReader:
    """Reads a table at its place, '' for the whole, and those inside of it. A value that is wrong is noted, and read as
    if it were not there; all that read a part of one table note into one list."""

    def __init__(self, table: Mapping[str, Any], where: str = "", problems: list[str] | None = None) -> None:
        self.table, self.where = table, where
        self.problems: list[str] = [] if problems is None else problems

    def at(self, table: Mapping[str, Any], where: str) -> Self:
        """A reader of another table, or of the same by another name for its place."""
        return type(self)(table, where, self.problems)

    def place(self, key: str) -> str:
        """The place of a key; of the table itself where that is ''."""
        return f"{self.where}.{key}" if self.where and key else self.where or key

    def wrong(self, key: str, what: str) -> None:
        """Note what is wrong with a key, or with the table itself where that is ''."""
        self.problems.append(_("{where}: {what}", where=self.place(key), what=what))

    def keys(self, known: Sequence[str]) -> None:
        """Note the keys that are not known."""
        for key in self.table:
            if key not in known:
                near = did_you_mean(key, known)
                self.problems.append(_("{key}: not known{near}", key=self.place(key), near=near))

    def text(self, key: str, *, needed: bool = False) -> str:
        """A text, '' where it is not there."""
        value = self.table.get(key, "")
        if not isinstance(value, str) or (needed and not value):
            self.wrong(key, _("missing") if key not in self.table else _("must be a text"))
            return ""
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.table.get(key, ())
        if not isinstance(value, (list, tuple)) or not all(isinstance(one, str) for one in value):
            self.wrong(key, _("must be a list of texts"))
            return ()
        return tuple(value)

    def needs(self) -> tuple[str, ...]:
        """The equipment that something needs, in the words that a card can answer."""
        found = self.texts("needs")
        for one in found:
            if not is_need(one):
                self.wrong("needs", _("{one!r} is not known; choose from {needs}", one=one, needs=", ".join(NEEDS)))
        return found

    def flag(self, key: str) -> bool:
        """True or false."""
        value = self.table.get(key, False)
        if not isinstance(value, bool):
            self.wrong(key, _("must be true or false"))
            return False
        return value

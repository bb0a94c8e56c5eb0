"""A machine by form: its card, line by line, to be added or revised.

The rules of this file: the card's own reader judges what is typed. What the form does not show (points of the pump's
curve, part numbers) stays as it is.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.machine.card import READERS, TOP, CardError, read_card
from reelcare.core.machine.card_toml import differences, flat
from reelcare.core.machine.card_words import CARD_WORDS
from reelcare.core.spreadsheet.cells import NO, YES
from reelcare.core.spreadsheet.columns import MACHINES
from reelcare.core.text import _, mark
from reelcare.tui.requests import ChangeMachine
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.widgets.typed_quantity import with_unit


class MachineForm(Form):
    """The card of a machine."""

    KEEP = mark("Sign and save")

    def __init__(self, request: ChangeMachine) -> None:
        super().__init__()
        self.machine_id = request.machine
        self.card: dict[str, Any] = {}
        """The card as the lines showed it at first."""

    def page(self) -> str:
        """Whether it is added or revised."""
        return _("Card: revise") if self.machine_id else _("A new machine")

    def before(self) -> Sequence[str]:
        """What an empty line means."""
        return (
            _("What is not known stays blank: it is asked for when something needs it. Arrows go through the lines."),
        )

    def form_lines(self) -> Sequence[FormField]:
        """Every particular."""
        self.card = self._newest()
        known = flat(self.card)
        return [
            FormField(line_of(key), _(words), _shown(known.get(key, "")), self._hint(key))
            for key, words in CARD_WORDS.items()
        ]

    def _newest(self) -> dict[str, Any]:
        """The card as it is kept now; an empty one of a new machine."""
        return copy.deepcopy(dict(self.register.state(self.machine_id).card)) if self.machine_id else {}

    def _hint(self, key: str) -> str:
        column, reader = MACHINES[key], (READERS.get(key) or TOP[key])
        if reader.known:
            return _("one of {words}", words=", ".join(reader.known))
        if column.reads == "quantity":
            return units.unit_for(column.quantity, self.preferences.system, reader.role)
        return {"flag": _("yes or no"), "day": "2019-04-01"}.get(column.reads, "")

    def _typed(self, key: str) -> Any:
        text, column = self.value(line_of(key)), MACHINES[key]
        low = text.casefold()
        if column.reads == "flag":
            return True if low in YES else False if low in NO else text
        if column.reads == "number":
            return self.figure(line_of(key))
        if column.reads == "quantity":
            system, role = self.preferences.system, READERS[key].role
            return self.read(line_of(key), lambda typed: with_unit(typed, column.quantity, system, role))
        return text

    def _card(self) -> dict[str, Any]:
        """The card as the lines say it; what somebody else has changed since this form was opened stays changed."""
        card, before = self._newest(), flat(self.card)
        for key in CARD_WORDS:
            room, _dot, name = key.partition(".")
            into = card.setdefault(room, {}) if name else card
            if self.value(line_of(key)) == _shown(before.get(key, "")):
                continue  # as it was, to the letter
            if self.value(line_of(key)):
                into[name or room] = self._typed(key)
            else:
                into.pop(name or room, None)
        return {key: value for key, value in card.items() if value != {}}

    def keep(self) -> bool:
        """Write the card down."""
        card, host, now = self._card(), self.host, self.now()
        if self.machine_id and not list(differences(self._newest(), card)):
            host.tell(_("Nothing was changed."))
            return True
        try:
            read_card(card)
        except CardError as why:
            key = why.problems[0].partition(":")[0]
            return self.wrong(why.problems[0], line_of(key) if key in CARD_WORDS else line_of("tag"))
        what = e.Carded(card=card)
        machine = self.machine_id or None
        kept = self.write(lambda: self.register.add(what, machine=machine, by=host.person, now=now), line_of("tag"))
        if kept is not None:
            told = _("{tag} is revised", tag=card["tag"]) if machine else _("{tag} is added", tag=card["tag"])
            others = ", ".join(self.register.renamed(str(card["tag"]))) if not machine else ""
            if others:
                told += ". " + _("{others} had the tag {tag} before: this is another machine", others=others,
                                 tag=card["tag"])  # fmt: skip
            host.tell(told)
        return kept is not None


def line_of(key: str) -> str:
    """The id of the line of a key."""
    return key.replace(".", "--")


def _shown(text: str) -> str:
    """A kept value as it stands in its line."""
    return {"true": _("yes"), "false": _("no")}.get(text, text)

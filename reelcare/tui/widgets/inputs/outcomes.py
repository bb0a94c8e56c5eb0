"""How something ended, chosen by a letter and asked last: choosing writes nothing, Enter after it does.

The rules of this file: a word typed here by mistake chooses nothing. A letter that is no key takes the choice back,
and letters do nothing more until the cursor moves.
"""

from __future__ import annotations

from textual import events
from textual.message import Message

from reelcare.core.text import mark
from reelcare.tui.widgets.inputs.checkbox import StrayLetter
from reelcare.tui.widgets.inputs.choice_list import ChoiceList


class Outcomes(ChoiceList):
    """Choices whose ids are their keys. Arrows go through them, and past the ends to the lines before and after."""

    BINDING_GROUP_TITLE = mark("Outcome")
    _strays = False

    class Confirmed(Message):
        """Enter was pressed on a choice that was made."""

    @property
    def keys(self) -> str:
        """The letters of the choices, in their order."""
        return "".join(one.id for one in self.choices)

    def on_focus(self) -> None:
        """Nothing is under the mark until it is moved there."""
        self._strays, self.here = False, -1

    def on_key(self, event: events.Key) -> None:
        """The letter of a choice chooses it; another takes the choice back."""
        letter = event.character if event.is_printable else None
        if letter is None:
            self._strays = False
            return
        if not self._strays and letter in self.keys:
            return  # the list of choices takes it
        event.prevent_default()
        if letter not in self.keys:
            self._strays = True
            self.give("")
            self.post_message(StrayLetter())
        else:
            event.stop()

    def action_move(self, by: int) -> None:
        """Move the mark, or leave for the line before or after."""
        to = self.here + by if self.here >= 0 else (0 if by > 0 else -1)
        if 0 <= to < len(self.choices):
            self.here = to
        elif by < 0:
            self.screen.focus_previous()
        else:
            self.screen.focus_next()

    def action_give(self) -> None:
        """Choose what is under the mark; where that is chosen, or nothing is under it, confirm what is chosen."""
        here = self.choices[self.here].id if 0 <= self.here < len(self.choices) else self.given
        if here and here == self.given:
            self.post_message(self.Confirmed())
        elif here:
            self.give(here)

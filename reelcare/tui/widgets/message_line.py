"""The message line of a screen: one line over the keys for what was done, what is asked, and what was not done.

The rules of this file: one message at a time, and nothing lies over anything else. What was done and what is asked stay
until the next key that does something; what was not done stays until another message takes its place, or until
another screen is worked on. The app holds the message, so that it outlives the screen that told it.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from textual.widgets import Static

from reelcare.tui.text import join

Tidings = Literal["done", "asks", "wrong"]
_SIGNS: dict[Tidings, tuple[str, str]] = {
    "done": ("✓", "$text-success"),
    "asks": ("►", "$text-accent"),
    "wrong": ("✗", "bold $text-error"),
}


class Notice(NamedTuple):
    """What is told: something done, something asked, or something that was not done and what to do about it."""

    kind: Tidings
    says: str


class MessageLine(Static):
    """The line over the keys; `tell` says what stands in it."""

    DEFAULT_CSS = """
    MessageLine { height: auto; min-height: 1; max-height: 4; padding: 0 1; }
    """

    def tell(self, notice: Notice | None) -> None:
        """Show a message, or none."""
        if notice is None:
            self.update("")
            return
        sign, style = _SIGNS[notice.kind]
        self.update(join((f"{sign} ", style), (notice.says, style if notice.kind == "wrong" else "")))

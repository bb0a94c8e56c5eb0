"""The keys of a walk-round."""

from __future__ import annotations

from textual.binding import Binding, BindingType

from reelcare.core.text import mark

KEYS: list[BindingType] = [
    Binding(
        "enter", "begin", mark("Begin"), id="walk.begin", tooltip=mark("Begins this gate with its first question")
    ),
    Binding(
        "e", "paper", mark("From paper"), id="walk.paper",
        tooltip=mark("Enters a check that was filled in on paper at the machine, as one form"),
    ),
    Binding(
        "s", "sign", mark("Sign"), id="walk.sign",
        tooltip=mark("Signs the gate, or the check as complete, when all is answered"),
    ),
    Binding(
        "pageup,left", "back", mark("Back"), id="walk.back", tooltip=mark("Previous question, to answer it again")
    ),
    Binding(
        "pagedown,right", "forward", mark("Forward"), show=False, id="walk.forward", tooltip=mark("Next question")
    ),
    Binding("n", "note", mark("Note"), id="walk.note", tooltip=mark("A note with the answer to this question")),
    Binding(
        "f", "fault", mark("Fault"), id="walk.fault",
        tooltip=mark("Notes a fault on this part without leaving the question"),
    ),
    Binding(
        "t", "steps", mark("Steps"), show=False, id="walk.steps",
        tooltip=mark("What may be done now, and why the rest may not"),
    ),
    Binding(
        "x", "give_up", mark("Give up"), id="walk.give_up", tooltip=mark("Gives this check up; asks for the reason")
    ),
    Binding(
        "escape", "leave", mark("Yard"), id="walk.leave", tooltip=mark("Back to the yard; the check stays open")
    ),
    Binding(
        "up", "scroll_text(-3)", mark("Up"), show=False, id="walk.up",
        tooltip=mark("The text of a long question, a few lines up"),
    ),
    Binding(
        "down", "scroll_text(3)", mark("Down"), show=False, id="walk.down",
        tooltip=mark("The text of a long question, a few lines down"),
    ),
]  # fmt: skip

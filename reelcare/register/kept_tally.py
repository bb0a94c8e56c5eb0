"""A state beside the text in which a register keeps it: where the text is the same, so is the state."""

from __future__ import annotations

from dataclasses import dataclass

from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain


@dataclass(frozen=True, slots=True)
class KeptTally:
    """A state, and the text that it stands in."""

    text: str
    tally: MachineState


def read(text: str, last: KeptTally | None) -> KeptTally:
    """The state of this text: the last one where it stands in the same."""
    return last if last is not None and last.text == text else KeptTally(text, from_plain(text))

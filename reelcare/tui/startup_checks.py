"""What is looked at once the app stands on the screen: the clock, the end of each chain, what opening has told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from reelcare.register.proof.corrections import clock_behind
from reelcare.register.proof.proving import prove_the_end
from reelcare.register.writing.writer import Writer

MOST = 2
"""Findings of the proof that are told; `reelcare prove` tells all."""


def warnings(register: Writer, now: datetime) -> Iterator[str]:
    """What is wrong, one sentence each: a clock behind the entries, a register that is not whole, a note of opening."""
    behind = clock_behind(register, now)
    if behind:
        yield f"This computer's clock is {behind} behind the last entry: set it right before you write."
    for one in prove_the_end(register)[:MOST]:
        yield f"NOT WHOLE. {one.place}: {one.what}. Run `reelcare prove`; `reelcare restore COPY` goes back to a copy."
    if register.warning:
        yield register.warning

"""What is looked at once the app stands on the screen: the clock, the end of each chain, what opening has told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from reelcare.core.text import _
from reelcare.register.proof.health import clock_behind
from reelcare.register.proof.proving import prove_the_end
from reelcare.register.reading.yard import judged, unproven_clear
from reelcare.register.writing.writer import Writer

MOST = 2
"""Findings of the proof that are told; `reelcare prove` tells all."""


def warnings(register: Writer, now: datetime) -> Iterator[str]:
    """What is wrong, one sentence each: a clock behind the entries, a register that is not whole, a note of opening."""
    behind = clock_behind(register, now)
    if behind:
        yield behind
    for one in prove_the_end(register)[:MOST]:
        yield _(
            "DAMAGED. {place}: {what}. Run `reelcare prove`; `reelcare restore COPY` goes back to a copy.",
            place=one.place,
            what=one.what,
        )
    machines = (one for one, _limits in judged(register, now))  # one after the other: no second list of a large yard
    for tag in unproven_clear(register, machines, now):
        yield _("DAMAGED. {tag}: shown as clear, but its entries do not say so. Run `reelcare rebuild`.", tag=tag)
    if register.warning:
        yield register.warning

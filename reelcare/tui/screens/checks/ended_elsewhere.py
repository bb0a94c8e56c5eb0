"""A check that another program has ended while it is shown here."""

from __future__ import annotations

from reelcare.core.text import _
from reelcare.register.acts import walk_rounds
from reelcare.register.acts.checks import Check
from reelcare.register.reading.reader import Reader


def ended_elsewhere(reader: Reader, here: Check) -> str:
    """What to say of a check that has ended since it was read; '' where it has not, or ended here."""
    if here.ended is not None or not here.is_written:
        return ""
    ended = walk_rounds.check(reader, here.id).ended
    if ended is None:
        return ""
    says = _("This check was ended by {by} at {at:%H:%M}: {how}.", by=ended.by or "-",
             at=ended.happened.astimezone(reader.zone), how=ended.what.describe())  # fmt: skip
    return says + " " + _("Nothing more of it is saved: Esc, then begin a new one (w).")

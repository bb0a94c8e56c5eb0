"""Cancelling an entry, and writing it again on the machine that was meant."""

from __future__ import annotations

from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.text import _
from reelcare.register.errors import Refused
from reelcare.register.writing.writer import Writer

MOVED = (e.Service, e.Run, e.Reading, e.Noted)
"""What can be moved to another machine: what stands for itself."""


def refuse_move(entry: e.Entry) -> None:
    """Raise Refused where what an entry is cannot be moved, to whatever machine."""
    if not isinstance(entry.what, MOVED):
        raise Refused(_("{kind}: only services, runs, readings and notes are moved", kind=_(entry.what.kind)))


def correct(
    register: Writer, entry: e.Entry, why: str, *, by: str, now: datetime, happened: datetime, move_to: str = ""
) -> e.Entry:
    """Cancel an entry and, with `move_to` (a machine's id), write it there with its day; all or nothing. Raises Refused
    or NotAllowed."""
    drafts = [e.Draft(what=e.Correction(entry=entry.id, why=why), machine=entry.machine, happened=happened)]
    if move_to:
        refuse_move(entry)
        if move_to == entry.machine:
            raise Refused(_("it is this machine's already"))
        drafts.append(e.Draft(what=entry.what, machine=move_to, happened=entry.happened))
    return register.append(drafts, by=by, now=now)[-1]

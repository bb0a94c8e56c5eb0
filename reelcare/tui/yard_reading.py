"""What the yard, the due list and the weeks show, read from the register: the one place that knows its questions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from reelcare.core import units
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _
from reelcare.register.errors import Refused
from reelcare.register.reading import yard
from reelcare.register.reading.reader import Reader
from reelcare.register.reading.yard import ListedMachine
from reelcare.register.views import fields

LARGE = 300
"""Machines beyond which forecasts are made beside the screen and not while one waits."""


def is_large(reader: Reader) -> bool:
    """Whether the yard is too large to wait for the forecasts of all machines."""
    return len(reader.machine_ids()) > LARGE


def machine(reader: Reader, id: str, now: datetime, language: str, system: units.System) -> MachineNow | None:
    """A machine as it stands now, without forecasts; None where it is gone."""
    try:
        return yard.machine_now(reader, id, now, forecasts=False, language=language, system=system)
    except Refused:
        return None


def next_lane(reader: Reader, machine: MachineNow, now: datetime) -> str:
    """The next lane of a machine in words; '' where its place has no field, or nothing can be planned."""
    if fields.of_card(reader, machine.card) is None:
        return ""
    from reelcare.register.views import night  # with all that sets are worked out by: the yard starts without it

    found = night.next_lane(reader, machine, now)
    if found is None:
        return ""
    lane, starts, ends = found
    begins, home = starts.strftime("%H:%M"), ends.strftime("%H:%M")
    return _("next: lane {lane}, hydrant {hydrant}, {starts} to {ends}", lane=lane.number, hydrant=lane.hydrant,
             starts=begins, ends=home)  # fmt: skip


def find(text: str, among: Sequence[ListedMachine], start: int) -> int | None:
    """The first machine that is meant by a text, from a row on and then from the top."""
    found = yard.find(text, among, start)
    return yard.find(text, among, 0) if found is None and start > 0 else found

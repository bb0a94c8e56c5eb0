"""What stands in the work list beside services and faults, for the supervisor alone: near misses, runs of held
machines, and instruction that runs out.

The rules of this file: it stays until it is dealt with; where it is of no machine, it leads to the page of people.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from reelcare.core import entries as e
from reelcare.core.scales import left_of
from reelcare.core.text import _, mark
from reelcare.register.views.due_list import WorkList, instruction_in_words, near_miss_in_words, note_in_words
from reelcare.tui import requests
from reelcare.tui.base import BaseScreen
from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.rows import Cell


class SupervisorLine(NamedTuple):
    """One thing that is told: in full, in columns, and what it is of: a machine with a note, or a person ('', '')."""

    words: str
    state: str
    tag: str
    what: str
    place: str = ""
    due_at: str = ""
    left: str = ""
    machine: str = ""
    note: str = ""

    def cells(self) -> Mapping[str, Cell]:
        """Its cells, by the heads of the list."""
        return {
            "state": Cell(state(self.state), TONES[self.state]), "machine": Cell(self.tag, "part"),
            "what": Cell(self.what), "due at": Cell(self.due_at), "left": Cell(self.left), "place": Cell(self.place),
        }  # fmt: skip


def supervisor_lines(found: WorkList, tags: Mapping[str, str]) -> list[SupervisorLine]:
    """What is told the supervisor, near misses first."""
    misses = [
        SupervisorLine(
            near_miss_in_words(one, note),
            "noted",
            one.tag,
            note_in_words(note),
            one.place,
            machine=one.id,
            note=note.id,
        )
        for one, note in found.near_misses
    ]
    return misses + [
        SupervisorLine(
            instruction_in_words(one, tags), "overdue" if one.left < 0 else "soon", tags.get(one.machine, ""),
            _("instruction of {name}", name=one.person), due_at=one.until.isoformat(), left=left_of("date", one.left),
        )
        for one in found.instructions
    ]  # fmt: skip


async def deal_with(screen: BaseScreen, one: SupervisorLine) -> bool:
    """Say that a near miss is dealt with, or open the page of people, where instruction is noted; whether anything was
    written. Only in a worker."""
    if not one.note:
        screen.open(requests.OpenPeople())
        return False
    asks = requests.AskYesNo(_("Is it dealt with?"), (one.words,), mark("dealt with"), mark("leave it in the list"))
    host = screen.host
    if not await screen.ask(asks) or not await host.may_write(e.NearMissRead.kind):
        return False
    what, now = e.NearMissRead(note=one.note), screen.now()
    if host.write(lambda: screen.register.add(what, machine=one.machine, by=host.person, now=now)) is None:
        return False
    host.tell(_("{tag}: dealt with", tag=one.tag))
    return True

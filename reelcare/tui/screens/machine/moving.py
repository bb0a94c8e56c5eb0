"""Bringing a machine to another place: two keys where the place is known, a word where it is new."""

from __future__ import annotations

from reelcare.core import entries as e
from reelcare.core.text import _
from reelcare.register.reading.reader import Reader
from reelcare.register.views import due_list, fields
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskChoice, AskText
from reelcare.tui.widgets.inputs.dialogs import LETTERS


def _fields(reader: Reader) -> set[str]:
    """The places of the fields: a machine that is brought to the first lane of one finds its lanes by this name."""
    return {one.field.place for one in fields.all_of(reader).values() if one.field.place}


async def move(screen: BaseScreen, machine: str, tag: str, place: str) -> bool:
    """Ask where a machine stands now, and write it down; whether it was moved. Only in a worker."""
    host = screen.host
    if not await host.may_write(e.Moved.kind):
        return False
    known = {*due_list.places_of(host.register, host.now()), *_fields(host.register)}
    places = sorted(known - {place})[: len(LETTERS) - 1]
    title = _("Where is {tag} now?", tag=tag)
    number = await host.ask(AskChoice(title, (*places, _("another place"))))
    if number is None:
        return False
    there = places[number] if number < len(places) else await host.ask(AskText(title))
    if not there:
        return False
    kept = screen.record(e.Moved(place=there), machine)
    if kept is not None:
        host.tell(_("{tag} is at {place} now", tag=tag, place=there))
    return kept is not None

"""Lists that draw from the work list and are asked for one place, one part or one person: each by a key that goes from
one to the next, then to all.

The rules of this file: what is asked for stands in the head, and the lists that are opened from here begin with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reelcare.core.parts import PARTS
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import DueFilter
from reelcare.core.text import _
from reelcare.tui.lists import GatheringScreen


class FilteredScreen(GatheringScreen):
    """A list of which a part is shown."""

    place = ""
    part = ""
    person = ""

    def in_time(self) -> Sequence[DueLine]:
        """The lines of the time that is shown, whatever else is asked for."""
        raise NotImplementedError

    def apply_filter(self) -> None:
        """Show what is asked for."""
        raise NotImplementedError

    @property
    def wanted(self) -> DueFilter:
        """What is asked for, whatever the time."""
        return DueFilter(place=self.place, part=self.part, person=self.person)

    def asked(self, time: str) -> str:
        """What is asked for and of which time, in words; what is not asked for is not said, but for the places."""
        person = _("for {name}", name=self.person) if self.person else ""
        told = (person, _(self.part) if self.part else "", self.place or _("all places"), time)
        return ", ".join(one for one in told if one)

    def action_place(self) -> None:
        """The next place at which something is due, then all."""
        places = sorted({line.place for line in self.in_time() if line.place})
        if not places and not self.place:
            self.host.tell(_("Nothing to do in this time."), bad=True)
        self.place, self.part = _next(places, self.place), ""
        self.apply_filter()

    def action_part(self) -> None:
        """The next part of which something is due at this place, then all."""
        shown = {line.item.part for line in self.in_time() if self.place in ("", line.place)}
        if not shown and not self.part:
            self.host.tell(_("Nothing to do in this time."), bad=True)
        self.part = _next((part for part in PARTS if part in shown), self.part)
        self.apply_filter()

    def action_person(self) -> None:
        """The next person to whom lines are given, who is there first; then all."""
        given = sorted({line.given.to for line in self.in_time() if line.given is not None})
        if not given and not self.person:
            self.host.tell(_("Nothing is given to anybody yet: g in the work list gives lines."), bad=True)
            return
        given.sort(key=lambda name: name != self.host.person)
        self.person = _next(given, self.person)
        self.apply_filter()


def _next(choices: Iterable[str], now: str) -> str:
    """The choice after this one; '', which is all, after the last."""
    every = ["", *choices]
    place = every.index(now) if now in every else -1
    return every[(place + 1) % len(every)]

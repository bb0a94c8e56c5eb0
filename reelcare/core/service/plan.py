"""The service plan: what is done to a machine, how often, and how.

The rules of this file: intervals are kept exactly, in seconds, millimetres, runs and months. A plan that comes
into force later never changes what was due before. A plan is read from its table, and made one again, in
`plan_table.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from reelcare.core.machine.card import Card
from reelcare.core.wording import Title, Words, said, short_of

Anchor = Literal["", "done", "calendar"]


class Interval(NamedTuple):
    """How much may pass: whichever of these comes first. None where it does not count."""

    seconds: int | None = None
    millimetres: int | None = None
    runs: int | None = None
    months: int | None = None

    def over(self, other: Interval) -> Interval:
        """This interval, with the other's parts where this one has none."""
        return Interval(*(theirs if mine is None else mine for mine, theirs in zip(self, other, strict=True)))


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that is done to a machine again and again.

    `on` is the day that a calendar item stands on: "opens" or "closes" (of the card's season), or "MM-DD".
    `first_after_repair` says that the first interval runs once more, beside the usual one, after a repair of its
    part: wheel nuts one run after a wheel was off, a new chain after 20 h.
    """

    id: str
    what: Words
    every: Interval
    first: Interval | None = None
    grace: int = 10
    anchor: Anchor = ""
    on: str = ""
    first_after_repair: bool = False
    covers: tuple[str, ...] = ()
    part: str = ""
    stop: bool = False
    safety: bool = False
    done_by: str = ""
    steps: tuple[Words, ...] = ()
    cautions: tuple[Words, ...] = ()
    supplies: tuple[Words, ...] = ()
    minutes: int | None = None
    isolate: tuple[str, ...] = ()
    source: str = ""
    short: Words = field(default_factory=dict)
    needs: tuple[str, ...] = ()
    """The equipment without which the item is not for a machine, in the words of a question's `needs`."""
    was: tuple[str, ...] = ()
    """Items of former plans that did this work too: what was done under their ids counts until this one is done."""

    def is_for(self, card: Card) -> bool:
        """Whether a machine is asked for it: its card denies nothing that the item needs."""
        return card.has_all(self.needs)

    @property
    def each_time(self) -> bool:
        """Whether a check asks it before every run anyway: it is news only when that was left out."""
        return bool(self.done_by) and self.every.runs == 1

    def title(self, language: str = "en") -> Title:
        """What is done, in a language, else in English; and the short title of that language."""
        return Title(said(self.what, language), short_of(self.short, self.what, language))


@dataclass(frozen=True, slots=True)
class Plan:
    """A service plan."""

    id: str
    title: Words
    items: tuple[Item, ...] = ()
    source: str = ""
    split_off: tuple[Item, ...] = ()
    """Those of its items that were a part of others in former plans."""
    _by_id: Mapping[str, Item] = field(default_factory=dict, compare=False, repr=False)

    @classmethod
    def empty(cls) -> Plan:
        """The plan of a register that has none yet."""
        return cls("none", {"en": "no plan"})

    def item(self, id: str) -> Item | None:
        """The item of this id."""
        return self._by_id.get(id)

    def with_covered(self, *ids: str) -> list[Item]:
        """The items and all that they cover, through any number of steps, each once; nothing for one not here."""
        found = reached(ids, lambda id: self._by_id[id].covers if id in self._by_id else ())
        return [self._by_id[id] for id in found if id in self._by_id]


def reached(first: Iterable[str], covers: Callable[[str], Sequence[str]]) -> list[str]:
    """These items and all that they cover, through any number of steps, each once.

    >>> reached(["big"], {"big": ["small"], "small": ["least"], "least": []}.__getitem__)
    ['big', 'small', 'least']
    """
    waiting, found = list(first), dict[str, None]()
    while waiting:
        one = waiting.pop()
        if one not in found:
            found[one] = None
            waiting += covers(one)
    return list(found)

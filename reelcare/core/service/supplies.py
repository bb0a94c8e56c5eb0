"""What to take along for some lines of the work list: the supplies of the plan, and the part numbers of the cards."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from reelcare.core.machine.card import Card
from reelcare.core.service.due_line import DueLine
from reelcare.core.wording import said


def taken_along(lines: Iterable[DueLine], cards: Mapping[str, Card], language: str = "en") -> list[str]:
    """What to take along, each thing once, with how many lines need it, and for which machines where the card has part
    numbers of its own (by item)."""
    many = Counter[str]()
    for line in lines:
        card = cards.get(line.machine)
        number = card.parts.get(line.item.id, "") if card is not None else ""
        many.update(said(one, language) for one in line.item.supplies)
        if number:
            many[f"{number} ({line.tag}, {line.item.title(language).short})"] += 1
    return counted(many)


def counted(supplies: Mapping[str, int]) -> list[str]:
    """Each thing with how many of it are needed, where that is more than one.

    >>> counted({"grease": 2, "oil": 1})
    ['2 x grease', 'oil']
    """
    return [f"{many} x {what}" if many > 1 else what for what, many in supplies.items()]

"""What to take along for some lines of the work list: the supplies of the plan, and the part numbers of the cards."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from reelcare.core.machine.card import Card
from reelcare.core.service.due_line import DueLine
from reelcare.core.wording import said


def taken_along(lines: Iterable[DueLine], cards: Mapping[str, Card], language: str = "en") -> list[str]:
    """What to take along, each thing once, with how many lines need it, and for which machines where the card has part
    numbers of its own (by item)."""
    many: dict[str, int] = {}
    for line in lines:
        card = cards.get(line.machine)
        number = card.parts.get(line.item.id, "") if card is not None else ""
        for one in line.item.supplies:
            what = said(one, language)
            many[what] = many.get(what, 0) + 1
        if number:
            what = f"{number} ({line.tag}, {line.item.title(language).short})"
            many[what] = many.get(what, 0) + 1
    return [f"{number} x {what}" if number > 1 else what for what, number in many.items()]

"""The machine in plan on the screen, with the part in question lit."""

from __future__ import annotations

from collections.abc import Mapping

from textual.content import Content
from textual.widgets import Static

from reelcare.core.machine.card import Card
from reelcare.tui import drawing


class MachinePlan(Static):
    """Draws a machine for its own equipment; the lit part is reversed and marked by an arrow."""

    DEFAULT_CSS = """
    MachinePlan { width: 34; height: 19; padding: 0 1; color: $text-muted; }
    """

    def __init__(self, card: Card, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.card = card

    def light(self, part: str, positions: Mapping[str, str]) -> None:
        """Light one part ('' for none), with the positions as they are known now."""
        self.update(self._content(part, positions))

    def _content(self, lit: str, positions: Mapping[str, str]) -> Content:
        rows = []
        marked = False
        for row in drawing.grid(self.card, positions):
            pieces: list[tuple[str, str]] = []
            here = False
            for sign, part in row:
                style = "bold reverse $accent" if part == lit and lit else "$primary" if part == "hose" else ""
                here = here or (bool(lit) and part == lit)
                if pieces and pieces[-1][1] == style:
                    pieces[-1] = (pieces[-1][0] + sign, style)
                else:
                    pieces.append((sign, style))
            if here and not marked:
                marked = True
                text = "".join(piece for piece, _ in pieces).rstrip()
                pieces = _cut(pieces, min(len(text) + 1, drawing.WIDTH - 1))
                pieces.append(("◄", "bold $accent"))
            rows.append(Content.assemble(*pieces))
        place = drawing.PLACES.get(lit, "")
        name = Content.assemble((f"{lit}: " if lit else "", "bold $accent"), place)
        return Content("\n").join([*rows, name])


def _cut(pieces: list[tuple[str, str]], width: int) -> list[tuple[str, str]]:
    kept, used = [], 0
    for piece, style in pieces:
        part = piece[: max(width - used, 0)]
        kept.append((part, style))
        used += len(part)
    if used < width:
        kept.append((" " * (width - used), ""))
    return kept

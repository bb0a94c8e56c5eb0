"""How Reelcare looks: two themes of its own, and one word with one sign for each state.

The rules of this file: colour only helps. Every state is told by its word and its sign; both are legible in
one colour and in plain ASCII. Text stands on four grounds only (the ground, a field, a band, the chosen row), and
every colour that it is written in stands off each of them by 4.5 to 1 or more. Amber is only check due, due and
caution; brick only held, overdue and wrong; green only clear and right. Screens use the names of the theme's
colours, never a colour itself.
"""

from __future__ import annotations

import os
from typing import Any, NamedTuple

from textual.app import App
from textual.filter import Monochrome, NoColor
from textual.theme import Theme

from reelcare.core.drawing.signs import STATES
from reelcare.core.text import _
from reelcare.tui.text import NothingSteers, PlainSigns

DUSK, NOON = "reelcare-dusk", "reelcare-noon"


class Palette(NamedTuple):
    """The colours of one theme: four grounds that text stands on, and what it is written in."""

    ground: str
    field: str
    band: str
    chosen: str
    text: str
    strong: str
    faint: str
    accent: str
    """Keys, focus, the lit part, what can be acted on; the one accent, and no state."""
    held: str
    due: str
    clear: str
    line: str
    """Rules and scroll bars; no text."""


# Night over a field: wet earth, stubble, leaf, ripe grain, brick; water for what can be acted on.
DARK_INKS = Palette(
    ground="#171b17", field="#1e241e", band="#29312a", chosen="#1f3d37", text="#e4dfce", strong="#f4f0e0",
    faint="#a3a593", accent="#9ad4ca", held="#ea8a72", due="#e3b458", clear="#9cc274", line="#454f46",
)  # fmt: skip
# The same field at midday, on paper.
LIGHT_INKS = Palette(
    ground="#f5f1e4", field="#ece7d6", band="#e1dac4", chosen="#bcd6cd", text="#23261b", strong="#14170f",
    faint="#56574a", accent="#0f5650", held="#98281a", due="#7a4c00", clear="#2f5c1a", line="#b9b29a",
)  # fmt: skip


def _theme(name: str, inks: Palette, *, dark: bool) -> Theme:
    """The framework's theme of these colours; every name that it would make a mixed colour for has one of ours."""
    return Theme(
        name=name,
        dark=dark,
        primary=inks.accent,
        secondary=inks.text,
        accent=inks.accent,
        warning=inks.due,
        error=inks.held,
        success=inks.clear,
        foreground=inks.text,
        background=inks.ground,
        surface=inks.field,
        panel=inks.band,
        variables={
            "text-primary": inks.accent,
            "text-secondary": inks.text,
            "text-accent": inks.accent,
            "text-warning": inks.due,
            "text-error": inks.held,
            "text-success": inks.clear,
            "text-muted": inks.faint,
            "text-disabled": inks.faint,
            "strong": inks.strong,
            "chosen": inks.chosen,
            "rule": inks.line,
            "block-cursor-background": inks.chosen,
            "block-cursor-foreground": inks.strong,
            "block-cursor-blurred-background": inks.band,
            "border": inks.accent,
            "border-blurred": inks.line,
            "scrollbar": inks.line,
            "scrollbar-hover": inks.faint,
            "scrollbar-background": inks.field,
            "footer-background": inks.band,
            "footer-key-foreground": inks.accent,
            "input-cursor-background": inks.accent,
            "input-cursor-foreground": inks.ground,
            "input-selection-background": inks.chosen,
            "button-color-foreground": inks.ground,
        },
    )


DARK = _theme(DUSK, DARK_INKS, dark=True)
LIGHT = _theme(NOON, LIGHT_INKS, dark=False)

SIGNS: dict[str, str] = {word: sign for word, (sign, _) in STATES.items()}
"""The sign of each state word."""
TONES: dict[str, str] = {word: tone for word, (_, tone) in STATES.items()}
"""How loud each state is: good, warning, bad, soft, faint or part."""
STYLES: dict[str, str] = {
    "good": "$text-success",
    "warning": "$text-warning",
    "bad": "bold $text-error",
    "soft": "$foreground",
    "faint": "$text-muted",
    "part": "bold $text-accent",
}
"""The style of each tone, as content takes it."""


def state(word: str) -> str:
    """A state as it is shown everywhere: its sign and its word.

    >>> state("held")
    '■ held'
    """
    return f"{SIGNS.get(word, ' ')} {_(word)}"


def chosen_theme() -> str:
    """The theme that REELCARE_THEME names: the light one, or else the dark one."""
    return NOON if os.environ.get("REELCARE_THEME") == "noon" else DUSK


def apply_theme(app: App[Any], *, ascii_only: bool = False, theme: str = DUSK) -> None:
    """Give an app our themes, and put the filters between it and the terminal.

    To be called in the app's constructor. The other themes are taken out: in some of them, without colour,
    text is drawn in the colour of its ground. Without colour (NO_COLOR) everything is drawn in greys.
    """
    for own in (DARK, LIGHT):
        app.register_theme(own)
    app.theme = theme if theme in (DUSK, NOON) else DUSK
    for name in list(app.available_themes):
        if name not in (DUSK, NOON):
            app.unregister_theme(name)
    # the framework has no public way to add a filter; the exact version is pinned, and a test in a
    # pseudo-terminal watches over what gets through. Its own filters make true colours of a terminal's own colours and
    # of faint ones, for every line drawn; there are none here
    filters = app._filters
    filters[:] = [Monochrome() for one in filters if isinstance(one, (Monochrome, NoColor))]
    filters.append(NothingSteers())
    if ascii_only:
        filters.append(PlainSigns())

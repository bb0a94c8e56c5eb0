"""How Reelcare looks: two themes of its own, and one word with one sign for each state.

The rules of this file: colour only helps. Every state is told by its word and its sign; both are legible in
one colour and in plain ASCII. Every colour that text is written in stands off every ground by 4.5 to 1 or
more. Screens use the names of the theme's colours, never a colour itself.
"""

from __future__ import annotations

import os
from typing import Any

from textual.app import App
from textual.content import Content
from textual.filter import Monochrome, NoColor
from textual.theme import Theme

from reelcare.core.drawing.signs import STATES, ascii_form
from reelcare.tui.text import NothingSteers, PlainSigns, said

DUSK, NOON = "reelcare-dusk", "reelcare-noon"

# Night over a field: wet earth, stubble, leaf, ripe grain, brick; water for what can be acted on.
DARK = Theme(
    name=DUSK,
    dark=True,
    primary="#86b8b1",
    secondary="#b3a67c",
    accent="#ecd58a",
    warning="#e3b458",
    error="#ea8a72",
    success="#9cc274",
    foreground="#e4dfce",
    background="#171b17",
    surface="#1e241e",
    panel="#29312a",
    variables={
        "text-primary": "#86b8b1",
        "text-secondary": "#b3a67c",
        "text-accent": "#ecd58a",
        "text-warning": "#e3b458",
        "text-error": "#ea8a72",
        "text-success": "#9cc274",
        "text-muted": "#a3a593",
        "block-cursor-background": "#36564f",
        "block-cursor-foreground": "#f4f0e0",
        "block-cursor-blurred-background": "#29312a",
        "border": "#86b8b1",
        "border-blurred": "#454f46",
        "scrollbar": "#454f46",
        "scrollbar-hover": "#5a665b",
        "scrollbar-background": "#1e241e",
        "footer-background": "#29312a",
        "footer-key-foreground": "#ecd58a",
        "input-cursor-background": "#ecd58a",
        "input-cursor-foreground": "#171b17",
        "input-selection-background": "#36564f",
        "button-color-foreground": "#171b17",
    },
)
# The same field at midday, on paper.
LIGHT = Theme(
    name=NOON,
    dark=False,
    primary="#1f5a55",
    secondary="#63561f",
    accent="#7a3d00",
    warning="#7a4c00",
    error="#98281a",
    success="#2f5c1a",
    foreground="#23261b",
    background="#f5f1e4",
    surface="#ece7d6",
    panel="#e1dac4",
    variables={
        "text-primary": "#1f5a55",
        "text-secondary": "#63561f",
        "text-accent": "#7a3d00",
        "text-warning": "#7a4c00",
        "text-error": "#98281a",
        "text-success": "#2f5c1a",
        "text-muted": "#56574a",
        "block-cursor-background": "#bcd6cd",
        "block-cursor-foreground": "#14170f",
        "block-cursor-blurred-background": "#e1dac4",
        "border": "#1f5a55",
        "border-blurred": "#b9b29a",
        "scrollbar": "#b9b29a",
        "scrollbar-hover": "#9d967d",
        "scrollbar-background": "#ece7d6",
        "footer-background": "#e1dac4",
        "footer-key-foreground": "#7a3d00",
        "input-cursor-background": "#7a3d00",
        "input-cursor-foreground": "#f5f1e4",
        "input-selection-background": "#bcd6cd",
        "button-color-foreground": "#f5f1e4",
    },
)

SIGNS: dict[str, str] = {word: sign for word, (sign, _) in STATES.items()}
"""The sign of each state word."""
PLAIN_SIGNS: dict[str, str] = {word: ascii_form(sign) for word, sign in SIGNS.items()}
"""The same for terminals that show ASCII only."""
TONES: dict[str, str] = {word: tone for word, (_, tone) in STATES.items()}
"""How loud each state is: good, heed, bad, soft, faint or part."""
STYLES: dict[str, str] = {
    "good": "$text-success",
    "heed": "$text-warning",
    "bad": "bold $text-error",
    "soft": "$text-secondary",
    "faint": "$text-muted",
    "part": "bold $text-accent",
}
"""The style of each tone, as content takes it."""


def state(word: str, *, plain: bool = False) -> str:
    """A state as it is shown everywhere: its sign and its word.

    >>> state("held"), state("held", plain=True)
    ('■ held', '# held')
    """
    signs = PLAIN_SIGNS if plain else SIGNS
    return f"{signs.get(word, ' ')} {word}"


def stated(word: str, says: str = "") -> Content:
    """A state in its tone, and (as text that may have been typed) what it says.

    >>> stated("held", "end stop [late]").plain
    '■ held  end stop [late]'
    """
    shown = Content.styled(state(word), STYLES[TONES.get(word, "faint")])
    return Content.assemble(shown, "  ", said(says)) if says else shown


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

"""A line for what has to be told on the screen itself: errors, warnings, what was done.

The rules of this file: telling something never empties what was typed; where a text was refused, it is shown with
the reason, so that it can be put right or copied.
"""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from reelcare.core.text import _
from reelcare.tui.text import join, lines
from reelcare.tui.theme import STYLES, TONES, stated


class MessagePanel(Static):
    """Nothing, until something is told; then its state's sign and word, and the text.

    `tell("wrong", "the hour counter went back", typed="1 204 h")`; `hush()` takes it away.
    """

    DEFAULT_CSS = """
    MessagePanel {
        height: auto;
        padding: 0 1;
        display: none;
        background: $surface;
        border-left: outer $border-blurred;
        &.-bad { border-left: outer $error; }
        &.-heed { border-left: outer $warning; }
        &.-good { border-left: outer $success; }
    }
    """

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.told = ""

    def tell(self, state: str, says: str, *, typed: str = "") -> None:
        """Tell something: the word of a state, a text, and what was typed, where that was refused."""
        tone = TONES.get(state, "soft")
        parts: list[str | Content] = [stated(state, says)]
        if typed:
            parts.append(join((_("typed") + "  ", STYLES["faint"]), typed))
        self.told = says
        self.update(lines(*parts))
        for one in ("bad", "heed", "good"):
            self.set_class(one == tone, f"-{one}")
        self.display = True

    def hush(self) -> None:
        """Take away what was told."""
        self.told = ""
        self.display = False

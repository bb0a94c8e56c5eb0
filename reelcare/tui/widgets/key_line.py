"""The line of keys at the foot of a screen: what can be done now, as far as there is room.

The rules of this file: it is one line and never scrolls. Enter, the page's next step, stands first; what cannot be done
now is left out. What does not fit is found in the help, whose key always stands at the right edge. A click on a key
presses it.
"""

from __future__ import annotations

from typing import Any, ClassVar, NamedTuple

from rich.segment import Segment
from textual import events
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget

from reelcare.core.wording import cells
from reelcare.tui.keys import shown
from reelcare.tui.text import plain, said

GAP = "  "
MOST, NARROW = 7, 80
"""Most keys in a line of at most `NARROW` cells."""
LAST = ("app.help",)
"""The ids of the keys that always stand at the end of the line."""
WAYS = ("exclamation_mark", "escape")
"""The keys that always stand in the line, behind those that do something: stopping, and the way back."""


class Shown(NamedTuple):
    """A key in the line: where it begins and ends, its words, and the key that a click presses."""

    start: int
    end: int
    keys: str
    name: str
    press: str
    tooltip: str


class KeyLine(Widget, can_focus=False):
    """The keys of the present screen in one line."""

    ALLOW_SELECT = False
    COMPONENT_CLASSES: ClassVar[set[str]] = {"key-line--key", "key-line--name"}
    DEFAULT_CSS = """
    KeyLine {
        dock: bottom;
        height: 1;
        background: $footer-background;
        color: $footer-foreground;
        & .key-line--key { color: $footer-key-foreground; text-style: bold; }
        & .key-line--name { color: $footer-foreground; }
    }
    """

    _keys: list[Shown] | None = None
    _fitted_to = 0

    def on_mount(self) -> None:
        """Listen for changes of the keys."""
        self.screen.bindings_updated_signal.subscribe(self, self._changed)

    def on_unmount(self) -> None:
        """Stop listening."""
        self.screen.bindings_updated_signal.unsubscribe(self)

    def _changed(self, screen: Screen[Any]) -> None:
        if screen is self.screen:
            self._keys = None
            self.refresh()

    @property
    def keys(self) -> list[Shown]:
        """What stands in the line."""
        if self._keys is None or self._fitted_to != self.size.width:
            self._fitted_to = self.size.width
            self._keys = self._fit(self._fitted_to)
        return self._keys

    def _fit(self, width: int) -> list[Shown]:
        wanted: dict[str, tuple[list[str], str, str, str]] = {}
        for key, (_, binding, enabled, tooltip) in self.screen.active_bindings.items():
            if binding.show and binding.description and enabled:
                at = binding.id or binding.action
                names = [*wanted[at][0], key] if at in wanted else [key]
                wanted[at] = (names, binding.description, names[0], binding.tooltip or tooltip)
        ends = [at for at in LAST if at in wanted]
        ways = [at for name in WAYS for at, one in wanted.items() if name in one[0] and at not in ends]
        others = [at for at in wanted if at not in (*ends, *ways)]
        others.sort(key=lambda at: "enter" not in wanted[at][0])
        room = width - sum(self._wide(wanted[at]) + len(GAP) for at in (*ways, *ends))
        most = MOST - len(ways) - len(ends) if width <= NARROW else len(others)
        placed: list[Shown] = []
        x = 1
        for at in (*others[:most], *ways):
            if at not in ways and x + self._wide(wanted[at]) > room:
                room = 0  # the line ends with the first that has no room: what comes after matters less
                continue
            placed.append(self._place(x, wanted[at]))
            x = placed[-1].end + len(GAP)
        x = width - 1
        for at in reversed(ends):
            x -= self._wide(wanted[at])
            placed.append(self._place(max(x, 0), wanted[at]))
            x -= len(GAP)
        return sorted(placed)

    def _wide(self, one: tuple[list[str], str, str, str]) -> int:
        return cells(f"{shown(_first(one[0]))} {plain(one[1])}")

    def _place(self, x: int, one: tuple[list[str], str, str, str]) -> Shown:
        names, name, press, tooltip = one
        return Shown(x, x + self._wide(one), shown(_first(names)), plain(name), press, tooltip)

    def render_line(self, y: int) -> Strip:
        """The keys."""
        base = self.rich_style
        segments, x = [], 0
        for one in self.keys:
            segments.append(Segment(" " * (one.start - x), base))
            key = self.get_component_rich_style("key-line--key", partial=True)
            name = self.get_component_rich_style("key-line--name", partial=True)
            segments += [Segment(one.keys, base + key), Segment(f" {one.name}", base + name)]
            x = one.end
        return Strip(segments).adjust_cell_length(self.size.width, base)

    def _at(self, x: int) -> Shown | None:
        return next((one for one in self.keys if one.start <= x < one.end), None)

    def on_click(self, event: events.Click) -> None:
        """Press the key that is clicked."""
        one = self._at(event.x)
        if one is not None:
            self.app.simulate_key(one.press)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Say what the key under the pointer does."""
        one = self._at(event.x)
        self.tooltip = said(one.tooltip) if one is not None and one.tooltip else None


def _first(names: list[str]) -> str:
    """The key that is written in the line: Enter, where it is one of several."""
    return "enter" if "enter" in names else names[0]

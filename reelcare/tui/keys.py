"""The keys of the program: what may be a key at all, and what a screen's keys say of themselves.

The rules of this file: a key does its work with nothing else than itself. Keys that terminals, multiplexers or
browsers keep for themselves are never the only way to anything, and every binding has an id (so that it can be
given another key), a name and a tooltip. The line of keys, the help, the palette and the documents all come from
the same bindings.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from textual.binding import Binding, BindingType

from reelcare.core.text import _, mark

if TYPE_CHECKING:
    from textual.screen import Screen

MOVES = frozenset({"up", "down", "left", "right", "pageup", "pagedown", "home", "end", "tab", "shift+tab"})
"""The keys that move the cursor; they leave the message line as it is."""

NAMES: dict[str, str] = {
    "escape": "Esc",
    "enter": mark("Enter"),
    "space": mark("Space"),
    "tab": "Tab",
    "shift+tab": "Shift Tab",
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "home": mark("Home"),
    "end": mark("End"),
    "backspace": "Bksp",
    "delete": "Del",
    "question_mark": "?",
    "exclamation_mark": "!",
    "slash": "/",
    "plus": "+",
    "minus": "-",
    "full_stop": ".",
    "comma": ",",
    "equals_sign": "=",
}


def bind(
    id: str, keys: str, name: str, does: str, *, action: str = "", show: bool = True, priority: bool = False
) -> Binding:
    """Keys of a screen or a widget, by an id that ends with their action, where another is not named. `name` stands in
    the line of keys, and what they do in the help."""
    does_it = action or id.rpartition(".")[2]
    return Binding(keys, does_it, name, show=show, priority=priority, id=id, tooltip=does)


EVERYWHERE: list[BindingType] = [
    bind("app.person", "p", mark("Who"), mark("Changes the person at this terminal")),
    bind("app.units", "u", mark("Units"), mark("Metric or US customary units"), show=False),
    bind("app.language", "l", mark("Language"), mark("English, Spanish or French"), show=False),
    bind("app.help", "question_mark", mark("Help"), mark("The keys of this screen")),
    bind(
        "app.draw_again", "ctrl+l", mark("Draw again"), mark("Draws the whole screen again, if it looks broken"),
        show=False, priority=True,  # in a dialog, and where something is typed
    ),
    bind("app.quit", "q", mark("Quit"), mark("Leaves Reelcare; everything is saved already")),
]  # fmt: skip
"""The keys of the app, on every screen."""


def shown(key: str) -> str:
    """A key as it is written on a keyboard of the language.

    >>> shown("ctrl+y"), shown("question_mark"), shown("G")
    ('Ctrl Y', '?', 'Shift G')
    """
    if key in NAMES:
        return _(NAMES[key])
    if len(key) == 1 and key.isupper():
        return f"Shift {key}"
    *mods, last = key.split("+")
    if not mods:
        return last
    return " ".join([*(mod.capitalize() for mod in mods), _(NAMES.get(last, last.upper() if len(last) == 1 else last))])


ON_SCREEN, IN_APP = mark("Here"), mark("Everywhere")
"""Groups of keys in the help."""


class KeyHelp(NamedTuple):
    """One line of help: what it belongs to, the keys, what they do, and whether they work now."""

    group: str
    keys: tuple[str, ...]
    does: str
    works: bool


def help_of(screen: Screen[Any]) -> list[KeyHelp]:
    """Every key that a screen answers to now, keys of one action together, the nearest first."""
    lines: dict[tuple[str, str], KeyHelp] = {}
    for key, (node, binding, enabled, tooltip) in screen.active_bindings.items():
        if binding.system or not (binding.tooltip or tooltip):
            continue
        group = IN_APP if node is screen.app else ON_SCREEN if node is screen else _group(node)
        at = (group, binding.id or binding.action)
        before = lines.get(at)
        keys = (*before.keys, shown(key)) if before else (shown(key),)
        lines[at] = KeyHelp(group, keys, binding.tooltip or tooltip, enabled)
    order = {ON_SCREEN: 0, IN_APP: 2}
    return sorted(lines.values(), key=lambda line: order.get(line.group, 1))


def commands_of(screen: Screen[Any]) -> Iterator[Binding]:
    """The bindings that do something on a screen now and have a name and a tooltip."""
    for active in screen.active_bindings.values():
        if active.binding.description and active.binding.tooltip and active.enabled:
            yield active.binding


def _group(node: Any) -> str:
    title = getattr(node, "BINDING_GROUP_TITLE", None)
    if title:
        return str(title)
    lines = (type(node).__doc__ or "").strip().splitlines()
    return lines[0].split(".")[0] if lines else type(node).__name__

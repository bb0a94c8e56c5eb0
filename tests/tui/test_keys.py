"""Keys: none that does not arrive, each with id, name and tooltip, in widgets, dialogs and the line of keys."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable
from typing import Any, ClassVar

import pytest
from textual.app import App
from textual.binding import Binding, BindingType
from textual.dom import DOMNode
from textual.widgets import Input, Static

import reelcare.tui
from reelcare.tui.keys import help_of, shown
from reelcare.tui.widgets.inputs.fields import LineInput
from reelcare.tui.widgets.key_line import KeyLine

ScreenText = Callable[[App[Any]], str]


def ours() -> list[type[DOMNode]]:
    """Every widget, screen and app of the terminal room."""
    found: set[type[DOMNode]] = set()
    for module in pkgutil.walk_packages(reelcare.tui.__path__, "reelcare.tui."):
        for one in vars(importlib.import_module(module.name)).values():
            if isinstance(one, type) and issubclass(one, DOMNode) and one.__module__.startswith("reelcare."):
                found.add(one)
    return sorted(found, key=lambda one: one.__qualname__)


KEPT: frozenset[str] = frozenset(
    {
        # multiplexers' own keys, flow control, suspend, and what a terminal sends for Enter, Tab, Backspace, Escape
        *(f"ctrl+{letter}" for letter in "abcdhijmoqsvz"),
        "ctrl+space",
        "ctrl+at",
        "ctrl+left_square_bracket",
        "ctrl+backslash",
        "ctrl+enter",
        "shift+enter",
        # browsers close, open and reload with these
        "ctrl+n",
        "ctrl+r",
        "ctrl+t",
        "ctrl+w",
        # desktops, menus of terminals, and keyboards without them
        *(f"f{number}" for number in range(1, 25)),
        *(f"alt+{letter}" for letter in "abcdefghijklmnopqrstuvwxyz"),
    }
)
"""Keys that do not always arrive: never the only key to anything."""


def problems(bindings: Iterable[BindingType], where: str = "") -> list[str]:
    """What is wrong with a table of bindings, one line each.

    >>> problems([Binding("ctrl+s", "keep", "Keep", id="form.keep", tooltip="Keeps it")], "Form")
    ['Form form.keep: ctrl+s may be kept by terminals; give another key beside it']
    """
    found: list[str] = []
    keys: dict[str, str] = {}
    ids: set[str] = set()
    for binding in bindings:
        if not isinstance(binding, Binding):
            found.append(f"{where} {binding}: write it as a Binding, with id and tooltip")
            continue
        name = f"{where} {binding.id or binding.action}".strip()
        if not binding.id:
            found.append(f"{name}: no id")
        elif binding.id in ids:
            found.append(f"{name}: two bindings have this id")
        ids.add(binding.id or "")
        if not binding.tooltip:
            found.append(f"{name}: no tooltip")
        if not binding.description:
            found.append(f"{name}: no name")
        own = [key.strip() for key in binding.key.split(",")]
        for key in own:
            if key in keys:
                found.append(f"{name}: {key} is the key of {keys[key]} already")
            keys[key] = name
        if all(key in KEPT for key in own):
            found.append(f"{name}: {', '.join(own)} may be kept by terminals; give another key beside it")
    return found


def table(classes: Iterable[type[Any]]) -> list[tuple[str, str, str, str]]:
    """The key table of documents: where, keys, what it does, id; from the classes' own bindings."""
    return [
        (
            one.__name__,
            ", ".join(shown(key.strip()) for key in binding.key.split(",")),
            binding.tooltip,
            binding.id or "",
        )
        for one in classes
        for binding in one.__dict__.get("BINDINGS", ())
        if isinstance(binding, Binding)
    ]


@pytest.mark.parametrize("one", ours(), ids=lambda one: one.__qualname__)
def test_every_binding_has_id_name_tooltip_and_a_key_that_arrives(one: type[DOMNode]) -> None:
    assert problems(one.__dict__.get("BINDINGS", ()), one.__name__) == []


def test_no_two_bindings_of_the_program_have_the_same_id() -> None:
    ids = [id for _, _, _, id in table(ours())]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("key", ["ctrl+a", "ctrl+b", "ctrl+s", "ctrl+space", "ctrl+j", "f1", "f12", "ctrl+w"])
def test_a_key_that_terminals_keep_is_refused_as_the_only_key(key: str) -> None:
    assert key in KEPT
    assert problems([Binding(key, "x", "X", id="x", tooltip="x")])
    assert not problems([Binding(f"{key},x", "x", "X", id="x", tooltip="x")])


def test_what_is_missing_is_named() -> None:
    assert problems([Binding("x", "x", "")], "Yard") == ["Yard x: no id", "Yard x: no tooltip", "Yard x: no name"]
    twice = [Binding("x", "a", "A", id="a", tooltip="a"), Binding("x", "b", "B", id="a", tooltip="b")]
    assert len(problems(twice)) == 2
    assert problems([("x", "a", "A")]) != []


def test_keys_are_written_as_on_a_keyboard() -> None:
    assert [shown(key) for key in ("escape", "shift+tab", "ctrl+y", "x", "pageup")] == [
        "Esc", "Shift Tab", "Ctrl Y", "x", "PgUp",
    ]  # fmt: skip


class Zipper(Static):
    """A widget with a key of its own."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("z", "z", "Z", id="zipper.z", tooltip="zips")]


@pytest.fixture
def keyed(small: Callable[..., Any]) -> Callable[..., App[Any]]:
    class Keyed(small):  # type: ignore[misc, valid-type]
        BINDINGS: ClassVar[list[BindingType]] = [
            Binding("w,enter", "note('w')", "Walk-round", id="keyed.walk", tooltip="Begins the walk-round"),
            Binding("b", "note('b')", "Bench [/]", id="keyed.bench", tooltip="Opens the bench [/]"),
            Binding("x", "off", "Off", id="keyed.off", tooltip="Does not work now"),
            Binding("h", "note('h')", "Hidden", show=False, id="keyed.hidden", tooltip="Is not in the line"),
            Binding("question_mark", "note('?')", "Help", id="app.help", tooltip="The keys"),
        ]

        def __init__(self, make: Any = None) -> None:
            super().__init__(make or (lambda: [Static(""), KeyLine()]))
            self.noted: list[str] = []

        def action_note(self, what: str) -> None:
            self.noted.append(what)

        def action_off(self) -> None:
            self.noted.append("off")

        def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
            return None if action == "off" else True

    return Keyed


async def test_the_line_shows_what_fits_and_help_at_its_end(keyed: Any, screen_text: ScreenText) -> None:
    app = keyed()
    async with app.run_test(size=(60, 4)) as pilot:
        await pilot.pause()
        line = screen_text(app).splitlines()[-1]
        assert line.startswith(" Enter Walk-round  b Bench [/]")
        assert line.rstrip().endswith("? Help")
        assert "Hidden" not in line
        await pilot.resize_terminal(24, 4)
        await pilot.pause()
        line = screen_text(app).splitlines()[-1]
        assert len(line) == 24
        assert line.rstrip().endswith("? Help")
        assert "Bench" not in line


async def test_a_click_presses_the_key(keyed: Any) -> None:
    app = keyed()
    async with app.run_test(size=(60, 4)) as pilot:
        await pilot.pause()
        line = app.query_one(KeyLine)
        for one in line.keys:
            await pilot.click(line, offset=(one.start, 0))
            await pilot.pause()
    assert app.noted == ["w", "b", "?"]


async def test_the_line_follows_the_focus(keyed: Any, screen_text: ScreenText) -> None:
    app = keyed(lambda: [Input(), KeyLine()])
    async with app.run_test(size=(60, 4)) as pilot:
        await pilot.pause()
        assert "Walk-round" not in screen_text(app).splitlines()[-1]
        app.set_focus(None)
        await pilot.pause()
        assert "Walk-round" in screen_text(app).splitlines()[-1]


async def test_a_line_to_write_on_leaves_the_pages_to_the_screen(keyed: Any, screen_text: ScreenText) -> None:
    class Paged(keyed):  # type: ignore[misc]  # the class that a fixture has made
        BINDINGS: ClassVar[list[BindingType]] = [
            Binding("pageup", "note('back')", "Back", id="paged.back", tooltip="The one before"),
            Binding("down", "note('next')", "Next", id="paged.next", tooltip="The next one"),
        ]

    app = Paged(lambda: [LineInput("12"), KeyLine()])
    async with app.run_test(size=(60, 4)) as pilot:
        app.query_one(LineInput).focus()
        await pilot.pause()
        assert "PgUp Back  ↓ Next" in screen_text(app).splitlines()[-1]
        await pilot.press("pageup", "down", "home", "x", "delete", "end", "backspace", "left", "b")
        assert app.noted == ["back", "next"]
        assert app.query_one(LineInput).value == "bx"


async def test_help_tells_every_key_from_the_bindings(keyed: Any) -> None:
    app = keyed()
    async with app.run_test() as pilot:
        await pilot.pause()
        lines = {line.keys: line for line in help_of(app.screen)}
    assert lines["w", "Enter"].does == "Begins the walk-round"
    assert lines["h",].group == "Everywhere"
    assert not lines["x",].works


def test_the_key_table_comes_from_the_classes() -> None:
    assert table([Zipper]) == [("Zipper", "z", "zips", "zipper.z")]


async def test_the_help_is_made_from_the_keys_and_the_screens_own_words(keyed: Any, screen_text: ScreenText) -> None:
    from reelcare.tui.requests import ShowHelp
    from reelcare.tui.screens.help import Help

    app = keyed()
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.pause()
        app.screen.HELP = "Every machine [/] at one glance,\n  holds first."
        app.push_screen(Help(ShowHelp(app.screen.HELP, tuple(help_of(app.screen)))))
        await pilot.pause()
        shown = screen_text(app)
        assert "Every machine [/] at one glance, holds first." in shown
        assert "w, Enter  Begins the walk-round" in shown
        assert "b  Opens the bench [/]" in shown
        assert "Does not work now (not now)" in shown
        await pilot.press("escape")
        assert len(app.screen_stack) == 1

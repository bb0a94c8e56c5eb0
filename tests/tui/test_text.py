"""Text that people typed is shown and never obeyed: in every widget, in every corner, and on the wire."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.segment import Segment
from textual.app import App
from textual.color import Color
from textual.content import Content
from textual.widget import Widget
from textual.widgets import (
    Button,
    Checkbox,
    Collapsible,
    Input,
    Label,
    OptionList,
    RadioButton,
    Select,
    Static,
)
from textual.widgets.option_list import Option

from reelcare.tui.text import NothingSteers, PlainSigns, cut, fit, join, lines, plain, said

BLACK = Color(0, 0, 0)
Corpus = tuple[str, ...]


def titled(text: str) -> Widget:
    made = Static(said(text))
    made.border_title = said(text)
    made.border_subtitle = said(text)
    made.tooltip = said(text)
    made.styles.border = ("round", "white")
    return made


PLACES: dict[str, Callable[[str], Widget]] = {
    "static": lambda text: Static(said(text)),
    "label": lambda text: Label(said(text)),
    "button": lambda text: Button(said(text)),
    "checkbox": lambda text: Checkbox(said(text)),
    "radio button": lambda text: RadioButton(said(text)),
    "options": lambda text: OptionList(Option(said(text))),
    "select": lambda text: Select([(said(text), 1)], value=1),
    "collapsible": lambda text: Collapsible(Static(said(text)), title=plain(text).replace("[", "\\[")),
    "input": lambda text: Input(value=text),
    "titles and tooltip": titled,
}


@pytest.mark.parametrize("place", [one for one in PLACES if one != "collapsible"])
async def test_every_widget_shows_what_was_typed_and_obeys_nothing(
    place: str,
    small: Callable[..., App[Any]],
    hostile: Corpus,
    steers: set[str],
    screen_text: Callable[[App[Any]], str],
) -> None:
    app = small(lambda: [PLACES[place](text) for text in hostile])
    async with app.run_test(size=(60, 100), notifications=True, tooltips=True) as pilot:
        await pilot.pause()
        shown = screen_text(app)
    assert not steers & (set(shown) - {"\n"})
    if place not in ("select", "radio button"):
        for literal in ("Pin [/] z", "Boom [red]A[/red]", "[$error]", "[@click=app.bell]ring[/]"):
            assert literal in shown, (place, literal)


async def test_a_message_in_the_corner_is_literal(
    small: Callable[..., App[Any]], hostile: Corpus, steers: set[str], screen_text: Callable[[App[Any]], str]
) -> None:
    app = small(lambda: [Static("")])
    async with app.run_test(size=(100, 40), notifications=True) as pilot:
        for text in hostile:
            app.notify(plain(text), title=plain(text), markup=False)
            await pilot.pause()
            assert not steers & (set(screen_text(app)) - {"\n"})
            app.clear_notifications()
        app.notify(plain("Pin [/] z"), markup=False)
        await pilot.pause()
        assert "Pin [/] z" in screen_text(app)


async def test_a_tooltip_is_literal(
    small: Callable[..., App[Any]], hostile: Corpus, steers: set[str], screen_text: Callable[[App[Any]], str]
) -> None:
    app = small(lambda: [titled(text) for text in hostile[:6]])
    async with app.run_test(size=(60, 40), tooltips=True) as pilot:
        app.screen.TOOLTIP_DELAY = 0  # type: ignore[attr-defined]
        await pilot.hover(Static, offset=(3, 1))
        await pilot.pause()
        assert not steers & (set(screen_text(app)) - {"\n"})


@given(st.text())
def test_what_is_shown_is_printable_and_on_one_line(text: str) -> None:
    shown = plain(text)
    assert all(sign.isprintable() for sign in shown)
    assert "\n" not in shown


@given(st.text())
def test_nothing_is_shown_twice_changed(text: str) -> None:
    assert plain(plain(text)) == plain(text)


@given(st.text(alphabet=st.characters(categories=("L", "N", "P", "S"))))
def test_ordinary_text_is_left_as_it_is(text: str) -> None:
    fillers = {"\u115f", "\u1160", "\u3164", "\uffa0", "\u2800"}
    assert plain(text) == "".join("\N{REPLACEMENT CHARACTER}" if one in fillers else one for one in text)


def test_what_hides_stays_visible() -> None:
    assert plain("Wei\u200bde") == "Wei�de"
    assert plain("a\u202eb") == "a�b"
    assert plain("two\nlines") == "two↵lines"
    assert plain("two\r\nlines", lines=True) == "two\nlines"
    assert plain("e" + "\u0301" * 9) == "e" + "\u0301" * 3 + "�"


def test_parts_are_joined_literally() -> None:
    joined = join("R1 [b]", (" held", "bold"), Content(" [/]"))
    assert joined.plain == "R1 [b] held [/]"
    assert lines("a [/", said("b")).plain == "a [/\nb"


@given(st.text(), st.integers(0, 40))
def test_a_text_fits_its_cells_exactly(text: str, width: int) -> None:
    shown = plain(text)
    assert cell_len(fit(shown, width)) == width
    assert cell_len(cut(shown, width)) <= width


@given(st.text())
def test_the_filter_lets_nothing_through_and_keeps_widths(text: str) -> None:
    given_text = text.replace("\n", " ")
    [segment] = NothingSteers().apply([Segment(given_text)], BLACK)
    assert not any(ord(sign) < 32 or 127 <= ord(sign) < 160 for sign in segment.text)
    assert cell_len(segment.text) == cell_len(given_text)


@given(st.text(alphabet=st.characters(exclude_categories=("Cc", "Cs"))))
def test_the_ascii_filter_keeps_widths(text: str) -> None:
    [segment] = PlainSigns().apply([Segment(text)], BLACK)
    assert segment.text.isascii()
    assert cell_len(segment.text) == cell_len(text)


async def test_in_ascii_the_whole_screen_is_ascii(
    small: Callable[..., App[Any]], hostile: Corpus, screen_text: Callable[[App[Any]], str]
) -> None:
    app = small(lambda: [titled("■ held, Cañón"), Input(value="▲"), Button("ok")], ascii_only=True)
    async with app.run_test(size=(40, 12)) as pilot:
        await pilot.pause()
        shown = screen_text(app)
    assert shown.isascii()
    assert "# held, Canon" in shown


RAW = textwrap.dedent(
    """
    import sys
    from rich.text import Text
    from textual.app import App
    from textual.content import Content
    from textual.widgets import DataTable, Header, Input, Static
    from reelcare.tui.theme import apply_theme

    TEXTS = eval(sys.argv[1])

    class Raw(App):
        def __init__(self):
            super().__init__()
            apply_theme(self)
            self.title = TEXTS[0]

        def compose(self):
            yield Header()
            for text in TEXTS:
                yield Static(Content(text, strip_control_codes=False))
                one = Static("")
                one.border_title = Content(text, strip_control_codes=False)
                one.styles.border = ("round", "white")
                yield one
            yield Input(value=TEXTS[1])
            table = DataTable()
            table.add_column("c")
            for text in TEXTS:
                table.add_row(Text(text))
            yield table

        def on_mount(self):
            self.call_after_refresh(lambda: self.call_after_refresh(self.exit))

    Raw().run()
    """
)


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of Unix")
def test_nothing_that_steers_reaches_a_terminal_whatever_way_it_came_in(steers: set[str]) -> None:
    from tests.tui.terminal import run  # of Unix too

    texts = (
        "\x1b]0;stolen\x1b\\",
        "\x1b]52;c;c3RvbGVu\x1b\\",
        "\x9b31mred",
        "\u202eturned\u202c",
        "\x1b[7;7Hmoved",
        "hid\u200bden",
    )
    seen, code = run(["-c", RAW, repr(texts)])
    assert code == 0, seen[-2000:]
    assert b"turned" in seen
    assert b"moved" in seen
    for payload in (b"\x1b]0;stolen", b"\x1b]52;c", b"\x1b[7;7Hmoved", b"\x9b31m"):
        assert payload not in seen
    for sign in ("\u202e", "\u202c", "\u200b", "\x9b"):
        assert sign.encode() not in seen

"""The list: nothing is read that is not seen, keys and mouse do what they say, text in cells is literal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest
from textual import events
from textual.app import App
from textual.binding import Binding
from textual.content import Content

from reelcare.tui.theme import TONES, state
from reelcare.tui.widgets.rows import MARK, PAGE, Cell, Column, Row, Rows

COLUMNS = (Column("machine", 8), Column("state", 12), Column("what", 20, grows=True), Column("hours", 8, 3, right=True))
WORDS = ("held", "check due", "clear", "overdue", "due", "soon", "ok")
ScreenText = Callable[[App[Any]], str]


def _state(word: str) -> Cell:
    return Cell(state(word), TONES[word])


class Yard:
    """A source that notes what is asked of it."""

    def __init__(self, count: int) -> None:
        self._count = count
        self.asked: list[tuple[int, int]] = []

    def count(self) -> int:
        return self._count

    def rows(self, offset: int, limit: int) -> Sequence[Row]:
        self.asked.append((offset, limit))
        end = min(self._count, offset + limit)
        return [
            (Cell(f"R{at}", "part"), _state(WORDS[at % len(WORDS)]), f"meadow {at}", f"{at} h")
            for at in range(offset, end)
        ]

    def find(self, text: str, start: int) -> int | None:
        return next((at for at in range(start, self._count) if f"r{at}".startswith(text.lower())), None)


def only(messages: list[Any], kind: type[Any]) -> list[Any]:
    """The messages of a kind, each once, however far it went up."""
    return list({id(one): one for one in messages if isinstance(one, kind)}.values())


def here(app: App[Any], screen_text: ScreenText) -> str:
    """The line with the cursor."""
    [line] = [one for one in screen_text(app).splitlines() if one.startswith(MARK)]
    return line


@pytest.fixture
def listed(small: Callable[..., App[Any]]) -> Callable[..., tuple[App[Any], Rows, Yard, list[Any]]]:
    def make(count: int = 1000, **kept: Any) -> tuple[App[Any], Rows, Yard, list[Any]]:
        yard = Yard(count)
        rows = Rows(COLUMNS, yard, find=yard.find, **kept)
        messages: list[Any] = []
        return small(lambda: [rows]), rows, yard, messages

    return make


async def test_only_what_is_seen_is_asked_for(listed: Callable[..., Any]) -> None:
    app, rows, yard, _ = listed(1_000_000)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert yard.asked == [(0, PAGE), (PAGE, PAGE)]  # 23 rows are seen
        await pilot.press("end")
        assert rows.cursor == 999_999
        assert all(limit == PAGE for _, limit in yard.asked)
        assert len(yard.asked) <= 5


async def test_a_list_that_opens_on_a_row_hides_no_row_before_it_without_need(small: Callable[..., App[Any]]) -> None:
    rows = Rows(COLUMNS, Yard(30))
    app = small(lambda: [rows])
    rows.cursor = 9
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert (rows.cursor, rows.scroll_offset.y) == (9, 0)


async def test_what_is_sought_and_not_found_is_told(listed: Callable[..., Any], screen_text: ScreenText) -> None:
    app, rows, _, _ = listed(30)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("slash", "r", "7", "x")
        assert rows.cursor == 7
        assert "/ r7x_  not found" in screen_text(app)
        await pilot.press("backspace")
        assert "not found" not in screen_text(app)


async def test_a_list_that_is_walked_through_keeps_few_rows(listed: Callable[..., Any]) -> None:
    app, rows, _, _ = listed(5000)
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(60):
            rows.action_page(1)
            await pilot.pause()
        assert rows.cursor == 60 * 22
        assert len(rows._pages) * PAGE <= 240


@pytest.mark.parametrize(
    ("keys", "cursor"),
    [
        (("down",), 1),
        (("down", "down", "up"), 1),
        (("up",), 0),
        (("pagedown",), 22),
        (("pagedown", "pageup"), 0),
        (("end",), 999),
        (("end", "down"), 999),
        (("end", "home"), 0),
    ],
)
async def test_keys_move_the_cursor_and_it_is_seen(
    listed: Callable[..., Any], screen_text: ScreenText, keys: tuple[str, ...], cursor: int
) -> None:
    app, rows, _, _ = listed()
    async with app.run_test(size=(80, 24)) as pilot:
        rows.focus()
        await pilot.press(*keys)
        await pilot.pause()
        assert rows.cursor == cursor
        assert f"R{cursor} " in here(app, screen_text)


async def test_choosing_is_told(listed: Callable[..., Any]) -> None:
    app, rows, _, _ = listed(5)
    messages: list[Any] = []
    async with app.run_test(size=(80, 24), message_hook=messages.append) as pilot:
        rows.focus()
        await pilot.press("down", "enter")
    chosen = only(messages, Rows.Chosen)
    assert [one.rows.cursor for one in chosen] == [1]
    assert chosen[0].control is rows


async def test_the_first_click_moves_and_the_second_chooses(listed: Callable[..., Any]) -> None:
    app, rows, _, _ = listed(50)
    messages: list[Any] = []
    async with app.run_test(size=(80, 24), message_hook=messages.append) as pilot:
        await pilot.click(rows, offset=(5, 4))
        assert rows.cursor == 3
        assert not [one for one in messages if isinstance(one, Rows.Chosen)]
        await pilot.click(rows, offset=(5, 4))
        await pilot.pause()
    assert [one.rows.cursor for one in only(messages, Rows.Chosen)] == [3]


async def test_a_click_on_the_head_or_under_the_rows_does_nothing(listed: Callable[..., Any]) -> None:
    app, rows, _, _ = listed(3)
    messages: list[Any] = []
    async with app.run_test(size=(80, 24), message_hook=messages.append) as pilot:
        await pilot.click(rows, offset=(5, 0))
        await pilot.click(rows, offset=(5, 15))
    assert rows.cursor == 0
    assert not [one for one in messages if isinstance(one, Rows.Chosen)]


async def test_the_wheel_scrolls_and_the_head_stays(listed: Callable[..., Any], screen_text: ScreenText) -> None:
    app, rows, _, _ = listed()
    async with app.run_test(size=(80, 24)) as pilot:
        rows.scroll_to(y=100, animate=False, force=True)
        await pilot.pause()
        lines = screen_text(app).splitlines()
        assert lines[0].split()[0] == "machine"
        assert lines[1].split()[0] == "R100"


async def test_what_is_typed_after_a_slash_is_found(listed: Callable[..., Any], screen_text: ScreenText) -> None:
    app, rows, _, _ = listed()
    async with app.run_test(size=(80, 24)) as pilot:
        rows.focus()
        await pilot.press("slash", "r", "4", "2")
        assert rows.cursor == 42
        await pilot.pause()
        assert "/ r42_" in screen_text(app).splitlines()[0]
        await pilot.press("down")
        assert rows.cursor == 420
        await pilot.press("backspace", "7")
        assert rows.cursor == 470
        await pilot.press("escape")
        await pilot.pause()
        assert screen_text(app).splitlines()[0].split()[0] == "machine"
        await pilot.press("down")
        assert rows.cursor == 471


async def test_keys_that_come_in_one_burst_are_all_sought(listed: Callable[..., Any]) -> None:
    app, rows, _, _ = listed()
    async with app.run_test(size=(80, 24)) as pilot:
        rows.focus()
        await pilot.pause()
        for key, character in (("slash", "/"), ("r", "r"), ("4", "4"), ("2", "2"), ("enter", "\r"), ("down", None)):
            app.post_message(events.Key(key, character))  # as a terminal sends them, without waiting in between
        await pilot.pause()
        await pilot.pause()
        assert (rows.sought, rows.cursor) == (None, 43)


@pytest.mark.parametrize(("text", "sought", "cursor"), [("/r4\n2", "r4 2", 0), ("/r42", "r42", 42), ("r42", None, 0)])
async def test_what_is_pasted_after_a_slash_is_sought(
    listed: Callable[..., Any], text: str, sought: str | None, cursor: int
) -> None:
    app, rows, _, _ = listed()
    async with app.run_test(size=(80, 24)) as pilot:
        rows.focus()
        await pilot.pause()
        app.post_message(events.Paste(text))
        await pilot.pause()
        assert (rows.sought, rows.cursor) == (sought, cursor)


async def test_where_nothing_can_be_found_the_slash_is_no_key_of_the_list(small: Callable[..., App[Any]]) -> None:
    rows = Rows(COLUMNS, Yard(5))
    app = small(lambda: [rows])
    async with app.run_test() as pilot:
        rows.focus()
        await pilot.press("slash", "r")
        assert "slash" not in app.screen.active_bindings


async def test_enter_is_a_key_of_the_screen_where_the_list_leaves_it(small: Callable[..., App[Any]]) -> None:
    class Opening(small):  # type: ignore[misc, valid-type]
        BINDINGS = [Binding("enter", "bench", "Bench", id="opening.bench", tooltip="bench")]  # noqa: RUF012

    rows, other = Rows(COLUMNS, Yard(5), enter_chooses=False), Rows(COLUMNS, Yard(5), id="other")
    app = Opening(lambda: [rows, other])
    async with app.run_test() as pilot:
        rows.focus()
        await pilot.pause()
        binding = app.screen.active_bindings["enter"].binding
        assert (binding.description, binding.show) == ("Bench", True)
        other.focus()
        await pilot.pause()
        assert not app.screen.active_bindings["enter"].binding.show


async def test_a_state_has_sign_and_word_and_its_tone(listed: Callable[..., Any], screen_text: ScreenText) -> None:
    app, rows, _, _ = listed(7)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        shown = screen_text(app)
        styles = {segment.text.strip(): segment.style for segment in rows.render_line(1)}
    for sign_and_word in ("■ held", "◊ check due", "○ clear", "▲ overdue", "► due", "≈ soon", "· ok"):
        assert sign_and_word in shown
    assert styles["■ held"] is not None
    assert styles["■ held"] != styles["meadow 0"]


async def test_columns_give_way_in_a_narrow_place(listed: Callable[..., Any], screen_text: ScreenText) -> None:
    app, _, _, _ = listed(3)
    async with app.run_test(size=(48, 10)) as pilot:
        await pilot.pause()
        head = screen_text(app).splitlines()[0]
        assert "hours" not in head
        assert "what" in head
        await pilot.resize_terminal(100, 10)
        await pilot.pause()
        head, first, *_ = screen_text(app).splitlines()
        assert head.rstrip().endswith("hours")
        assert first.rstrip().endswith("0 h")


def at_any_width(text: str) -> Callable[[int], str]:
    return lambda width: text


async def test_text_in_cells_is_literal(
    small: Callable[..., App[Any]], hostile: tuple[str, ...], steers: set[str], screen_text: ScreenText
) -> None:
    cells = [(Cell(text), text, Content(text), Cell(text, "bad", at_any_width(text))) for text in hostile]
    app = small(lambda: [Rows(COLUMNS, cells)])
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        shown = screen_text(app)
    assert not steers & (set(shown) - {"\n"})
    assert "[$error]" in shown
    assert "Boom [red]A[/red]" in shown


async def test_other_rows_keep_the_cursor_as_far_as_it_goes(listed: Callable[..., Any]) -> None:
    app, rows, _, _ = listed(50)
    async with app.run_test(size=(80, 24)) as pilot:
        rows.focus()
        await pilot.press("end")
        rows.show(Yard(10))
        assert rows.cursor == 9
        rows.show(Yard(100), keep=30)
        await pilot.pause()
        assert rows.cursor == 30
        rows.show([])
        assert rows.cursor == 0
        await pilot.press("down", "enter", "pagedown", "end")
        assert rows.cursor == 0


async def test_an_empty_list_says_so(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    app = small(lambda: [Rows(COLUMNS, [], empty="No machine yet [/]: reelcare machine add CARD.toml")])
    async with app.run_test(size=(80, 10)) as pilot:
        await pilot.pause()
        assert "No machine yet [/]" in screen_text(app)


async def test_a_cell_can_be_drawn_for_its_width(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    app = small(
        lambda: [Rows((Column("a", 4), Column("line", 10, grows=True)), [("x", Cell("", "", lambda w: "─" * w))])]
    )
    async with app.run_test(size=(40, 5)) as pilot:
        await pilot.pause()
        assert screen_text(app).splitlines()[1].count("─") == 40 - 2 - 4 - 2


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize("theme", ["reelcare-dusk", "reelcare-noon"])
def test_picture_of_the_list(
    snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int], theme: str
) -> None:
    yard = Yard(200)
    app = small(lambda: [Rows(COLUMNS, yard)], theme=theme)
    assert snap_compare(app, terminal_size=size, press=["tab", "down", "down", "down"])

"""Forms: choices by one key, people and PINs, messages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.app import App
from textual.binding import Binding
from textual.widget import Widget
from textual.widgets import Input, Static

from reelcare.tui.requests import AskPerson, AskPin, Secret
from reelcare.tui.widgets.inputs.checkbox import Checkbox
from reelcare.tui.widgets.inputs.choice_list import LETTERS, ChoiceList, KeyChoice
from reelcare.tui.widgets.inputs.fields import LineInput
from reelcare.tui.widgets.inputs.people import PAGE, ChoosePerson, PinDialog

ScreenText = Callable[[App[Any]], str]
FEET = (
    KeyChoice("both", "both feet in the ground"),
    KeyChoice("one", "one foot loose [b]"),
    KeyChoice("none", "no foot"),
)


def only(messages: list[Any], kind: type[Any]) -> list[Any]:
    """The messages of a kind, each once, however far it went up."""
    return list({id(one): one for one in messages if isinstance(one, kind)}.values())


# -- choices ------------------------------------------------------------------------------------------------


async def test_the_text_of_a_box_is_wrapped_beside_it(small: Callable[..., App[Any]], screen_text: Any) -> None:
    app = small(lambda: [Checkbox("try the bore with a drill shank of its size, two ways")])
    async with app.run_test(size=(34, 6)) as pilot:
        await pilot.pause()
        lines = [line.rstrip() for line in screen_text(app).splitlines() if line.strip()]
    assert [line[2:] for line in lines] == ["[ ] try the bore with a drill", "    shank of its size, two ways"]


@pytest.mark.parametrize(("key", "id"), [("a", "both"), ("b", "one"), ("c", "none")])
async def test_one_key_gives_a_choice(small: Callable[..., App[Any]], key: str, id: str) -> None:
    messages: list[Any] = []
    made = ChoiceList(FEET, mark="given")
    app = small(lambda: [made])
    async with app.run_test(message_hook=messages.append) as pilot:
        made.focus()
        await pilot.press(key)
        await pilot.pause()
    [given] = only(messages, ChoiceList.Given)
    assert given.id == made.given == id
    assert given.control is made


async def test_other_keys_and_keys_beyond_the_choices_give_nothing(small: Callable[..., App[Any]]) -> None:
    messages: list[Any] = []
    made = ChoiceList(FEET, mark="given")
    app = small(lambda: [made])
    async with app.run_test(message_hook=messages.append) as pilot:
        made.focus()
        await pilot.press("d", "0", "1", "space", "enter")
        await pilot.pause()
    assert not only(messages, ChoiceList.Given)


async def test_a_click_and_the_arrows_give_a_choice_too(small: Callable[..., App[Any]]) -> None:
    messages: list[Any] = []
    made = ChoiceList(FEET, mark="given")
    app = small(lambda: [made])
    async with app.run_test(message_hook=messages.append) as pilot:
        await pilot.click(made, offset=(10, 1))
        made.focus()
        await pilot.press("up", "enter")
        await pilot.press("down", "down", "enter")
        await pilot.pause()
    assert [one.id for one in only(messages, ChoiceList.Given)] == ["one", "none", "one"]


async def test_long_words_are_wrapped_beside_their_key(
    small: Callable[..., App[Any]], screen_text: ScreenText, hostile: tuple[str, ...], steers: set[str]
) -> None:
    made = ChoiceList(
        [KeyChoice("a", "one foot loose, and " + "very " * 12 + "soft [/] ground"), KeyChoice("b", "none")],
        mark="given",
    )
    app = small(lambda: [made])
    async with app.run_test(size=(40, 20)) as pilot:
        await pilot.pause()
        first, second, third, *_ = screen_text(app).splitlines()
        assert first.startswith("  a   one foot loose")
        assert second.startswith("      very")
        assert "[/]" in second + third
        await made.ask([KeyChoice(str(number), text) for number, text in enumerate(hostile)])
        await pilot.pause()
        assert not steers & (set(screen_text(app)) - {"\n"})


async def test_what_was_given_before_is_marked_in_words(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    made = ChoiceList(FEET, given="one", mark="given")
    app = small(lambda: [made])
    async with app.run_test(size=(60, 6)) as pilot:
        await pilot.pause()
        assert "one foot loose [b]  ◂ given" in screen_text(app)
        await made.ask(FEET)
        await pilot.pause()
        assert "given" not in screen_text(app)


async def test_the_keys_of_choices_hide_the_same_keys_of_the_screen(small: Callable[..., App[Any]]) -> None:
    pressed: list[str] = []
    made = ChoiceList(FEET, mark="given")

    class Busy(small):  # type: ignore[misc, valid-type]
        BINDINGS = [  # noqa: RUF012
            Binding("a", "one", "One", id="busy.one", tooltip="one"),
            Binding("d", "nine", "Nine", id="busy.nine", tooltip="nine"),
        ]

        def action_one(self) -> None:
            pressed.append("a")

        def action_nine(self) -> None:
            pressed.append("d")

    app = Busy(lambda: [made])
    async with app.run_test() as pilot:
        made.focus()
        await pilot.press("a", "d")
    assert pressed == ["d"]


# -- people and signatures ----------------------------------------------------------------------------------

PEOPLE = {"Marta": "supervisor", "Tomas [x]": "mechanic", "Ines": "operator"}


async def answered(app: App[Any], dialog: Any, *keys: str, click: str = "") -> Any:
    """What a dialog gives back after keys."""
    answers: list[Any] = []
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(dialog, answers.append)
        await pilot.pause()
        await pilot.press(*keys)
        if click:
            await pilot.click(click)
        await pilot.pause()
        return answers[0] if answers else "open"


@pytest.mark.parametrize(
    ("keys", "answer"), [(("b",), "Tomas [x]"), (("c",), "Ines"), (("escape",), None), (("x",), "open")]
)
async def test_one_letter_says_who_one_is(small: Callable[..., App[Any]], keys: tuple[str, ...], answer: Any) -> None:
    assert await answered(small(lambda: [Static("")]), ChoosePerson(AskPerson(PEOPLE, "Ines")), *keys) == answer


MANY = {f"Person {number}": "operator" for number in range(60)}


async def test_more_people_than_have_room_are_on_pages(small: Callable[..., App[Any]]) -> None:
    assert await answered(small(lambda: [Static("")]), ChoosePerson(AskPerson(MANY)), "pagedown", "c") == "Person 16"
    assert await answered(small(lambda: [Static("")]), ChoosePerson(AskPerson(MANY)), "pageup", "a") == "Person 56"


async def test_everyone_of_a_page_is_in_sight_at_80x24_with_the_way_to_the_next(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    app = small(lambda: [Static("")])
    async with app.run_test(size=(80, 24)) as pilot:
        seen: set[str] = set()
        await app.push_screen(ChoosePerson(AskPerson(MANY)))
        for _ in range(-(-len(MANY) // PAGE)):
            await pilot.pause()
            shown = " ".join(screen_text(app).replace("│", " ").split())
            assert "Who is at this terminal?" in shown
            assert "PgDn for more" in shown
            seen |= {name for name in MANY if f"{name}, operator" in shown}
            await pilot.press("pagedown")
    assert seen == set(MANY)


async def test_in_a_low_window_the_mark_is_in_sight_on_whomever_it_is(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    app = small(lambda: [Static("")])
    async with app.run_test(size=(40, 12)) as pilot:
        await app.push_screen(ChoosePerson(AskPerson(MANY)))
        await pilot.press("up")
        await pilot.pause()
        assert f"▸ {LETTERS[PAGE - 1]} " in screen_text(app)


async def test_a_pin_is_given_back_and_never_shown(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    app = small(lambda: [Static("")])
    answers: list[Any] = []
    async with app.run_test(size=(80, 24)) as pilot:
        dialog = PinDialog(AskPin("Marta", "Release of R1", wrong="the PIN is not right [/]"))
        app.push_screen(dialog, answers.append)
        await pilot.pause()
        assert "the PIN is not right [/]" in screen_text(app)
        await pilot.press("enter")
        await pilot.pause()
        assert "no PIN was given" in screen_text(app)
        await pilot.press(*"493817")
        await pilot.pause()
        assert "493817" not in screen_text(app)
        line = dialog.query_one(Input)
        await pilot.press("enter")
        await pilot.pause()
        assert line.value == ""
    [pin] = answers
    assert pin.reveal() == "493817"
    assert "493817" not in f"{pin!r} {pin}"


async def test_a_y_in_a_pin_is_a_letter_of_the_pin(small: Callable[..., App[Any]]) -> None:
    answer = await answered(small(lambda: [Static("")]), PinDialog(AskPin("Marta", "x")), *"yn1", "enter")
    assert answer.reveal() == "yn1"


def test_a_secret_shows_stars() -> None:
    assert repr(Secret("1234")) == str(Secret("1234")) == "Secret(***)"


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_picture_of_a_form(snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int]) -> None:
    assert snap_compare(
        small(lambda: [ChoiceList(FEET, given="one", mark="given")]), terminal_size=size, press=["down"]
    )


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_picture_of_a_signature(snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int]) -> None:
    async def opened(pilot: Any) -> None:
        pilot.app.push_screen(PinDialog(AskPin("Marta", "Pre-start of R1", role="supervisor")))
        await pilot.pause()

    assert snap_compare(small(lambda: [Static("the yard")]), terminal_size=size, run_before=opened)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_picture_of_the_people(snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int]) -> None:
    async def opened(pilot: Any) -> None:
        pilot.app.push_screen(ChoosePerson(AskPerson(PEOPLE, "Ines")))
        await pilot.pause()

    assert snap_compare(small(lambda: [Static("the yard")]), terminal_size=size, run_before=opened)


async def test_a_line_scrolls_in_its_place_and_what_is_typed_lays_nothing_out(
    small: Callable[..., Any], screen_text: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = small(lambda: [LineInput(id="line")])
    async with app.run_test(size=(20, 4)) as pilot:
        app.query_one(LineInput).focus()
        await pilot.pause()
        laid: list[bool] = []
        real = Widget.refresh

        def refresh(self: Widget, *regions: Any, repaint: bool = True, layout: bool = False, **more: Any) -> Widget:
            laid.append(layout)
            return real(self, *regions, repaint=repaint, layout=layout, **more)

        monkeypatch.setattr(Widget, "refresh", refresh)
        await pilot.press(*"abcdefghijklmnopqrstuvwxyz0123456789")
        await pilot.pause()
        assert not any(laid)
        assert "0123456789" in screen_text(app)
        await pilot.press("home")
        await pilot.pause()
        assert "abcdef" in screen_text(app)

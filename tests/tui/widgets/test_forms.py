"""Forms: numbers with units, choices by one key, notes, people and signatures, messages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.app import App
from textual.binding import Binding
from textual.widgets import Input, Static, TextArea

from reelcare.core import units
from reelcare.tui.widgets.choice_list import Choice, ChoiceList
from reelcare.tui.widgets.message import MessagePanel
from reelcare.tui.widgets.note import Note
from reelcare.tui.widgets.people import ChoosePerson, Secret, Sign, Signature
from reelcare.tui.widgets.quantity import Quantity

ScreenText = Callable[[App[Any]], str]
FEET = (Choice("both", "both feet in the ground"), Choice("one", "one foot loose [b]"), Choice("none", "no foot"))


def only(messages: list[Any], kind: type[Any]) -> list[Any]:
    """The messages of a kind, each once, however far it went up."""
    return list({id(one): one for one in messages if isinstance(one, kind)}.values())


# -- a number with its unit ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("system", "typed", "text", "value"),
    [
        ("metric", "0.5", "0.5 bar", 50000.0),
        ("us", "10", "10 psi", 68947.57),
        ("metric", "10 psi", "10 psi", 68947.57),
        ("us", "0.69bar", "0.69bar", 69000.0),
    ],
)
async def test_the_unit_follows_the_person_unless_another_is_typed(
    small: Callable[..., App[Any]], system: units.System, typed: str, text: str, value: float
) -> None:
    line = Quantity("pressure", system=system, role="drive loss")
    messages: list[Any] = []
    app = small(lambda: [line])
    async with app.run_test(message_hook=messages.append) as pilot:
        line.focus()
        await pilot.press(*(("space" if sign == " " else sign) for sign in typed), "enter")
        await pilot.pause()
    [given] = only(messages, Quantity.Given)
    assert given.text == text
    # 1 psi = 6894.757 Pa: NIST Special Publication 811, appendix B.8
    assert given.value == pytest.approx(value, rel=1e-6)


async def test_it_is_judged_while_it_is_typed(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    asked: list[str] = []

    def judge(text: str) -> tuple[Any, str]:
        asked.append(text)
        return ("wrong", f"{text} [/]; at most 0.70 bar") if text == "0.9 bar" else ("right", text)

    line = Quantity("pressure", role="drive loss", judge=judge)
    app = small(lambda: [line])
    async with app.run_test(size=(60, 8)) as pilot:
        line.focus()
        await pilot.press("0", ".", "9")
        await pilot.pause()
        assert "✗ wrong  0.9 bar [/]; at most 0.70 bar" in screen_text(app)
        assert asked == ["0 bar", "0. bar", "0.9 bar"]
        await pilot.press("backspace", "backspace", "backspace")
        await pilot.pause()
        assert "wrong" not in screen_text(app)


async def test_what_cannot_be_read_is_told_and_stays(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    line = Quantity("pressure")
    messages: list[Any] = []
    app = small(lambda: [line])
    async with app.run_test(size=(100, 8), message_hook=messages.append) as pilot:
        line.focus()
        await pilot.press("7", ",", "5", "enter")
        await pilot.pause()
        assert "¿ unreadable" in screen_text(app)
        assert "7,5" in line.query_one(Input).value
        assert line.value is None
        assert not only(messages, Quantity.Given)
        line.query_one(Input).clear()
        await pilot.press("enter")
        await pilot.pause()
        assert "unreadable" in screen_text(app)


async def test_a_count_has_no_unit_and_other_quantities_can_be_asked(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    line = Quantity("count")
    app = small(lambda: [line])
    async with app.run_test(size=(60, 8)) as pilot:
        line.focus()
        await pilot.press("3")
        assert (line.typed, line.value, line.unit) == ("3", 3.0, "")
        line.ask("length", system="us", text="12")
        await pilot.pause()
        assert line.typed == "12 ft"
        assert line.value == pytest.approx(12 * 0.3048)
        assert " ft" in screen_text(app)


async def test_a_decimal_comma_is_read_where_the_person_writes_one(small: Callable[..., App[Any]]) -> None:
    line = Quantity("pressure", decimal_comma=True)
    app = small(lambda: [line])
    async with app.run_test() as pilot:
        line.focus()
        await pilot.press("7", ",", "5")
        assert line.value == pytest.approx(750000)


# -- choices ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("key", "id"), [("1", "both"), ("2", "one"), ("3", "none")])
async def test_one_key_gives_a_choice(small: Callable[..., App[Any]], key: str, id: str) -> None:
    messages: list[Any] = []
    made = ChoiceList(FEET)
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
    made = ChoiceList(FEET)
    app = small(lambda: [made])
    async with app.run_test(message_hook=messages.append) as pilot:
        made.focus()
        await pilot.press("4", "0", "a", "space", "enter")
        await pilot.pause()
    assert not only(messages, ChoiceList.Given)


async def test_a_click_and_the_arrows_give_a_choice_too(small: Callable[..., App[Any]]) -> None:
    messages: list[Any] = []
    made = ChoiceList(FEET)
    app = small(lambda: [made])
    async with app.run_test(message_hook=messages.append) as pilot:
        await pilot.click(made, offset=(10, 1))
        made.focus()
        await pilot.press("up", "enter")
        await pilot.press("down", "down", "enter")
        await pilot.pause()
    assert [one.id for one in only(messages, ChoiceList.Given)] == ["one", "none", "one"]


async def test_more_than_nine_choices_have_letters(small: Callable[..., App[Any]]) -> None:
    messages: list[Any] = []
    made = ChoiceList([Choice(str(number), f"number {number}") for number in range(12)])
    app = small(lambda: [made])
    async with app.run_test(message_hook=messages.append) as pilot:
        made.focus()
        await pilot.press("l")
        await pilot.pause()
    assert [one.id for one in only(messages, ChoiceList.Given)] == ["11"]


async def test_long_words_are_wrapped_beside_their_key(
    small: Callable[..., App[Any]], screen_text: ScreenText, hostile: tuple[str, ...], steers: set[str]
) -> None:
    made = ChoiceList([Choice("a", "one foot loose, and " + "very " * 12 + "soft [/] ground"), Choice("b", "none")])
    app = small(lambda: [made])
    async with app.run_test(size=(40, 20)) as pilot:
        await pilot.pause()
        first, second, third, *_ = screen_text(app).splitlines()
        assert first.startswith("  1   one foot loose")
        assert second.startswith("      very")
        assert "[/]" in second + third
        await made.ask([Choice(str(number), text) for number, text in enumerate(hostile)])
        await pilot.pause()
        assert not steers & (set(screen_text(app)) - {"\n"})


async def test_what_was_given_before_is_marked_in_words(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    made = ChoiceList(FEET, given="one")
    app = small(lambda: [made])
    async with app.run_test(size=(60, 6)) as pilot:
        await pilot.pause()
        assert "one foot loose [b]  ◂ given" in screen_text(app)
        await made.ask(FEET)
        await pilot.pause()
        assert "given" not in screen_text(app)


async def test_the_keys_of_choices_hide_the_same_keys_of_the_screen(small: Callable[..., App[Any]]) -> None:
    pressed: list[str] = []
    made = ChoiceList(FEET)

    class Busy(small):  # type: ignore[misc, valid-type]
        BINDINGS = [  # noqa: RUF012
            Binding("1", "one", "One", id="busy.one", tooltip="one"),
            Binding("9", "nine", "Nine", id="busy.nine", tooltip="nine"),
        ]

        def action_one(self) -> None:
            pressed.append("1")

        def action_nine(self) -> None:
            pressed.append("9")

    app = Busy(lambda: [made])
    async with app.run_test() as pilot:
        made.focus()
        await pilot.press("1", "9")
    assert pressed == ["9"]


# -- notes and messages -------------------------------------------------------------------------------------


async def test_a_note_has_lines_and_says_when_it_is_too_long(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    note = Note(longest=10, hint="what you saw")
    app = small(lambda: [note, Input(id="next")])
    async with app.run_test(size=(60, 12)) as pilot:
        note.focus()
        assert "what you saw" in screen_text(app)
        await pilot.press("a", "enter", "b", "[", "/", "]")
        assert note.text == "a\nb[/]"
        assert note.fits
        await pilot.press(*"0123456")
        await pilot.pause()
        assert "✗ wrong  3 characters too many" in screen_text(app)
        assert not note.fits
        await pilot.press("tab")
        assert app.focused is app.query_one("#next")
        note.text = "short"
        await pilot.pause()
        assert note.query_one(TextArea).text == "short"


async def test_a_message_keeps_what_was_typed(
    small: Callable[..., App[Any]], screen_text: ScreenText, hostile: tuple[str, ...], steers: set[str]
) -> None:
    panel = MessagePanel()
    app = small(lambda: [Input(value="1203 [b]"), panel])
    async with app.run_test(size=(70, 12)) as pilot:
        line = app.query_one(Input)
        assert not panel.display
        panel.tell("wrong", "the hour counter went back", typed=line.value)
        await pilot.pause()
        shown = screen_text(app)
        assert "✗ wrong  the hour counter went back" in shown
        assert "typed  1203 [b]" in shown
        assert line.value == "1203 [b]"
        for text in hostile:
            panel.tell("noted", text, typed=text)
            await pilot.pause()
            assert not steers & (set(screen_text(app)) - {"\n"})
        panel.hush()
        assert not panel.display


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
    assert await answered(small(lambda: [Static("")]), ChoosePerson(PEOPLE, now="Ines"), *keys) == answer


async def test_more_people_than_letters_are_on_pages(small: Callable[..., App[Any]]) -> None:
    many = {f"Person {number}": "operator" for number in range(60)}
    assert await answered(small(lambda: [Static("")]), ChoosePerson(many), "pagedown", "c") == "Person 28"
    assert await answered(small(lambda: [Static("")]), ChoosePerson(many), "pageup", "a") == "Person 52"


@pytest.mark.parametrize(("keys", "answer"), [(("y",), Signature("Marta")), (("n",), None), (("escape",), None)])
async def test_a_signature_without_a_pin_is_one_key(
    small: Callable[..., App[Any]], keys: tuple[str, ...], answer: Any
) -> None:
    assert await answered(small(lambda: [Static("")]), Sign("Marta", "Pre-start of R1", ["[/] done"]), *keys) == answer


@pytest.mark.parametrize(("click", "answer"), [("#yes", Signature("Marta")), ("#no", None)])
async def test_a_signature_by_mouse(small: Callable[..., App[Any]], click: str, answer: Any) -> None:
    assert await answered(small(lambda: [Static("")]), Sign("Marta", "Pre-start of R1"), click=click) == answer


async def test_a_pin_is_given_back_and_never_shown(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    app = small(lambda: [Static("")])
    answers: list[Any] = []
    async with app.run_test(size=(80, 24)) as pilot:
        dialog = Sign("Marta", "Release of R1", pin=True, wrong="the PIN is not right [/]")
        app.push_screen(dialog, answers.append)
        await pilot.pause()
        assert "the PIN is not right [/]" in screen_text(app)
        await pilot.press("enter")
        await pilot.pause()
        assert "the PIN is missing" in screen_text(app)
        await pilot.press(*"493817")
        await pilot.pause()
        assert "493817" not in screen_text(app)
        line = dialog.query_one(Input)
        await pilot.press("enter")
        await pilot.pause()
        assert line.value == ""
    [signature] = answers
    assert signature.person == "Marta"
    assert signature.pin.reveal() == "493817"
    assert "493817" not in f"{signature!r} {signature.pin} {signature}"


async def test_a_y_in_a_pin_is_a_letter_of_the_pin(small: Callable[..., App[Any]]) -> None:
    answer = await answered(small(lambda: [Static("")]), Sign("Marta", "x", pin=True), *"yn1", "enter")
    assert answer.pin.reveal() == "yn1"


def test_a_secret_shows_stars() -> None:
    assert repr(Secret("1234")) == str(Secret("1234")) == "Secret(***)"


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_picture_of_a_form(snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int]) -> None:
    panel = MessagePanel()

    async def told(pilot: Any) -> None:
        panel.tell("wrong", "the hour counter went back: 1203 h, was 1240 h", typed="1203 [b]")

    def made() -> list[Any]:
        return [
            ChoiceList(FEET, given="one"),
            Quantity(
                "pressure", role="drive loss", text="0.9", judge=lambda text: ("wrong", f"{text}; at most 0.70 bar")
            ),
            Note("a note [/]\nof two lines"),
            panel,
        ]

    assert snap_compare(small(made), terminal_size=size, press=["down"], run_before=told)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize("pin", [False, True])
def test_picture_of_a_signature(
    snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int], pin: bool
) -> None:
    async def opened(pilot: Any) -> None:
        dialog = Sign(
            "Marta", "Pre-start of R1", ["40 answered.", "The manual comes first."], role="supervisor", pin=pin
        )
        pilot.app.push_screen(dialog)
        await pilot.pause()

    assert snap_compare(small(lambda: [Static("the yard")]), terminal_size=size, run_before=opened)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_picture_of_the_people(snap_compare: Any, small: Callable[..., App[Any]], size: tuple[int, int]) -> None:
    async def opened(pilot: Any) -> None:
        pilot.app.push_screen(ChoosePerson(PEOPLE, now="Ines"))
        await pilot.pause()

    assert snap_compare(small(lambda: [Static("the yard")]), terminal_size=size, run_before=opened)

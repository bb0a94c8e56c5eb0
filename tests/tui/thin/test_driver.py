"""The driver for thin lines where something comes between: another thread or a signal, an error, another size."""

import sys
from threading import Thread
from types import SimpleNamespace
from typing import Any

import pytest
from textual.events import Resize
from textual.geometry import Size

if sys.platform == "win32":
    pytest.skip("the driver is of Unix", allow_module_level=True)

from textual.drivers.linux_driver import LinuxDriver

from reelcare.tui.thin.driver import ThinDriver, erases_in_colour
from reelcare.tui.thin.screen import Screen

SIZE = Size(14, 5)
BEGIN = "\x1b[?1049h\x1b[?25l\x1b[?7l"
FRAME = "\n".join(f"\x1b[{row + 1};1H{'a' * 14}" for row in range(5)) + "\x1b[1;1H"


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What reaches the terminal, in the place of one."""
    texts: list[str] = []
    monkeypatch.setattr(LinuxDriver, "__init__", lambda self, app, **_: setattr(self, "_app", app))
    monkeypatch.setattr(LinuxDriver, "write", lambda _, data: texts.append(data))
    monkeypatch.setattr(LinuxDriver, "start_application_mode", lambda self: self.write(BEGIN))
    monkeypatch.setattr(LinuxDriver, "_get_terminal_size", lambda _: tuple(SIZE))
    monkeypatch.setattr(LinuxDriver, "process_message", lambda *_: None)
    return texts


@pytest.fixture
def driver(sent: list[str]) -> ThinDriver:
    """A driver whose terminal shows the frame."""
    one = ThinDriver(SimpleNamespace(size=SIZE))
    one.start_application_mode()
    for _ in range(2):
        one.write(FRAME)
    sent.clear()
    return one


def test_what_stands_there_is_not_sent_again(driver: ThinDriver, sent: list[str]) -> None:
    driver.write(FRAME)
    assert sent == []


@pytest.mark.parametrize("way", ["signal", "thread"])
def test_a_text_that_comes_while_another_is_at_work_goes_out_whole_and_does_not_wait(
    driver: ThinDriver, sent: list[str], monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    thin = Screen.thin

    def interrupted(screen: Screen, text: str) -> str:
        monkeypatch.setattr(Screen, "thin", thin)
        if way == "signal":
            driver.write("\x1b[?1000l")
        else:
            other = Thread(target=driver.write, args=("\x1b[?1000l",), daemon=True)
            other.start()
            other.join(10)
            assert not other.is_alive()
        return thin(screen, text)

    monkeypatch.setattr(Screen, "thin", interrupted)
    driver.write(FRAME.replace("a", "b", 1))
    assert sent[0] == "\x1b[?1000l"
    assert sent[1].count("b") == 1
    driver.write(FRAME)
    assert sent[2].count("a") == 14 * 5


def test_modes_that_went_by_while_a_text_was_at_work_are_told_again_as_they_are(
    driver: ThinDriver, sent: list[str]
) -> None:
    driver.write("\x1b[?1000h")
    with driver._at_work:
        driver.write("\x1b[?1000l")
    driver.write(FRAME)
    sent.clear()
    driver.send_all_again()
    assert sent[0].startswith("\x1b[?25l\x1b[?7l\x1b[?1000l")
    assert sent[0].count("a") == 14 * 5


def test_after_an_error_all_goes_out_as_it_comes(
    driver: ThinDriver, sent: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: Any) -> str:
        raise AssertionError("a cell that is not known")

    monkeypatch.setattr(driver._screen, "thin", fails)
    with pytest.raises(AssertionError, match="not known"):
        driver.write(FRAME)
    ends = ["\x1b[?1000l", "\x1b[<u", "\x1b[?1049l", "\x1b[?25h"]
    for text in ends:
        driver.write(text)
    assert sent == ends


@pytest.mark.parametrize(("sizes", "known"), [([(14, 5)], True), ([(20, 5)], False), ([(20, 5), (14, 5)], False)])
def test_only_another_size_makes_the_terminal_unknown(
    driver: ThinDriver, sent: list[str], sizes: list[tuple[int, int]], known: bool
) -> None:
    for place, size in enumerate(sizes):
        if place:
            driver.write(FRAME)  # between two sizes the app still draws in the first
            sent.clear()
        driver.process_message(Resize(Size(*size), Size(*size)))
    driver.write(FRAME)
    assert (sent == []) is known


def test_going_on_after_having_been_away_nothing_is_known(driver: ThinDriver, sent: list[str]) -> None:
    driver.start_application_mode()
    sent.clear()
    driver.write(FRAME)
    assert sent[0].count("a") == 14 * 5


def test_where_there_is_no_table_of_terminals_nothing_is_erased_in_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "curses", None)
    assert erases_in_colour() is False

"""The tests' own terminal tells what it showed, where a text that a test waits for never comes."""

import sys

import pytest

from tests.tui.emulator import Emulator

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of Unix")

CHATTERS = "print('ready', flush=True); input()\nwhile True: print('done', flush=True)"
ASKS = "print('ready', flush=True); input(); print('done', flush=True); {}"


@pytest.mark.long
@pytest.mark.parametrize(
    ("program", "emulated"), [(ASKS.format("input()"), True), (CHATTERS, False)], ids=["waits", "chatters"]
)
def test_a_text_that_never_comes_fails_with_what_was_on_the_screen(program: str, emulated: bool) -> None:
    from tests.tui.terminal import run

    keys = [(b"ready", b"\n"), (b"never shown", b"x")]
    with pytest.raises(AssertionError, match=r"(?s)never shown.*did not come; there is:.*done"):
        run(["-c", program], keys=keys, screen=Emulator(80, 24) if emulated else None, patience=2)


def test_a_program_that_ends_too_soon_fails_with_what_was_on_the_screen() -> None:
    from tests.tui.terminal import run

    with pytest.raises(AssertionError, match=r"(?s)ended before.*never shown.*done"):
        run(["-c", ASKS.format("")], keys=[(b"ready", b"\n"), (b"never shown", b"x")])


def test_keys_are_pressed_once_their_texts_have_come() -> None:
    from tests.tui.terminal import run

    seen, code = run(
        ["-c", ASKS.format("raise SystemExit(input() != 'yes')")], keys=[(b"ready", b"\n"), (b"done", b"yes\n")]
    )
    assert code == 0, seen

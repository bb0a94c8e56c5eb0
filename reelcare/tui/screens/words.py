"""A few words that are asked for and then written: what could not be written is not lost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskText


async def ask_and_write(screen: BaseScreen, request: AskText, write: Callable[[str], bool]) -> None:
    """Ask for words, and write them when it is this program's turn. Where that cannot be, they stand there again when
    the same is asked once more on this screen. Only in a worker."""
    about = (request.title, request.says)
    words = await screen.ask(replace(request, value=screen.unsaved.get(about, request.value)))
    if not words:
        return
    screen.unsaved[about] = words

    def in_turn() -> None:
        if write(words):
            del screen.unsaved[about]

    screen.host.in_turn(in_turn)

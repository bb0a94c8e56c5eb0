"""Text beside a list: what is drawn is what was told last, and only lines that look otherwise are drawn again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from textual.app import App
from textual.geometry import Region
from textual.widgets import Static

from reelcare.tui.text import lines, said
from reelcare.tui.theme import DUSK, NOON
from reelcare.tui.widgets.detail_panel import DetailPanel

ScreenText = Callable[[App[Any]], str]


def panel(*told: str) -> DetailPanel:
    one = DetailPanel()
    one.styles.height = 8
    one.tell(lines(*[said(text) for text in told]))
    return one


async def test_only_the_lines_that_look_otherwise_are_drawn(
    small: Callable[..., App[Any]], screen_text: ScreenText, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = panel("R1  Long Reach", "held  run: pawl", "due  chain")
    app = small(lambda: [one])
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.pause()
        asked: list[Region] = []
        monkeypatch.setattr(one, "refresh", lambda *regions, **how: asked.extend(regions))
        one.tell(lines(said("R1  Long Reach"), said("clear  run"), said("due  chain")))
        assert [region.y for region in asked] == [1]
        asked.clear()
        one.tell(lines(said("R1  Long Reach"), said("clear  run")))
        assert [region.y for region in asked] == [2]
        monkeypatch.undo()
        one.refresh()
        await pilot.pause()
        assert screen_text(app).split("\n")[:3] == [text.ljust(40) for text in ("R1  Long Reach", "clear  run", "")]


async def test_another_theme_colours_it_anew(small: Callable[..., App[Any]]) -> None:
    one = panel("R1")
    app = small(lambda: [one])
    async with app.run_test(size=(20, 10)) as pilot:
        await pilot.pause()
        dusk = one.render_line(0)
        app.theme = NOON
        await pilot.pause()
        noon = one.render_line(0)
        app.theme = DUSK
        await pilot.pause()
        assert noon.text == dusk.text
        assert noon != dusk
        assert one.render_line(0) == dusk


async def test_what_has_no_room_is_not_left_out_unsaid(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    one = panel(*"abcdefgh")
    app = small(lambda: [one])
    async with app.run_test(size=(12, 10)) as pilot:
        await pilot.pause()
        assert screen_text(app).split("\n")[7].rstrip() == "h", "all of it has room"
        one.tell(lines(*[said(text) for text in "abcdefg"], said("held by the stop")))
        await pilot.pause()
        assert screen_text(app).split("\n")[7].rstrip() == "held by …"
        one.tell(lines(*[said(text) for text in "abcdefg"], said("heldbythestop")))
        await pilot.pause()
        assert screen_text(app).split("\n")[7] == "heldbythes …"


@pytest.mark.long
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(st.text(max_size=30), min_size=1, max_size=6), min_size=1, max_size=3))
async def test_it_shows_what_any_widget_of_text_would_show(
    small: Callable[..., App[Any]], screen_text: ScreenText, told: list[list[str]]
) -> None:
    one, plain = panel("before"), Static()
    one.styles.height = plain.styles.height = 24  # all of it has room
    app, other = small(lambda: [one]), small(lambda: [plain])
    async with app.run_test(size=(24, 26)) as pilot, other.run_test(size=(24, 26)) as beside_it:
        for texts in told:
            content = lines(*[said(text) for text in texts])
            one.tell(content)
            plain.update(content)
            await pilot.pause()
            await beside_it.pause()
            assert screen_text(app) == screen_text(other)

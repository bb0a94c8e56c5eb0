"""The drawings on the screen: machine, drum, pressure, weeks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from textual.app import App
from textual.widget import Widget

from reelcare import languages
from reelcare.core.drawing.machine import FOR_THE_ROAD, WalkRoute
from reelcare.core.drawing.pressure import PressurePoint
from reelcare.core.drawing.section import Wound
from reelcare.core.forecast.forecast import Forecast
from reelcare.core.machine.card import Card, Cart, Drum, Legs, read_card
from reelcare.tui.widgets.drawings.drum_section import DrumSection
from reelcare.tui.widgets.drawings.machine_plan import MachinePlan
from reelcare.tui.widgets.drawings.pressure_line import PressureLine
from reelcare.tui.widgets.drawings.time_line import time_cell
from reelcare.tui.widgets.rows import Column, Rows
from tests.core.drawing.test_machine import IRRIGATING

ScreenText = Callable[[App[Any]], str]
WALK = WalkRoute.of(["site", "turntable", "jack", "legs", "cart", "pawl", "drive", "hose", "supply hose", "gun"], 3)
SOME = {"drum heading": "lane", "turntable pin": "in", "legs": "set", "cart": "lowered"}
LINE = (
    PressurePoint("inlet", 690000),
    PressurePoint("after the drive", 640000),
    PressurePoint("end of the hose", 445000),
    PressurePoint("gun", 425000, (400000, 500000)),
)
ITEMS: tuple[tuple[str, str, Forecast | None], ...] = (
    ("chain [b]", "overdue", None),
    ("gearbox oil", "soon", Forecast(date(2026, 5, 9), date(2026, 5, 20), date(2026, 6, 10))),
    ("hose", "ok", Forecast(date(2026, 8, 1), date(2026, 9, 20), date(2026, 12, 10))),
)


def plan(
    machine: Card, size: tuple[int, int], lit: str, positions: dict[str, str], walk: WalkRoute | None
) -> MachinePlan:
    made = MachinePlan(machine)
    made.styles.width, made.styles.height = size
    made.light(lit, positions, walk)
    return made


def pressures() -> PressureLine:
    made = PressureLine()
    made.flow(LINE, "metric")
    return made


async def test_the_plan_says_what_it_shows(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    made = MachinePlan(read_card({"tag": "R1", "legs": {"kind": "hydraulic"}}))
    app = small(lambda: [made])
    async with app.run_test(size=(80, 24)) as pilot:
        made.light("legs", SOME, WALK)
        await pilot.pause()
        shown = screen_text(app)
        assert "◆ legs: legs set" in shown
        assert "6 places to go; next: cart" in shown
        languages.install("es")
        made.light("legs", SOME, WALK)
        await pilot.pause()
        assert "patas clavadas" in screen_text(app)
        made.light("", {})
        await pilot.pause()
        assert "◆" not in screen_text(app)
        assert "?" not in screen_text(app)


async def test_the_plan_is_drawn_larger_where_there_is_room(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    made = plan(Card("R1"), (60, 40), "pawl", IRRIGATING, WALK)
    app = small(lambda: [made])
    async with app.run_test(size=(60, 40)) as pilot:
        await pilot.pause()
        shown = screen_text(app)
        assert made.picture(60, 40).width == 60
        for line in ("drum to the lane", "pawl down", "drive in", "cart out on the lane"):
            assert line in shown


async def test_the_lit_part_is_seen_without_colour(
    small: Callable[..., App[Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    made = plan(Card("R1"), (34, 16), "gearbox", IRRIGATING, None)
    app = small(lambda: [made])
    async with app.run_test(size=(34, 16)) as pilot:
        await pilot.pause()
        strips = app.screen._compositor.render_strips()
        grounds = {
            segment.style.bgcolor
            for strip in strips
            for segment in strip
            if segment.style is not None and segment.text.strip()
        }
        assert len(grounds) == 2
        assert sum(strip.text.count("◆") for strip in strips[:14]) == 1


async def test_too_few_coils_are_told(small: Callable[..., App[Any]], screen_text: ScreenText) -> None:
    made = DrumSection(Wound(12, 5, 30))
    app = small(lambda: [made])
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "layer 3 of 5, coil 6 of 12" in screen_text(app)
        made.wind(Wound(12, 5, 1))
        await pilot.pause()
        assert "✗ 1.0 coils" in screen_text(app)
        assert "fewer than 2" in screen_text(app)


async def test_pressures_change_and_the_line_has_as_many_rows(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    made = pressures()
    app = small(lambda: [made])
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert made.size.height == 4
        made.flow(LINE[:2], "us")
        await pilot.pause()
        assert made.size.height == 2
        assert "100 psi" in screen_text(app)
        assert "93 psi" in screen_text(app)


async def test_a_line_in_a_list_is_as_wide_as_its_column(
    small: Callable[..., App[Any]], screen_text: ScreenText
) -> None:
    today = date(2026, 5, 1)
    rows = [(name, time_cell(ahead, state, today)) for name, state, ahead in ITEMS]
    app = small(lambda: [Rows((Column("what", 12), Column("weeks", 10, grows=True)), rows)])
    for width in (40, 70):
        async with app.run_test(size=(width, 6)) as pilot:
            await pilot.pause()
            first, second, third = screen_text(app).splitlines()[1:4]
            assert first == "▸ chain [b]     ◄" + "·" * (width - 17)
            assert "├" in second
            assert third.endswith("►")
        app = small(lambda: [Rows((Column("what", 12), Column("weeks", 10, grows=True)), rows)])


PICTURES: dict[str, Callable[[], list[Widget]]] = {
    "lane": lambda: [plan(Card("R1"), (34, 16), "legs", SOME, WALK)],
    "irrigating": lambda: [
        plan(Card("R1", legs=Legs("hydraulic")), (34, 16), "gun", IRRIGATING, WalkRoute.of(WALK.parts, 9))
    ],
    "road": lambda: [
        plan(Card("R1"), (34, 16), "lights", FOR_THE_ROAD, WalkRoute(("turntable", "lights", "wheels"), 1))
    ],
    "boom": lambda: [
        plan(Card("R1", cart=Cart("boom"), drum=Drum(turntable=False)), (34, 16), "cart", IRRIGATING, None)
    ],
    "instruments": lambda: [
        DrumSection(Wound(12, 5, 30.5)),
        pressures(),
    ],
}


@pytest.mark.parametrize("name", PICTURES)
def test_picture_in_a_small_terminal(snap_compare: Any, small: Callable[..., App[Any]], name: str) -> None:
    assert snap_compare(small(PICTURES[name]), terminal_size=(80, 24))


@pytest.mark.parametrize("name", ["lane", "irrigating", "road", "boom"])
def test_picture_in_a_large_terminal(snap_compare: Any, small: Callable[..., App[Any]], name: str) -> None:
    def large() -> list[Widget]:
        widgets = PICTURES[name]()
        for one in widgets:
            one.styles.width, one.styles.height = 60, 40
        return widgets

    assert snap_compare(small(large), terminal_size=(120, 40))


@pytest.mark.parametrize("name", ["lane", "instruments"])
@pytest.mark.parametrize("dressed", [{"theme": "reelcare-noon"}, {"ascii_only": True}], ids=["noon", "ascii"])
def test_picture_in_daylight_and_in_ascii(
    snap_compare: Any, small: Callable[..., App[Any]], name: str, dressed: dict[str, Any]
) -> None:
    assert snap_compare(small(PICTURES[name], **dressed), terminal_size=(120, 40))

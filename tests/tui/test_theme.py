"""The themes: legible against every ground, and without colour."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import product
from typing import Any

import pytest
from textual.app import App
from textual.color import Color
from textual.filter import Monochrome
from textual.theme import Theme
from textual.widgets import Static

from reelcare.tui.theme import DARK, DUSK, LIGHT, NOON, PLAIN_SIGNS, SIGNS, STYLES, TONES, apply_theme, state, stated


def luminance(color: Color) -> float:
    """Relative luminance (W3C, Web Content Accessibility Guidelines 2.1, definition of relative luminance)."""
    parts = [value / 255 for value in (color.r, color.g, color.b)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (the same guidelines)."""
    low, high = sorted((luminance(Color.parse(one)), luminance(Color.parse(other))))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_is_that_of_the_guidelines() -> None:
    # the guidelines' own ends of the scale
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


INKS = (
    "text-primary",
    "text-secondary",
    "text-accent",
    "text-warning",
    "text-error",
    "text-success",
    "text-muted",
    "foreground",
)
GROUNDS = ("background", "surface", "panel")


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dusk", "noon"])
@pytest.mark.parametrize(("ink", "ground"), list(product(INKS, GROUNDS)))
def test_every_ink_stands_off_every_ground(theme: Theme, ink: str, ground: str) -> None:
    colors = {**theme.to_color_system().generate(), **theme.variables}
    # success criterion 1.4.3 of the guidelines
    assert contrast(colors[ink], colors[ground]) >= 4.5


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dusk", "noon"])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        ("block-cursor-foreground", "block-cursor-background"),
        ("foreground", "block-cursor-blurred-background"),
        ("text-error", "block-cursor-background"),
        ("text-warning", "block-cursor-background"),
        ("text-success", "block-cursor-background"),
        ("text-muted", "block-cursor-background"),
        ("footer-key-foreground", "footer-background"),
        ("input-cursor-foreground", "input-cursor-background"),
        ("foreground", "input-selection-background"),
    ],
)
def test_inks_stand_off_the_cursor(theme: Theme, ink: str, ground: str) -> None:
    colors = {**theme.to_color_system().generate(), **theme.variables}
    # success criterion 1.4.11: 3 to 1 for what is told by sign and word as well
    assert contrast(colors[ink], colors[ground]) >= 3


def test_every_state_has_sign_tone_and_style() -> None:
    assert set(SIGNS) == set(PLAIN_SIGNS) == set(TONES)
    assert set(TONES.values()) <= set(STYLES)
    assert state("held", plain=True).isascii()
    assert stated("held", "late [/]").plain == "■ held  late [/]"


def test_only_our_themes_are_left(small: Callable[..., App[Any]]) -> None:
    app = small(list)
    assert set(app.available_themes) == {DUSK, NOON}
    assert small(list, theme="nord").theme == DUSK


async def test_without_colour_everything_is_grey_and_seen(
    monkeypatch: pytest.MonkeyPatch, small: Callable[..., App[Any]]
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = small(lambda: [Static(stated("held", "the stop is late"))])
    assert any(isinstance(one, Monochrome) for one in app._filters)
    async with app.run_test(size=(40, 5)) as pilot:
        await pilot.pause()
        [line, *_] = app.screen._compositor.render_strips()
        for segment in line:
            if not segment.text.strip():
                continue
            assert segment.style is not None
            ink, ground = segment.style.color, segment.style.bgcolor
            assert ink is not None
            assert ground is not None
            assert ink.triplet is not None
            assert ground.triplet is not None
            assert len({*ink.triplet}) == len({*ground.triplet}) == 1
            assert contrast(ink.triplet.hex, ground.triplet.hex) >= 4.5


async def test_the_theme_can_be_changed_while_it_runs(small: Callable[..., App[Any]]) -> None:
    app = small(lambda: [Static("x")])
    async with app.run_test() as pilot:
        app.theme = NOON
        await pilot.pause()
        assert not app.current_theme.dark


def test_no_colour_is_written_outside_the_theme() -> None:
    """The sheet and the widgets name the theme's colours; a colour itself stands in theme.py only."""
    import re

    import reelcare.tui

    folder = os.path.dirname(reelcare.tui.__file__)
    for here, _, names in os.walk(folder):
        for name in names:
            if name.endswith((".py", ".tcss")) and name != "theme.py":
                with open(os.path.join(here, name), encoding="utf-8") as file:
                    found = re.findall(r"#[0-9a-fA-F]{6}\b|rgb\(", file.read())
                assert not found, (name, found)


def test_the_sheet_of_a_screen_reaches_that_screen_alone() -> None:
    """A screen's sheet stays loaded when the screen is left: a rule by an id alone would reach the next screen, too."""
    import re

    from reelcare.tui import screens

    for name in os.listdir(os.path.dirname(screens.__file__)):
        if name.endswith(".tcss"):
            with open(os.path.join(os.path.dirname(screens.__file__), name), encoding="utf-8") as file:
                rules = re.findall(r"([^{}]+)\{[^}]*\}", re.sub(r"/\*.*?\*/", "", file.read(), flags=re.DOTALL))
            assert rules
            for one in ",".join(rules).split(","):
                assert "#" not in one or re.match(r"[A-Z]\w*(\.-\w+)? #", one.strip()), (name, one.strip())


def test_dress_twice_is_not_needed_but_harmless(small: Callable[..., App[Any]]) -> None:
    app = small(list)
    apply_theme(app)
    assert set(app.available_themes) == {DUSK, NOON}

"""The themes: legible against every ground, and without colour."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from textual.app import App
from textual.color import Color
from textual.content import Content
from textual.filter import Monochrome
from textual.theme import Theme
from textual.widgets import Static

import reelcare.tui
from reelcare.tui.theme import DARK, DUSK, LIGHT, NOON, SIGNS, STYLES, TONES, apply_theme, state


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


GROUNDS = ("background", "surface", "panel", "chosen")
INKS = {
    "text": "foreground",
    "strong": "strong",
    "faint": "text-muted",
    "accent": "text-accent",
    "held": "text-error",
    "due": "text-warning",
    "clear": "text-success",
}


def colours(theme: Theme) -> dict[str, str]:
    every = {**theme.to_color_system().generate(), **theme.variables}
    return {name: colour.lower() for name, colour in every.items()}


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dusk", "noon"])
@pytest.mark.parametrize(("ink", "ground"), list(product(INKS, GROUNDS)))
def test_every_ink_stands_off_every_ground(theme: Theme, ink: str, ground: str) -> None:
    # success criterion 1.4.3 of the guidelines
    assert contrast(colours(theme)[INKS[ink]], colours(theme)[ground]) >= 4.5


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dusk", "noon"])
def test_a_key_cap_is_the_ground_on_text_and_the_cursor_of_a_line_the_ground_on_the_accent(theme: Theme) -> None:
    # a cap is drawn in reverse: what it stands on is the colour of text
    assert contrast(colours(theme)["background"], colours(theme)["foreground"]) >= 7
    assert contrast(colours(theme)["input-cursor-foreground"], colours(theme)["input-cursor-background"]) >= 4.5


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dusk", "noon"])
def test_the_accent_is_no_state_and_each_state_has_a_colour_of_its_own(theme: Theme) -> None:
    shown = [colours(theme)[INKS[one]] for one in ("accent", "held", "due", "clear", "text")]
    assert len(set(shown)) == len(shown)


def test_text_stands_on_the_four_grounds_only() -> None:
    """No sheet mixes a ground of its own, nor makes text faint by letting the ground through."""
    import re

    grounds = {
        "background", "surface", "panel", "chosen", "footer-background",
        "block-cursor-background", "block-cursor-blurred-background",
    }  # fmt: skip
    for theme in (DARK, LIGHT):
        named = colours(theme)
        assert {named[one] for one in grounds} == {named[one] for one in GROUNDS}
    for path in Path(reelcare.tui.__file__).parent.rglob("*"):
        if path.suffix in (".py", ".tcss"):
            text = path.read_text(encoding="utf-8")
            told = {one.strip() for one in re.findall(r"\bbackground:\s*([^;}\n]+);", text)}
            assert told <= {f"${one}" for one in grounds} | {"transparent"}, (path.name, told)
            assert not re.search(r"\b(text-)?opacity:|\btint:", text), path.name


def test_every_state_has_sign_tone_and_style() -> None:
    assert set(SIGNS) == set(TONES)
    assert set(TONES.values()) <= set(STYLES)


def test_only_our_themes_are_left(small: Callable[..., App[Any]]) -> None:
    app = small(list)
    assert set(app.available_themes) == {DUSK, NOON}
    assert small(list, theme="nord").theme == DUSK


async def test_without_colour_everything_is_grey_and_seen(
    monkeypatch: pytest.MonkeyPatch, small: Callable[..., App[Any]]
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = small(lambda: [Static(Content.styled(state("held"), STYLES[TONES["held"]]))])
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

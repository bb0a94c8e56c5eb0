"""The drum in section against a coil-by-coil count."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare import languages
from reelcare.core.drawing.section import KEEP, LEAVING, OFF, ON, Wound, draw, in_words

drums = st.builds(
    lambda half, layers, part: Wound(half / 2, layers, part * half / 2 * layers),
    st.integers(2, 80),
    st.integers(1, 12),
    st.floats(0, 1),
)


def brute_force(wound: Wound) -> int:
    """Whole coils on the drum, laid one by one, a layer at a time."""
    left, on = wound.coils_on, 0
    for _ in range(wound.layers):
        room = wound.coils_per_layer
        while room > 1e-9 and left > 1e-9:
            piece = min(1.0, room)
            if left < piece - 1e-9:
                return on
            left -= piece
            room -= piece
            on += 1
    return on


@given(drums)
def test_as_many_coils_are_drawn_as_lie_on_the_drum(wound: Wound) -> None:
    tags = [wound.tag(layer, coil) for layer in range(1, wound.layers + 1) for coil in range(wound.places)]
    assert sum(tag != OFF for tag in tags) == brute_force(wound)


@given(drums)
def test_the_hose_leaves_from_one_coil(wound: Wound) -> None:
    tags = [wound.tag(layer, coil) for layer in range(1, wound.layers + 1) for coil in range(wound.places)]
    assert tags.count(LEAVING) == (1 if brute_force(wound) else 0)


@given(drums)
def test_layer_and_coil_come_back_to_the_coils(wound: Wound) -> None:
    layer, coil = wound.place(wound.coils_on)
    assert 1 <= layer <= wound.layers
    assert math.isclose((layer - 1) * wound.coils_per_layer + coil, wound.coils_on, abs_tol=1e-6)


def test_each_layer_is_laid_back_from_where_the_one_below_ended() -> None:
    wound = Wound(6, 3, 8, least=2)
    assert [wound.tag(1, coil) for coil in range(6)] == [KEEP, KEEP, ON, ON, ON, ON]
    assert [wound.tag(2, coil) for coil in range(6)] == [OFF, OFF, OFF, OFF, LEAVING, ON]
    assert [wound.tag(3, coil) for coil in range(6)] == [OFF] * 6


@given(drums, st.integers(14, 80), st.integers(2, 40))
def test_it_is_drawn_in_any_size(wound: Wound, width: int, height: int) -> None:
    picture = draw(wound, width=width, height=height)
    assert picture.height <= max(height, 2)
    assert picture.width <= max(width, 2 * 40 + 4)
    assert len({len(row) for row in picture.rows}) == 1


def test_both_halves_are_drawn_alike() -> None:
    rows = draw(Wound(12, 5, 31), width=40, height=20).rows
    assert rows == rows[::-1]


@pytest.mark.parametrize(
    "wrong", [(0, 3, 1), (12, 0, 1), (12, 3, -1), (12, 3, math.nan), (math.inf, 3, 1), (math.nan, 3, 1)]
)
def test_a_drum_that_cannot_be_is_refused(wrong: tuple[float, int, float]) -> None:
    with pytest.raises(ValueError, match=r"must be|right|at least"):
        Wound(*wrong)


def test_the_words_say_it_in_every_language() -> None:
    assert in_words(Wound(12, 5, 0)) == "no hose on the drum"
    for language, few in {"es": "menos de 2", "fr": "moins de 2"}.items():
        languages.install(language)
        assert in_words(Wound(12, 5, 1.5)).endswith(few)


def test_each_layer_lies_half_a_coil_aside_of_the_one_below() -> None:
    rows = draw(Wound(6, 4, 24), width=40, height=5).rows[:4]
    first = [next(at for at, sign in enumerate(row) if at and sign not in " ┃") for row in rows]
    assert first == [2, 1, 2, 1] or first == [1, 2, 1, 2]

"""Signs: distinct in shape and in ASCII, and text keeps its width."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.drawing.signs import ASCII_FORM, STATES, ascii_form
from reelcare.core.wording import cells


def test_no_two_states_share_a_sign() -> None:
    signs = [sign for sign, _ in STATES.values()]
    assert len(set(signs)) == len(signs)


def test_no_two_states_share_a_sign_in_ascii() -> None:
    signs = [ascii_form(sign) for sign, _ in STATES.values()]
    assert all(sign.isascii() and len(sign) == 1 and not sign.isspace() for sign in signs)
    assert len(set(signs)) == len(signs)


def test_unknown_is_a_question_mark_in_both_forms_and_no_other_state_is() -> None:
    assert STATES["unknown"][0] == ascii_form(STATES["unknown"][0]) == "?"
    assert [word for word, (sign, _) in STATES.items() if "?" in (sign, ascii_form(sign))] == ["unknown"]
    assert ascii_form("■ held ◊ check due ○ clear ▲ ► ≈ ◆ ▸") == "# held * check due o clear ! > z @ >"


def test_every_sign_is_one_cell_wide_and_no_emoji() -> None:
    # Unicode Standard Annex 11: neither wide nor full-width; emoji signs are drawn two cells wide by terminals
    for sign in [*ASCII_FORM, *(one for one, _ in STATES.values())]:
        assert unicodedata.east_asian_width(sign) not in "WF"
        assert unicodedata.category(sign) not in ("Mn", "Cf", "Cc")


@given(st.text(alphabet=st.characters(exclude_categories=("Cc", "Cs"))))
def test_the_ascii_form_is_ascii_and_as_wide_as_before(text: str) -> None:
    shown = ascii_form(text)
    assert shown.isascii()
    assert len(shown) == cells(text)


@given(st.text(alphabet=st.characters(min_codepoint=0x2500, max_codepoint=0x257F)))
def test_every_line_drawn_has_a_form(text: str) -> None:
    assert "?" not in ascii_form(text)


def test_a_line_drawn_keeps_its_direction_and_a_crossing_is_one() -> None:
    assert ascii_form("─━┄╼") == "----"
    assert ascii_form("│┃┆╿") == "||||"
    assert ascii_form("═") == "="
    assert ascii_form("┼╋╬╪") == "++++"  # both ways
    assert ascii_form("├┤┬┴╠╩┍╯") == "++++++++"  # a branch or a corner
    assert ascii_form("╴╶") == "--"
    assert ascii_form("╵╷") == "||"

"""Every text of every screen goes through the catalogues: in the pseudo language nothing else stands on a screen than
names, figures, and what the register, sheets, plans and tables say themselves."""

from typing import Any

import pytest

from reelcare.register.writing.writer import Writer
from reelcare.tui.keys import NAMES
from tests.pseudo import OPENS, Pseudo
from tests.tui.screens import test_pictures
from tests.tui.tour import ask, choose, sign
from tests.words import of_tables, of_the_register, untranslated

WIDE = (300, 90)
"""So wide that no sentence is wrapped or cut."""
OURS = {"reelcare", "Reelcare", "PIN", "Shift", "Ctrl"}
"""What is the same in every language: names, options and keys."""


FEW = (test_pictures.people, test_pictures.fault, choose)
"""The quick suite looks at a list, a form and a dialog: each screen of this size takes seconds."""
HANDS = [
    pytest.param(hand, marks=() if hand in FEW else pytest.mark.long)
    for hand in (*test_pictures.LONG_WAY, *test_pictures.SHORT_WAY, choose, ask, sign)
]


@pytest.mark.parametrize("hand", HANDS, ids=lambda hand: hand.__name__)
async def test_nothing_on_a_screen_is_outside_the_catalogues(
    hand: Any, drive: Any, register: Writer, pseudo: Pseudo, screen_text: Any
) -> None:
    known = of_tables() | {*of_the_register(register), *OURS, *NAMES.values()}
    async with drive(size=WIDE) as driver:
        await hand(driver)
        await driver.pilot.pause()
        found = untranslated(screen_text(driver.app), known)
        where = [line for line in screen_text(driver.app).splitlines() if any(word in line for word in found)]
        assert found == [], (found, where)
        assert OPENS in screen_text(driver.app)


def test_a_word_outside_the_brackets_is_found() -> None:
    assert untranslated("⟦held since⟧ Tuesday  ⟦the machine wa…  T01", frozenset({"Ines"})) == ["Tuesday"]
    assert untranslated("⟦logged without   Tuesday\n  its gates⟧  Ines  days⟦ ago⟧", {"Ines"}) == ["Tuesday", "days"]
    assert untranslated("⟦needs ⟧cart.mass  cart  tens…  Tues…", frozenset({"tension"})) == ["Tues", "cart"]

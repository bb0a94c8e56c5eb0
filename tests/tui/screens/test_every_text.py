"""Every text of every screen goes through the catalogues: in the pseudo language nothing else stands on a screen than
names, figures, and what the register, sheets, plans and tables say themselves."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.core.canonical_json import canonical
from reelcare.core.entries import to_body
from reelcare.core.spreadsheet.columns import MACHINES
from reelcare.core.units import UNITS
from reelcare.register.reading import states
from reelcare.register.writing.writer import Writer
from reelcare.tui.keys import NAMES
from tests.pseudo import CLOSES, OPENS, Pseudo, outside
from tests.tui.screens import test_pictures
from tests.tui.tour import ask, choose, sign

ROOT = Path(__file__).parents[3]
WIDE = (300, 90)
"""So wide that no sentence is wrapped or cut."""
OURS = {"reelcare", "Reelcare", "PIN", "Shift", "Ctrl", "kWh", "ago", "logged"}
"""What is the same in every language: names and options; and of a text in brackets whose end is outside of its cell."""
OF_A_CARD = re.compile("|".join(rf"\b{re.escape(key)}\b" for key in MACHINES if "." in key))
"""The keys of a card, which are the same in every language: `cart.mass`."""


def _words(text: str) -> Iterator[str]:
    yield from re.findall(r"[^\W\d_]{3,}", text)


@pytest.fixture(scope="session")
def of_tables() -> frozenset[str]:
    """The words of sheets, plans and tables, which carry their languages themselves."""
    return frozenset(word for path in (ROOT / "checklists").glob("*.toml") for word in _words(path.read_text("utf-8")))


def _of_the_register(register: Writer) -> Iterator[str]:
    """The words that somebody typed or that entries keep."""
    for machine in states.machines(register):
        for entry in register.of_machine(machine, None):
            yield from _words(f"{entry.by} {canonical(to_body(entry.what))}")
    yield from _words(" ".join(register.roles()))


def _untranslated(shown: str, known: frozenset[str]) -> list[str]:
    """The words outside the brackets that nothing explains; a text that was cut ends in `…`, and so does a word."""

    def begun(found: re.Match[str]) -> str:
        return " " if any(word.startswith(found[1]) for word in known) else found[0]

    cut = re.sub(f"{OPENS}[^{OPENS}{CLOSES}\n]*…", " ", shown)
    left = re.sub(r"([^\W\d_]{3,})…", begun, OF_A_CARD.sub(" ", outside(cut)))
    return sorted({word for word in _words(left) if word not in known})


@pytest.mark.parametrize("hand", [*test_pictures.SCREENS, choose, ask, sign], ids=lambda hand: hand.__name__)
async def test_nothing_on_a_screen_is_outside_the_catalogues(
    hand: Any, drive: Any, register: Writer, pseudo: Pseudo, of_tables: frozenset[str], screen_text: Any
) -> None:
    known = of_tables | {*_of_the_register(register), *OURS, *UNITS, *NAMES.values()}
    async with drive(size=WIDE) as driver:
        await hand(driver)
        await driver.pilot.pause()
        found = _untranslated(screen_text(driver.app), known)
        where = [line for line in screen_text(driver.app).splitlines() if any(word in line for word in found)]
        assert found == [], (found, where)
        assert OPENS in screen_text(driver.app)


def test_a_word_outside_the_brackets_is_found() -> None:
    assert _untranslated("⟦held since⟧ Tuesday  ⟦the machine wa…  T01", frozenset({"Ines"})) == ["Tuesday"]
    assert _untranslated("⟦needs ⟧cart.mass  cart  tens…  Tues…", frozenset({"tension"})) == ["Tues", "cart"]

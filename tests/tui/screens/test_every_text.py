"""Every text of every screen goes through the catalogues: in the pseudo language nothing else stands on a screen than
names, figures, and what the register, sheets, plans and tables say themselves."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.core.canonical_json import canonical
from reelcare.core.entries import to_body
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
OURS = {"reelcare", "Reelcare", "PIN", "Shift", "Ctrl", "kWh", "ago", "mass", "tensio", "tens", "logged"}
"""What is the same in every language: names, options, keys of a card, and what is left of a text that
was cut behind a bracket."""


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
    """The words outside the brackets that nothing explains; a text that was cut ends in `…`."""
    cut = re.sub(f"{OPENS}[^{OPENS}{CLOSES}\n]*…", " ", shown)
    return sorted({word for word in _words(outside(cut)) if word not in known})


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

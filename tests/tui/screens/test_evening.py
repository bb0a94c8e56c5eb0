"""A whole evening at one machine by keyboard at 80x24: first run, a stop half-way, second run, a hand-over.

How many keys and questions each takes is printed and held below a bound: a key for a choice, the figures of a reading,
one for each page before a gate, one for each signature. A PIN is asked for once of each person who takes the terminal.
"""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.integrity import pins
from reelcare.register.reading import yard as yards
from reelcare.tui.screens.checks.walk import WalkRound
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.drawings.reading_scale import ScaleLine
from reelcare.tui.widgets.inputs.people import PinDialog

PIN = {"Ines": "739104", "Aldo": "284671"}
LETTER = {"Ines": "c", "Aldo": "d"}
H, MINUTE = timedelta(hours=1), timedelta(minutes=1)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "WAY", "scrypt:16:8:1")


class Counted:
    """A hand of which every key is counted, and how often a PIN was asked for."""

    def __init__(self, pilot: Any) -> None:
        self.pilot, self.keys, self.pins = pilot, 0, 0

    async def press(self, *keys: str) -> None:
        for key in keys:
            is_asked = isinstance(self.pilot.app.screen, PinDialog)
            await self.pilot.press(key)
            await self.pilot.pause()
            self.keys += 1
            self.pins += isinstance(self.pilot.app.screen, PinDialog) and not is_asked

    async def pause(self) -> None:
        await self.pilot.pause()


@dataclass
class Part:
    """One part of the evening: its name, and the most keys and questions that it may take."""

    name: str
    keys: int
    questions: int
    pins: int = 0


class Evening:
    """The machine, its keys and its answers, and what each part of the evening took."""

    def __init__(self, driver: Any, register: Any, tag: str) -> None:
        self.driver, self.register, self.machine = driver, register, register.machine_id(tag)
        self.hand = driver.pilot = Counted(driver.pilot)
        self.told: list[str] = []

    def _answers(self) -> int:
        return sum(isinstance(one.what, e.Answered) for one in self.register.of_machine(self.machine))

    def begin(self) -> None:
        self.hand.keys = self.hand.pins = 0
        self.given = self._answers()

    def end(self, most: Part) -> None:
        answered = self._answers() - self.given
        self.told.append(f"{most.name}: {self.hand.keys} keys, {answered} questions, {self.hand.pins} PIN")
        assert self.hand.keys <= most.keys, self.told
        assert answered <= most.questions, self.told
        assert self.hand.pins == most.pins, self.told

    def gate(self) -> tuple[str, str]:
        standing = yards.machine_now(self.register, self.machine, self.driver.clock.now).standing
        return standing.run, standing.gate

    async def who(self, name: str) -> None:
        await self.driver.keys("p", LETTER[name])
        if isinstance(self.driver.app.screen, PinDialog):
            await self.driver.type(PIN[name])
            await self.driver.keys("enter")
        assert self.driver.app.person == name

    async def sign_gate(self, *now: str) -> None:
        """Answer what is open of the next gate, and sign it."""
        self.driver.expect(WalkRound)
        await self.driver.answer_gate()
        await self.driver.keys("s")
        assert self.gate() == now

    async def run(self, hours: int, metres: int, ended: str) -> None:
        """Log the run that was made."""
        self.driver.clock.now += hours * H
        await self.driver.keys("r", "tab")
        await self.driver.type(f"{hours} h")
        await self.driver.keys("tab")
        await self.driver.type(str(metres))
        await self.driver.keys("ctrl+y", ended, "enter")
        self.driver.expect(Yard)


@pytest.mark.long
async def test_an_evening_by_keyboard_takes_no_more_keys_and_questions_than_it_must(drive: Any, register: Any) -> None:
    for name, pin in PIN.items():
        register.give_pin(name, pin, by=name)
    async with drive(size=(80, 24)) as driver:
        evening = Evening(driver, register, "T01")
        await driver.to_machine("T01")

        evening.begin()  # who it is with PIN (2 and 7 keys), 35 questions with five readings, three pages, three gates
        await evening.who("Ines")
        await driver.keys("w")
        await evening.sign_gate("check due", "pull-out")
        driver.clock.now += 10 * MINUTE
        await evening.sign_gate("clear", "water")
        driver.clock.now += 15 * MINUTE
        await driver.walk_to("inlet")
        assert driver.app.screen.query_one(ScaleLine).scale.never_most == pytest.approx(10, abs=0.05)  # bar: the rating
        await evening.sign_gate("clear", "running")
        driver.expect(Yard)
        evening.end(Part("first run", keys=9 + 1 + 3 + 35 + 12 + 3, questions=35, pins=1))

        evening.begin()  # the run logged as stopped by the operator; then the short sheet, its two gates
        await evening.run(2, 80, "o")
        assert evening.gate() == ("check due", "")
        await driver.keys("w", "a")
        await evening.sign_gate("clear", "water")
        driver.clock.now += 15 * MINUTE
        await evening.sign_gate("clear", "running")
        evening.end(Part("stop half-way, run logged and gone on with", keys=11 + 2 + 2 + 17 + 11 + 2, questions=17))

        evening.begin()  # the run logged with the hose home; the second one on the hydrant, begun by Ines
        await evening.run(6, 220, "e")
        await driver.keys("w", "a")
        await evening.sign_gate("check due", "pull-out")
        await driver.keys("escape")
        evening.end(Part("second run, run logged and up to the pull-out", keys=12 + 2 + 1 + 13 + 3 + 2, questions=13))

        evening.begin()  # Aldo takes over before the water: the feet and what moves by hand are his to look at
        await evening.who("Aldo")
        await driver.keys("w")
        assert driver.app.screen.question.id == "feet"
        while evening.gate() != ("clear", "water"):
            await driver.answer_gate()
            await driver.keys("s")
        driver.clock.now += 15 * MINUTE
        await evening.sign_gate("clear", "running")
        evening.end(Part("hand-over, on to the run", keys=9 + 1 + 1 + 25 + 12 + 3, questions=25, pins=1))
        assert register.rebuild() == []
    print("\n".join(evening.told))

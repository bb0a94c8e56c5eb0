"""A check that was filled in on paper, entered in the app as one form."""

from typing import Any

import pytest
from textual.widgets import Input

from reelcare.core import entries as e
from reelcare.register.demo import _right
from reelcare.tui.screens.checks.paper import PaperForm
from reelcare.tui.screens.yard import Yard


def fill_in(form: Any, gate: str, signed: str) -> None:
    """Fill in the lines of a gate as they are right, and when it was signed."""
    for question in form._asked(gate):
        seen = _right(question, form.going.walk)
        ids = [one.id for one in question.choices]
        text = seen if question.is_number else str(ids.index(seen) + 1)
        form.query_one(f"#q-{question.id}", Input).value = text
    form.query_one(f"#signed-{gate}", Input).value = signed


@pytest.mark.long
async def test_a_paper_is_entered_with_one_key_as_one_form(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c")
        await driver.to_machine("T01")
        await driver.pilot.press("w")
        await driver.pilot.pause()
        await driver.pilot.press("e")
        await driver.pilot.pause()
        driver.expect(PaperForm)
        form = driver.app.screen
        form.query_one("#began", Input).value = "06:30"
        fill_in(form, "pull-out", "06:45")
        fill_in(form, "water", "07:00")
        before = len(register.of_machine(form.machine.id))
        form.query_one("#q-feet", Input).value = "9"
        await driver.keys("ctrl+y")
        driver.expect(PaperForm)
        assert len(register.of_machine(form.machine.id)) == before, (
            "a line that cannot be read keeps all of it unwritten"
        )
        form.query_one("#q-feet", Input).value = "1 3"
        await driver.keys("ctrl+y")
        driver.expect(Yard)
        assert driver.standing("T01") == "clear"
    found = [one for one in register.of_machine(register.machine_id("T01")) if getattr(one.what, "from_paper", None)]
    feet = [one.what for one in found if isinstance(one.what, e.Answered) and one.what.question == "feet"]
    assert [one.judged for one in feet] == ["wrong", "right"]
    assert [f"{one.happened:%H:%M}" for one in found if isinstance(one.what, e.GateSigned)] == ["06:45", "07:00"]

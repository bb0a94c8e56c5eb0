"""Signals and failures by keyboard: what drifts stands first, and goes to the bench by one key."""

from dataclasses import replace
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.drawing import control
from reelcare.core.evidence.signals import PARTS
from reelcare.tui.screens.evidence.failures import Failures
from reelcare.tui.screens.evidence.signals import Signals
from reelcare.tui.screens.work.bench import Bench
from reelcare.tui.screens.yard import Yard
from reelcare.tui.widgets.drawings.control_chart import ControlChart, FailureCurve


@pytest.mark.long
async def test_a_drift_stands_first_and_goes_to_the_bench_by_one_key(drive: Any, register: Any) -> None:
    async with drive() as driver:
        await driver.keys("p", "c", "i")
        screen = driver.app.screen
        assert isinstance(screen, Signals)
        one, signal = screen.shown[0]
        assert signal.state == "drifting"
        assert one.tag == "T09"
        assert "began" in control.in_words(screen.query_one(ControlChart).chart)
        before = driver.standing("T09")
        await driver.keys("b", "b")  # pressed twice it is noted once
        faults = [entry for entry in register.of_machine(one.machine) if isinstance(entry.what, e.Fault)]
        assert [one.what.says for one in faults].count(signal.says()) == 1
        assert not faults[-1].what.holds
        assert driver.standing("T09") == before
        await driver.keys("enter")
        driver.expect(Bench)
        await driver.keys("escape", "end", "b")
        # nothing drifts at the end of the list: nothing is put anywhere
        assert len([entry for entry in register.of_machine(one.machine) if isinstance(entry.what, e.Fault)]) == len(
            faults
        )
        await driver.keys("escape")
        driver.expect(Yard)


async def test_a_drift_that_is_on_the_bench_since_an_earlier_run_is_not_put_there_again(
    drive: Any, register: Any
) -> None:
    async with drive() as driver:
        await driver.keys("p", "c", "i")
        one, signal = driver.app.screen.shown[0]
        earlier = replace(signal, runs=1, change=signal.change / 2).says()
        assert earlier != signal.says()
        what = e.Fault(part=PARTS[signal.name][0], says=earlier)
        register.add(what, machine=one.machine, by="Ines", now=driver.clock())
        await driver.keys("b")
        faults = [entry for entry in register.of_machine(one.machine) if isinstance(entry.what, e.Fault)]
        assert signal.says() not in [one.what.says for one in faults]


@pytest.mark.long
async def test_failures_are_told_in_sentences_with_their_curve(drive: Any) -> None:
    async with drive() as driver:
        await driver.keys("i", "f")
        screen = driver.app.screen
        assert isinstance(screen, Failures)
        assert screen.told
        assert "failure" in str(screen.query_one("#sentences").render())
        assert screen.query_one(FailureCurve).means == screen.told[0].curve
        await driver.keys("m")
        assert screen.told[0].unit == "m"
        await driver.keys("escape", "escape")
        driver.expect(Yard)

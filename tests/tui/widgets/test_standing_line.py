"""The standing line: what a machine may do now, why not, and what ends it, whole at any width."""

from datetime import date

import pytest
from textual.content import Content

from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.standing import Judged, Reason, Standing
from reelcare.tui.widgets.standing_line import counted, standing_line

LONG = "end stop: pushed three times, and the drive came out late each time it was tried"


def machine(standing: Standing) -> MachineNow:
    judged = Judged(standing, "", 0.0, "ok")
    return MachineNow(
        "m1", Card("T01"), MachineState(machine="m1", began=date(2026, 1, 1)), Plan.empty(), standing, (), judged
    )


def test_a_machine_that_is_clear_says_what_cleared_it_and_not_what_the_road_still_asks() -> None:
    because = (
        Reason("no check", "road", says="no road check counts now"),
        Reason("passed", "run", says="pre-start passed by Ines"),
    )
    line = standing_line(machine(Standing("clear", "check due", because)), 80).plain
    assert line == "○ clear: pre-start passed by Ines   for one run   road ◊ check due"


@pytest.mark.parametrize("width", [60, 80, 120])
def test_a_long_reason_is_cut_before_what_ends_it(width: int) -> None:
    because = (Reason("no check", "run", says=LONG), Reason("no check", "road", says="no road check counts now"))
    line = standing_line(machine(Standing("check due", "check due", because)), width)
    assert isinstance(line, Content)
    assert len(line.plain) <= width
    assert line.plain.startswith("◊ check due: end stop")
    assert line.plain.endswith("Ends by pre-start")


@pytest.mark.parametrize("width", range(60, 81))
def test_no_word_of_a_reason_is_cut(width: int) -> None:
    because = (Reason("no check", "run", says=LONG),)
    line = standing_line(machine(Standing("check due", "check due", because)), width).plain
    told = line.removeprefix("◊ check due: ").partition("…")[0]
    assert LONG.startswith(told)
    assert told.endswith(" ") or LONG[len(told)] == " "


def test_only_what_there_is_is_counted() -> None:
    told = counted([("held", 2, "2 held"), ("overdue", 0, "0 overdue"), ("due", 1, "1 due")], "", "all places")
    assert told.plain == "■ 2 held   ► 1 due   all places"

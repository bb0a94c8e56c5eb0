"""The standing line: what a machine may do now, why not, and what ends it, whole at any width."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Literal

import pytest
from textual.content import Content

from reelcare.core.machine.card import Card
from reelcare.core.service.plan import Plan
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.machine_state import MachineState, OpenFault
from reelcare.core.state.standing import Judged, Reason, Standing
from reelcare.tui.widgets.standing_line import counted, road_line, standing_line

LONG = "end stop: pushed three times, and the drive came out late each time it was tried"


def machine(standing: Standing) -> MachineNow:
    judged = Judged(standing, "", 0.0, "ok")
    return MachineNow(Card("T01"), MachineState(machine="m1", began=date(2026, 1, 1)), Plan.empty(), (), judged)


def test_a_machine_that_is_clear_says_what_cleared_it_and_not_what_the_road_still_asks() -> None:
    because = (
        Reason("no check", "road", says="no valid road check"),
        Reason("passed", "run", says="pre-start passed by Ines"),
    )
    line = standing_line(machine(Standing("clear", "check due", because)), 80).plain
    assert line == "○ clear: pre-start passed by Ines   for one run   road ◊ check due"


@pytest.mark.parametrize("width", [60, 80, 120])
def test_a_long_reason_is_cut_before_what_ends_it(width: int) -> None:
    because = (Reason("no check", "run", says=LONG), Reason("no check", "road", says="no valid road check"))
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


@pytest.mark.parametrize(
    ("owner", "ends"), [("adjustment", "a right answer"), ("place", "a right answer"), ("", "repair, re-test, release")]
)
def test_a_hold_that_a_right_answer_ends_asks_for_no_repair(
    owner: Literal["", "adjustment", "place"], ends: str
) -> None:
    """Of a pressure above the rating, which the pump puts right, it said *repair, re-test, release*."""
    found = datetime(2026, 7, 1, tzinfo=UTC)
    fault = OpenFault(
        id="f1", since=found, by="Ines", part="gauges", says="5.4 bar", holds="run", retest="read again", owner=owner
    )
    held = machine(Standing("held", "clear", (Reason("fault", "run", fault="f1", says="gauges: 5.4 bar"),)))
    line = standing_line(held._replace(state=replace(held.state, faults=(fault,))), 100).plain
    assert line == f"■ held for a run: gauges: 5.4 bar   Ends by {ends}   road ○ clear"


def test_where_it_is_checked_for_the_road_the_line_speaks_of_the_road_alone() -> None:
    because = (
        Reason("no check", "run", says="no valid pre-start"),
        Reason("no check", "road", says="no valid road check"),
    )
    line = road_line(machine(Standing("check due", "check due", because)), 80).plain
    assert line == "◊ check due for the road: no valid road check   Ends by road check"
    passed = (because[0], Reason("passed", "road", says="road check passed by Ines"))
    line = road_line(machine(Standing("check due", "clear", passed)), 80).plain
    assert line == "○ clear for the road: road check passed by Ines   for one move"


def test_only_what_there_is_is_counted() -> None:
    told = counted([("held", 2, "2 held"), ("overdue", 0, "0 overdue"), ("due", 1, "1 due")], "", "all places")
    assert told.plain == "■ 2 held   ► 1 due   all places"

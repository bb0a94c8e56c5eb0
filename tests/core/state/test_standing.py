"""The judge: against a plain reckoning written down a second time here, from kept limits as from the state itself."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare import languages
from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.machine.card import read_card
from reelcare.core.service.due import thresholds
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_now import fault_line, machine_at
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain, to_plain
from reelcare.core.state.plans import Known, PlanBook
from reelcare.core.state.standing import Judged, Reason, Standing, Word, judge, worded
from tests.core.test_fold import CARD, HOUR, SHEETS, History, T, history_of, steps

PLAN = read_plan({"id": "p", "items": [
    {"id": "oil", "what": {"en": "Oil", "es": "Aceite"}, "part": "gearbox", "stop": True,
     "every": {"hours": 9, "months": 1}},
    {"id": "nuts", "what": "Nuts", "part": "wheels", "stop": True, "every": {"runs": 4, "metres": 900}},
    {"id": "daily", "what": "Pre-start", "part": "pawl", "stop": True, "every": {"runs": 1}, "done_by": "pre-start"},
    {"id": "spring", "what": "Spring", "part": "pawl", "every": {"months": 3}, "first": {"hours": 5},
     "first_after_repair": True},
]})  # fmt: skip
ZONES = st.sampled_from([UTC, ZoneInfo("Europe/Madrid"), ZoneInfo("America/St_Johns"), ZoneInfo("Pacific/Auckland")])
AFTER = st.sampled_from([-3, 0, 5, 90, 23 * 60, 24 * 60 + 5, 3 * 1440, 32 * 1440, 200 * 1440])


def state_of(history: History, zone: tzinfo = UTC) -> MachineState:
    plans = PlanBook([(T - timedelta(days=9), None, PLAN)], zone)
    found = fold("m", history.entries, Known(plans, SHEETS.get))
    assert found is not None
    return found


def by_plan(state: MachineState, plan: Plan = PLAN) -> Limits:
    return limits_of(state, plan, read_card(state.card))


def served(history: History) -> History:
    """The same history of a machine on which all was done when it came, so that nothing is unknown."""
    for item in PLAN.items:
        history.add(e.Service(item=item.id), T - HOUR)
    return history


def reckoned(state: MachineState, now: datetime, zone: tzinfo) -> tuple[str, str]:
    """The words for run and road, by the sentences of the README and nothing else."""
    day = now.astimezone(zone).date()
    held: set[str] = set()
    unasked = False
    for fault in state.faults:
        if fault.holds:
            held |= {"run", "road"} if fault.holds == "both" else {fault.holds}
        elif (
            (fault.fix_by_day and day >= date.fromisoformat(fault.fix_by_day))
            or (fault.fix_by_runs is not None and state.totals.runs >= fault.fix_by_runs)
            or (fault.fix_by_seconds is not None and state.totals.seconds >= fault.fix_by_seconds)
        ):
            held |= {"run", "road"}
    for item in PLAN.items:
        if state.cycle(item).last_done is None:
            continue  # the card does not say since when it is in use: unknown, and no hold
        for by, _, _, late in thresholds(item, state.cycle(item)):
            here = {"hours": state.totals.seconds, "metres": state.totals.millimetres, "runs": state.totals.runs,
                    "date": day.toordinal()}[by]  # fmt: skip
            if item.stop and here > late and item.each_time:
                unasked = True
            elif item.stop and here > late:
                held.add("road" if item.part == "wheels" else "run")
    words = []
    for side in ("run", "road"):
        one = state.passed.get(side)
        good = one is not None and one.spent is None and not (side == "run" and unasked)
        good = good and one is not None and -timedelta(minutes=5) <= now - one.at <= timedelta(hours=24)
        words.append("held" if side in held else "clear" if good else "check due")
    return words[0], words[1]


def with_limits(history: History, day: int, runs: int | None) -> History:
    """The same history with a fault that must be fixed by a day, or by a run."""
    fix_by = (T.date() + timedelta(days=day)).isoformat()
    history.add(e.Fault(part="hose", says="scuffed", fix_by_day=fix_by, fix_by_runs=runs), T, id="limited")
    return history


@settings(max_examples=120, deadline=None)
@given(steps, st.none() | st.integers(1, 5), st.none() | st.integers(0, 9), ZONES, AFTER, st.booleans())
def test_the_judge_says_what_a_plain_reckoning_says_and_the_same_of_what_was_kept(
    happened: list[tuple[str, int, int]], day: int | None, runs: int | None, zone: tzinfo, after: int, known: bool
) -> None:
    history = served(history_of(happened)) if known else history_of(happened)
    state = state_of(with_limits(history, day, runs) if day else history, zone)
    assert state.last is not None
    now = state.last[0] + timedelta(minutes=after)
    limits = by_plan(state)
    judged = judge(limits, now, zone)
    assert (judged.standing.run, judged.standing.road) == reckoned(state, now, zone)
    # kept as text, as the state or as its limits, it is judged the same
    kept = Limits.from_plain(limits.to_plain())
    again = by_plan(from_plain(to_plain(state)))
    assert judge(kept, now, zone) == judge(again, now, zone) == judged
    assert kept.to_plain() == again.to_plain() == limits.to_plain()
    # and what is shown of the machine says no other thing
    seen = machine_at(read_card(state.card), state, PLAN, now, zone)
    assert seen.standing == worded(judged.standing, kept, PLAN, zone, now)
    assert (seen.standing.run, seen.standing.road) == (judged.standing.run, judged.standing.road)
    assert {line.item.id for line in seen.dues if line.due.held} == {
        one.item for one in seen.standing.because if one.code == "past grace"
    }
    first = next((line for line in seen.dues if line.news), None)
    assert judged.item == (first.item.id if first else "")
    news = [line for line in seen.lines if line.news]
    assert seen.next == min(news, key=lambda line: line.order, default=None)
    assert {line.due.state for line in news} & {"overdue", "unknown"} == judged.words - {"fix-by", "open check"}
    left_open = [one for one in state.open_checks if one.begun.astimezone(zone).date() < now.astimezone(zone).date()]
    assert bool(left_open) is ("open check" in judged.words)
    assert (judged.used, judged.state) == ((first.due.used_fraction, first.due.state) if first else (0.0, "ok"))


def standing_of(history: History, now: datetime, language: str = "en") -> Standing:
    limits = by_plan(state_of(history))
    return worded(judge(limits, now, UTC).standing, limits, PLAN, UTC, now, language=language)


def test_reasons_have_codes_and_are_put_into_words() -> None:
    history = served(History())
    for number in range(10):
        history.run(T + 2 * number * HOUR)
    now = T + 20 * HOUR
    history.add(e.Fault(part="pawl", says="slips", holds="run", retest="pawl holds"), now, id="f")
    codes = [(one.code, one.side, one.fault, one.item, one.by, one.left) for one in
             judge(by_plan(state_of(history)), now, UTC).standing.because]  # fmt: skip
    assert codes == [
        ("fault", "run", "f", "", "", 0.0),
        ("past grace", "road", "", "nuts", "runs", -6.0),
        ("past grace", "run", "", "oil", "hours", -1.0),
    ]
    assert [one.says for one in standing_of(history, now).because] == [
        "pawl: slips (to be repaired)", "Nuts: 6 runs past due", "Oil: 1 h past due",
    ]  # fmt: skip
    assert standing_of(history, now, "es").because[-1].says == "Aceite: 1 h past due"


@pytest.mark.parametrize(
    ("whats", "says"),
    [
        ((), "to be repaired"),
        ((e.Repair(fault="f", says="mended"),), "repaired, to be tested again"),
        ((e.Repair(fault="f", says="mended"), e.Retest(fault="f", passed=False)), "to be repaired"),
        ((e.Repair(fault="f", says="mended"), e.Retest(fault="f", passed=True)), "tested again, to be released"),
    ],
)
def test_a_hold_says_what_comes_next(whats: tuple[e.Kind, ...], says: str) -> None:
    history = served(History())
    history.add(e.Fault(part="pawl", says="slips", holds="both", retest="pawl holds"), T, id="f")
    for number, what in enumerate(whats, 1):
        history.add(what, T + number * HOUR)
    standing = standing_of(history, T + 4 * HOUR)
    assert [one.says for one in standing.because] == [f"pawl: slips ({says})"]
    assert standing.worst == "held"
    assert standing.held_for == f"for a run and the road, however its parts stand: pawl: slips ({says})"


def test_a_fault_without_a_re_test_waits_for_its_release() -> None:
    history = History()
    history.add(e.Fault(part="pawl", says="slips", holds="run"), T, id="f")
    history.add(e.Repair(fault="f", says="mended"), T + HOUR)
    assert standing_of(history, T + 2 * HOUR).because[0].says == "pawl: slips (repaired, to be released)"


def test_a_clear_machine_says_who_checked_it_and_a_lapsed_limit_that_it_has() -> None:
    history = served(History())
    history.check(T)
    standing = standing_of(history, T + HOUR)
    assert [one.says for one in standing.because] == ["pre-start passed by Ana", "no valid road check"]
    assert (standing.run, standing.road, standing.held_for) == ("clear", "check due", "")
    with_limits(history, 3, None)
    assert standing_of(history, T + timedelta(days=2)).run == "check due"
    assert standing_of(history, T + timedelta(days=3)).because[0].says == "hose: scuffed (fix-by limit reached)"


@pytest.mark.parametrize(("says", "told"), [
    ("scuffed", "hose: scuffed"), ("Hose: scuffed", "Hose: scuffed"), ("hose end cut", "hose: hose end cut"),
])  # fmt: skip
def test_a_fault_names_its_part_once(says: str, told: str) -> None:
    assert e.Fault(part="hose", says=says).of_part == told


def test_only_what_is_asked_for_is_forecast() -> None:
    history = served(History())
    for number in range(40):
        history.run(T + number * timedelta(days=1))
    state = state_of(history)
    now = T + timedelta(days=40)
    cases: tuple[tuple[dict[str, Any], int], ...] = (
        ({}, 0), ({"forecasts": True, "of_next": True}, 1), ({"forecasts": True}, 4)
    )  # fmt: skip
    for wanted, expected in cases:
        seen = machine_at(read_card(CARD), state, PLAN, now, UTC, **wanted)
        assert sum(line.forecast is not None for line in seen.dues) == expected
        assert expected != 1 or (seen.next is not None and seen.next.forecast is not None)


@pytest.mark.parametrize(("language", "part"), [("en", "pawl"), ("es", "trinquete"), ("fr", "cliquet")])
def test_a_fault_in_the_work_list_names_its_part_in_the_persons_language(language: str, part: str) -> None:
    history = History()
    history.add(e.Fault(part="pawl", says="slips", holds="run"), T, id="f")
    languages.install(language)
    limits = by_plan(state_of(history))
    (fault,) = [fault_line("m", "T1", "", one, limits, T.date()) for one in limits.faults]
    assert fault.item.title(language) == f"{part}: slips"


def test_a_check_that_was_left_open_is_told_of_from_the_next_day_on_until_it_ends() -> None:
    history = served(history_of([]))
    begun = history.add(e.CheckBegun(sheet=next(iter(SHEETS)), sheet_id="pre-start", checks_for="run"), T)
    limits = by_plan(state_of(history))
    assert Limits.from_plain(limits.to_plain()).begun == limits.begun == (T,)
    assert "open check" not in judge(limits, T + HOUR, UTC).words
    assert "open check" in judge(limits, T + timedelta(days=1), UTC).words
    history.add(e.CheckEnded(check=begun, verdict="left", why="rain"), T + HOUR)
    assert "open check" not in judge(by_plan(state_of(history)), T + timedelta(days=1), UTC).words


def test_of_a_faults_limits_the_one_that_is_fewer_runs_away_comes_first() -> None:
    """A run takes about ten hours and 320 m (common practice, no source)."""
    for seconds, runs, days, by in ((24 * 3600, 3, 5, "hours"), (36 * 3600, 3, 5, "runs"), (90 * 3600, 9, 5, "date")):
        history = History()
        history.add(
            e.Fault(
                part="pawl", says="slips", fix_by_seconds=seconds, fix_by_runs=runs,
                fix_by_day=(T + timedelta(days=days)).date().isoformat(),
            ), T, id="f",
        )  # fmt: skip
        (fault,) = by_plan(state_of(history)).faults
        assert fault_line("m", "T1", "", fault, by_plan(state_of(history)), T.date()).due.by == by


@pytest.mark.parametrize(
    ("days", "runs", "state", "held"),
    [(2, 0, "soon", False), (3, 0, "due", True), (4, 0, "overdue", True), (2, 2, "due", True), (2, 3, "overdue", True)],
)
def test_a_fault_is_due_and_holds_at_its_limit_and_is_overdue_past_it(
    days: int, runs: int, state: str, held: bool
) -> None:
    history = history_of([("run", 30 * n, 20) for n in range(runs)])
    last = f"{T + timedelta(days=3):%Y-%m-%d}"
    history.add(e.Fault(part="hose", says="scuffed", fix_by_day=last, fix_by_runs=2), T, id="f")
    now = T + timedelta(days=days)
    limits = by_plan(state_of(history), Plan.empty())
    (fault,) = [fault_line("m", "T1", "", one, limits, now.date()) for one in limits.faults]
    assert (fault.due.state, fault.due.held) == (state, held)
    assert ("overdue" in judge(limits, now, UTC).words) is (state == "overdue")


def test_a_hold_of_the_run_is_named_by_what_holds_the_run_and_not_by_what_holds_the_road() -> None:
    run, road = Reason("fault", "run", owner="place"), Reason("fault", "road", owner="machine")
    assert Standing("held", "held", (run, road)).held_as == "place"
    assert Standing("check due", "held", (run, road)).held_as == "machine"
    assert Standing("held", "held", (run, Reason("fault", "both", owner="machine"))).held_as == "machine"
    beside = (Reason("check does it", "run", owner="place"), Reason("fault", "run", owner="adjustment"))
    assert Standing("held", "clear", beside).held_as == "adjustment"
    assert Standing("check due", "clear", (Reason("check does it", "run"),)).held_as is None


def test_the_yard_has_holds_first_then_what_is_due_soonest_then_the_tag() -> None:
    def judged(run: Word, used: float) -> Judged:
        return Judged(Standing(run, "clear", ()), "oil", used, "ok")

    order = [
        ("B", judged("held", 0.1)), ("A", judged("check due", 0.9)), ("D", judged("check due", 0.2)),
        ("C", judged("clear", 0.9)), ("E", judged("clear", 0.9)),
    ]  # fmt: skip
    assert sorted(reversed(order), key=lambda one: one[1].order(one[0])) == order


def test_the_newest_plan_of_a_machine_is_its_own_else_the_one_for_all() -> None:
    mine = replace(PLAN, id="mine")
    book = PlanBook([(T, None, PLAN), (T + HOUR, "m", mine)])
    assert (book.newest("m"), book.newest("other"), book.for_all, book.with_own) == (mine, PLAN, PLAN, ["m"])
    given_back = PlanBook([(T, None, PLAN), (T, "m", mine), (T + HOUR, "m", None)])
    assert (given_back.newest("m"), given_back.with_own) == (PLAN, [])

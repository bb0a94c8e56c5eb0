"""What was never done: judged from the day that the card names, or unknown; never ok, and never a hold."""

from datetime import UTC, date, datetime, timedelta
from itertools import count

import pytest

from reelcare.core import entries as e
from reelcare.core.fold import advance, fold
from reelcare.core.machine.card import read_card
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.counters import CounterChange, CounterName, totals_in_words
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_now import MachineNow, machine_at
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plans import Known, PlanBook

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
PLAN = read_plan({
    "id": "p",
    "title": "Plan",
    "items": [
        {"id": "oil", "what": "Oil change", "every": {"hours": 500, "months": 12}},
        {"id": "ends", "what": "Hose ends", "every": {"metres": 20000}, "stop": True, "grace": 0},
        {"id": "stop", "what": "End stop by hand", "every": {"runs": 1}, "stop": True, "grace": 0,
         "done_by": "pre-start"},
    ],
})  # fmt: skip
KNOWN = Known(PlanBook([(T - timedelta(days=4000), None, PLAN)]))
numbers = count()


def entry(what: e.Kind, at: datetime = T) -> e.Entry:
    return e.Entry(
        id=f"{next(numbers):08d}", machine="m", happened=at, recorded=at, terminal="t", by="Ana", what=what
    )  # fmt: skip


def card(**more: object) -> e.Entry:
    return entry(e.Carded(card={"tag": "R1", **more}))


def folded(*entries: e.Entry) -> MachineState:
    state = fold("m", entries, KNOWN)
    assert state is not None
    return state


def seen(state: MachineState, at: datetime = T) -> MachineNow:
    # as the register keeps it
    assert Limits.from_plain(limits_of(state, PLAN, read_card(state.card)).to_plain()).known == state.known_use
    return machine_at(read_card(state.card), state, PLAN, at, UTC)


def states(*entries: e.Entry, at: datetime = T) -> dict[str, str]:
    return {line.item.id: line.due.state for line in seen(folded(*entries), at).dues}


def test_use_below_what_the_card_says_at_first_is_not_known() -> None:
    since = card(in_use_since="2026-05-01", in_use={"hours": 480, "metres": 9000})
    at = T + timedelta(days=3)
    assert states(since, entry(e.Reading(counter="hours", value=490 * 3600), at), at=at)["oil"] == "ok"
    # a reading from before the card said so; at the door a lower one is refused
    below = entry(e.Reading(counter="hours", value=5 * 3600), at)
    assert states(since, below, at=at) == {"oil": "unknown", "ends": "ok", "stop": "ok"}
    # the machine is in use from a day to come: nothing of it is used yet
    assert states(card(in_use_since="2026-06-01"))["oil"] == "ok"


def run(day: int, metres: int = 300_000) -> e.Entry:
    started = T + timedelta(days=day)
    return entry(
        e.Run(started=started, ended=started + timedelta(hours=9), metres=metres), started + timedelta(hours=9)
    )


def test_no_item_is_ok_on_a_machine_in_use_for_years_of_which_nothing_is_known() -> None:
    assert set(states(card(in_use_since="2019-04-01")).values()) == {"unknown"}
    worked = card(in_use_since="2019-04-01"), entry(e.Reading(counter="metres", value=40_000_000))
    assert states(*worked)["ends"] == "unknown"


def test_a_reading_tells_the_use_since_the_day_on_the_card() -> None:
    since = (
        card(in_use_since="2019-04-01", in_use={"metres": 5_000}),
        entry(e.Reading(counter="metres", value=9_000_000)),
    )
    assert states(*since)["ends"] == "ok"
    assert states(*since)["stop"] == "unknown", "nobody counted its runs"


def test_what_is_told_of_the_first_days_vouches_for_no_use_since() -> None:
    """A service and a figure of the counter, told years later, say nothing of runs and metres since."""
    bought = datetime(2019, 4, 1, 12, tzinfo=UTC)
    told = entry(e.Service(item="oil"), bought), entry(e.Reading(counter="hours", value=3600), bought)
    found = states(card(in_use_since="2019-04-01"), *told)
    assert (found["ends"], found["stop"]) == ("unknown", "unknown")
    logged = (run(0)._replace(happened=bought + timedelta(days=9)), *told)
    assert states(card(in_use_since="2019-04-01"), *logged)["ends"] == "ok", "a run log from the first days on"


def test_without_a_day_on_the_card_all_that_was_never_done_is_unknown() -> None:
    assert set(states(card()).values()) == {"unknown"}


def test_what_is_young_by_every_rule_is_judged_from_the_day_on_the_card() -> None:
    assert states(card(in_use_since="2026-04-20")) == {"oil": "ok", "ends": "ok", "stop": "ok"}
    later = T + timedelta(days=400)
    assert states(card(in_use_since="2026-04-20"), at=later)["oil"] == "unknown"


@pytest.mark.parametrize(("metres", "expected"), [(990_000, "ok"), (981_000, "soon"), (979_000, "unknown")])
def test_use_counts_from_the_counters_that_the_card_names(metres: int, expected: str) -> None:
    began = card(in_use_since="2026-04-20", in_use={"metres": metres, "hours": 3000})
    assert states(began, entry(e.Reading(counter="metres", value=1_000_000_000)))["ends"] == expected


def test_runs_add_to_the_counters_that_the_card_names() -> None:
    state = folded(card(in_use_since="2026-04-20", in_use={"hours": 100, "metres": 5000, "runs": 20}), run(1))
    assert (state.totals.seconds, state.totals.millimetres, state.totals.runs) == (109 * 3600, 5_300_000, 21)


def test_two_runs_brought_for_a_new_machine_do_not_hold_it() -> None:
    for more in ({}, {"in_use_since": "2019-04-01"}, {"in_use_since": "2026-04-20"}):
        now = seen(folded(card(**more), run(1), run(2)), T + timedelta(days=3))
        assert now.standing.run == "check due"
        assert not any(line.due.held for line in now.dues)


def test_unknown_stop_items_are_named_and_hold_nothing() -> None:
    now = seen(folded(card()))
    named = next(one for one in now.standing.because if one.code == "unknown")
    assert "Hose ends" in named.says
    assert now.standing.run == "check due"
    assert now.standing.held_as is None


def test_stop_items_whose_titles_have_a_comma_are_told_apart() -> None:
    items = [{"id": id, "what": what, "every": {"months": 12}, "stop": True} for id, what in
             (("pawl", "Pawl, spring"), ("legs", "Legs, pins"))]  # fmt: skip
    plan = read_plan({"id": "p", "title": "Plan", "items": items})
    state = fold("m", [card()], Known(PlanBook([(T - timedelta(days=4000), None, plan)])))
    assert state is not None
    now = machine_at(read_card(state.card), state, plan, T, UTC)
    named = next(one for one in now.standing.because if one.code == "unknown")
    assert named.says.endswith(": Pawl, spring; Legs, pins")


def test_what_is_done_once_is_known_from_then_on() -> None:
    done = card(), entry(e.Service(item="oil"), T + timedelta(days=1))
    state = folded(*done)
    assert {one.item.id: one.due.state for one in seen(state).dues}["oil"] == "ok"
    # nobody knows since when it counted: it counts from where it was done
    assert state.cycles["oil"].anchor == date(2026, 5, 2)


def test_a_card_that_tells_the_beginning_later_folds_the_machine_anew() -> None:
    before = [card(), run(1), entry(e.Service(item="oil"), T + timedelta(days=2))]
    told = entry(
        e.Carded(card={"tag": "R1", "in_use_since": "2026-04-01", "in_use": {"hours": 40}}), T + timedelta(days=3)
    )
    assert advance(folded(*before), [told], KNOWN) is None
    assert folded(*before, told).totals.seconds == 49 * 3600
    assert folded(*before, told).cycles["oil"].last_totals == (49 * 3600, 300_000, 1)


def life(*entries: e.Entry) -> str:
    state = folded(*entries)
    kept = Limits.from_plain(limits_of(state, PLAN, read_card(state.card)).to_plain())
    assert tuple(kept.least) == state.least
    hours, hose = f"{state.totals.seconds / 3600:.0f} h", f"{state.totals.millimetres / 1000:.0f} m"
    return totals_in_words(state.totals, state.least, hours, hose)


def read(counter: CounterName, value: int, change: CounterChange = "", day: int = 0) -> e.Entry:
    return entry(e.Reading(counter=counter, value=value, change=change), T + timedelta(days=day))


OLD = {"in_use_since": "2019-04-01"}


@pytest.mark.parametrize(
    ("entries", "says"),
    [
        ([card(in_use_since="2026-05-01")], "0 h, 0 m, 0 runs"),  # new, and all of its history is here
        ([card(in_use_since="2026-04-20"), run(1)], "9 h, 300 m, 1 run"),
        ([card()], "use not known"),
        ([card(**OLD)], "use not known"),
        ([card(), run(1), run(2)], "at least 18 h, 600 m, 2 runs"),
        ([card(**OLD), run(1)], "at least 9 h, 300 m, 1 run"),
        ([card(), read("hours", 1420 * 3600)], "1420 h, hose and runs not known"),
        ([card(), read("hours", 1420 * 3600), run(1)], "1429 h, at least 300 m, 1 run"),
        ([card(), read("metres", 9_000_000), run(1)], "9300 m, at least 9 h, 1 run"),
        ([card(), read("hours", 1420 * 3600), read("metres", 9_000_000)], "1420 h, 9000 m, runs not known"),
        ([card(**OLD, in_use={"hours": 1400})], "at least 1400 h, hose and runs not known"),
        # what the counter had shown that is gone was never read
        ([card(), read("hours", 0, "new counter")], "use not known"),
        ([card(), read("hours", 0, "new counter"), read("hours", 7 * 3600, day=1)],
         "at least 7 h, hose and runs not known"),
        ([card(), read("hours", 0), read("hours", 0, "new counter", 1), read("hours", 7 * 3600, day=2)],
         "7 h, hose and runs not known"),
    ],
)  # fmt: skip
def test_a_total_that_nobody_knows_is_a_least_or_not_known(entries: list[e.Entry], says: str) -> None:
    assert life(*entries) == says


def test_a_counter_that_was_replaced_unread_tells_no_use_since_the_day_on_the_card() -> None:
    """Seven hours on the new counter say nothing of the years on the old one."""
    old = card(**OLD), read("metres", 9_000_000)
    renewed = *old, read("hours", 0, "new counter"), read("hours", 7 * 3600, day=1)
    hours = read_plan({"id": "p", "items": [{"id": "oil", "what": "Oil", "every": {"hours": 500}}]})
    state = folded(*renewed)
    [line] = machine_at(read_card(state.card), state, hours, T + timedelta(days=2), UTC).dues
    assert line.due.state == "unknown"

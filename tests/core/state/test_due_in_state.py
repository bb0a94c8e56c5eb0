"""What is due, folded from entries: repairs, the card's season, plans that change, and late entries."""

import tomllib
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.fold import advance, effective, fold
from reelcare.core.machine.card import read_card
from reelcare.core.service import due
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.limits import Limits, limits_of
from reelcare.core.state.machine_now import due_lines
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plans import Known, PlanBook, Uncounted

SHIPPED = read_plan(tomllib.loads(Path("checklists/plan-default.toml").read_text("utf-8")))
T = datetime(2026, 5, 1, 6, tzinfo=UTC)
CARD = {"tag": "R1", "in_use_since": "2026-05-01", "season": {"opens": "04-15", "closes": "09-30"}}
H = 3600
numbers = count()


def entry(what: e.Kind, at: datetime, recorded: datetime | None = None) -> e.Entry:
    return e.Entry(
        id=f"{next(numbers):08d}", machine="m", happened=at, recorded=recorded or at, terminal="t", by="Ana", what=what
    )


def run(day: float, hours: float = 10, metres: int = 300_000) -> e.Entry:
    started = T + timedelta(days=day)
    ended = started + timedelta(hours=hours)
    return entry(e.Run(started=started, ended=ended, metres=metres), ended)


def folded(entries: list[e.Entry], plans: PlanBook | None = None) -> MachineState:
    state = fold("m", entries, Known(plans or book(SHIPPED)))
    assert state is not None
    return state


def book(*plans: Plan, every: timedelta = timedelta(days=30)) -> PlanBook:
    return PlanBook([(T - timedelta(days=1) + every * number, None, plan) for number, plan in enumerate(plans)])


def limit(state: MachineState, id: str, by: str, plan: Plan = SHIPPED) -> int | None:
    item = plan.item(id)
    assert item is not None
    return next((one.due for one in due.thresholds(item, state.cycle(item)) if one.by == by), None)


def test_wheel_nuts_are_due_again_after_the_first_run_since_a_wheel_was_off() -> None:
    entries = [entry(e.Carded(card=CARD), T), *[run(day) for day in range(8)]]
    entries.append(entry(e.Service(item="road-gear"), T + timedelta(days=9)))
    assert limit(folded(entries), "wheel-nuts", "runs") is None
    fault = entry(e.Fault(part="wheels", says="flat tyre"), T + timedelta(days=10))
    entries += [fault, entry(e.Repair(fault=fault.id, says="changed"), T + timedelta(days=11))]
    tally = folded(entries)
    assert limit(tally, "wheel-nuts", "runs") == 8 + 1
    assert limit(tally, "wheel-nuts", "date") == limit(folded(entries[:-2]), "wheel-nuts", "date")
    assert limit(tally, "road-gear", "runs") is None
    entries.append(entry(e.Service(item="wheel-nuts"), T + timedelta(days=20)))
    assert limit(folded(entries), "wheel-nuts", "runs") is None


def test_a_repair_that_is_taken_back_restarts_nothing() -> None:
    fault = entry(e.Fault(part="chain", says="broken link"), T + timedelta(days=10))
    repair = entry(e.Repair(fault=fault.id, says="new chain"), T + timedelta(days=11))
    before = [entry(e.Carded(card=CARD), T), run(1), entry(e.Service(item="chain"), T + timedelta(days=3)), fault]
    assert limit(folded([*before, repair]), "chain", "hours") == (10 + 20) * H
    back = entry(e.Correction(entry=repair.id, why="another machine"), T + timedelta(days=12))
    assert limit(folded([*before, repair, back]), "chain", "hours") == limit(folded(before), "chain", "hours")


def test_the_season_on_the_card_says_when_opening_and_lay_up_are_due() -> None:
    tally = folded([entry(e.Carded(card=CARD), T)])
    assert limit(tally, "season-opening", "date") == date(2027, 4, 15).toordinal()
    assert limit(tally, "lay-up", "date") == date(2026, 9, 30).toordinal()
    later = CARD | {"season": {"opens": "04-15", "closes": "10-20"}}
    revised = folded([entry(e.Carded(card=CARD), T), entry(e.Carded(card=later), T + timedelta(days=3))])
    assert limit(revised, "lay-up", "date") == date(2026, 10, 20).toordinal()


def test_a_lay_up_counts_as_greasing_too() -> None:
    tally = folded([entry(e.Carded(card=CARD), T), run(1), entry(e.Service(item="lay-up"), T + timedelta(days=150))])
    assert limit(tally, "grease", "hours") == (10 + 50) * H


def oil(hours: int) -> Plan:
    return read_plan({"id": "p", "items": [{"id": "oil", "what": "Oil", "every": {"hours": hours}}]})


def test_a_changed_plan_never_rewrites_what_was_due_before() -> None:
    plans = book(oil(100), oil(40))
    entries = [entry(e.Carded(card=CARD), T), *[run(day) for day in range(9)]]
    # 90 h and in the window of 100 h: the next counts from 100 h
    entries.append(entry(e.Service(item="oil"), T + timedelta(days=10)))
    assert folded(entries, plans).cycles["oil"].base[0] == 100 * H
    assert limit(folded(entries, plans), "oil", "hours", oil(100)) == 200 * H
    past = T + timedelta(days=5)
    then = folded([one for one in entries if one.happened <= past], plans)
    assert plans.at("m", past).items[0].every.seconds == 100 * H
    assert limit(then, "oil", "hours", plans.at("m", past)) == 100 * H


def test_what_was_on_schedule_by_a_long_interval_counts_by_a_short_one_from_where_it_was_done() -> None:
    entries = [entry(e.Carded(card=CARD), T), *[run(day) for day in range(9)]]
    entries.append(entry(e.Service(item="oil"), T + timedelta(days=10)))
    state = folded(entries, book(oil(100), oil(40)))
    assert limit(state, "oil", "hours", oil(40)) == (90 + 40) * H
    # 12 months that were kept 36 days early: monthly from then on, not from the anniversary
    yearly, monthly = months(12), months(1)
    early = entry(e.Service(item="oil"), datetime(2027, 3, 26, 6, tzinfo=UTC))
    state = folded([entry(e.Carded(card=CARD), T), early], book(yearly, monthly, every=timedelta(days=350)))
    assert limit(state, "oil", "date", yearly) == date(2028, 5, 1).toordinal()
    assert limit(state, "oil", "date", monthly) == date(2027, 4, 26).toordinal()
    assert limit(state, "oil", "date", months(12, anchor="done")) == date(2028, 3, 26).toordinal()


def test_a_season_that_opens_sooner_on_the_card_is_due_sooner_after_the_last_one_was_opened() -> None:
    opened = entry(e.Service(item="season-opening"), datetime(2027, 4, 12, 6, tzinfo=UTC))
    sooner = CARD | {"season": {"opens": "03-01", "closes": "09-30"}}
    entries = [entry(e.Carded(card=CARD), T), opened, entry(e.Carded(card=sooner), opened.happened + timedelta(days=9))]
    state = folded(entries)
    assert limit(state, "season-opening", "date") == date(2028, 3, 1).toordinal()
    assert state.cycles["season-opening"].last_done == date(2027, 4, 12)
    # in its last quarter: it was for the date to come
    ahead = entry(e.Service(item="season-opening"), datetime(2028, 1, 20, 6, tzinfo=UTC))
    assert limit(folded([*entries, ahead]), "season-opening", "date") == date(2029, 3, 1).toordinal()


def lines_of(entries: list[e.Entry], day: int, plan: Plan = SHIPPED) -> dict[str, DueLine]:
    at = T + timedelta(days=day)
    state = folded(entries)
    limits = Limits.from_plain(limits_of(state, plan, read_card(state.card)).to_plain())
    return {line.item.id: line for line in due_lines("m", "R1", "", limits, plan, at, UTC)}


def read(day: int, value: float, change: Any = "", counter: Any = "hours", **more: int) -> e.Entry:
    scale = H if counter == "hours" else 1000
    return entry(e.Reading(counter=counter, value=round(value * scale), change=change, **more), T + timedelta(days=day))


def test_a_figure_at_which_something_is_due_is_what_the_counter_of_today_shows_then() -> None:
    service = entry(e.Service(item="grease"), T + timedelta(days=2))
    entries = [entry(e.Carded(card=CARD), T), read(1, 15), service, read(30, 30)]
    assert lines_of(entries, 40)["grease"].due_at == {"hours": 65}
    new = [*entries, read(31, 0, "new counter"), read(40, 5)]
    line = lines_of(new, 40)["grease"]
    assert (line.due_at, line.due_at_in_words("metric"), line.due.left) == ({"hours": 35}, "35 h", 30)
    # what was due on the counter that is gone has no figure on this one
    gone = lines_of([*new, read(80, 900), read(81, 2, "new counter")], 90)["grease"]
    assert (gone.due.state, gone.due.left, gone.due_at, gone.due_at_in_words("metric")) == ("overdue", -865, None, "")
    assert lines_of([*entries, read(31, 4, "rolled over", rolls_at=40 * H)], 40)["grease"].due_at == {"hours": 25}
    metres = [*entries, read(5, 9_000, counter="metres"), read(9, 0, "new counter", counter="metres")]
    card = metres[0]._replace(what=e.Carded(card=CARD | {"in_use_since": "2026-05-01"}))
    assert lines_of([card, *metres[1:]], 40, hose(10_000))["hose"].due_at == {"metres": 1_000}
    fault = entry(e.Fault(part="hose", says="scuffed", fix_by_seconds=70 * H), T + timedelta(days=41))
    assert lines_of([*new, fault], 42)[fault.id].due_at == {"hours": 40}


def test_a_service_told_by_its_hours_counts_from_those_whoever_ran_them() -> None:
    runs = [run(day) for day in range(4)]  # by somebody whom nobody here has accepted
    service = entry(e.Service(item="grease", life=20 * H), T + timedelta(days=5))
    known = Known(book(SHIPPED), uncounted=Uncounted(told=frozenset(one.id for one in runs)))
    state = fold("m", [entry(e.Carded(card=CARD), T), *runs, service], known)
    assert state is not None
    limits = limits_of(state, SHIPPED, read_card(state.card))
    grease = next(
        one for one in due_lines("m", "R1", "", limits, SHIPPED, service.happened, UTC) if one.item.id == "grease"
    )
    assert (limits.totals.seconds, grease.due.left) == (40 * H, 30)


def hose(metres: int) -> Plan:
    return read_plan({"id": "p", "items": [{"id": "hose", "what": "Hose", "every": {"metres": metres}}]})


def test_what_is_done_under_a_former_id_counts_for_what_was_split_from_it_only_until_the_plan_has_both() -> None:
    """Cleaning the strainer is no look at the turbine's bearing, though both were one item once."""
    both = SHIPPED
    before = read_plan({"id": "p", "items": [{"id": "strainer", "what": "Strainer, turbine", "every": {"hours": 250}}]})
    cleaned = [entry(e.Service(item="strainer"), T + timedelta(days=day)) for day in (20, 40, 60)]
    entries = [entry(e.Carded(card=CARD | {"drive": {"kind": "turbine"}}), T), *[run(2 * day) for day in range(40)]]
    late = {line.item.id: line for line in due_lines_of([*entries, *cleaned], book(before, both), both)}
    # once before the plan had both; what was done since is the strainer's alone
    assert (late["turbine"].last_done, late["strainer"].last_done) == (date(2026, 5, 21), date(2026, 6, 30))
    assert limit(folded([*entries, *cleaned], book(before, both)), "turbine", "hours") == (100 + 250) * H
    never = {line.item.id: line for line in due_lines_of([*entries, *cleaned], book(both), both)}
    assert (never["turbine"].due.state, never["turbine"].last_done) == ("unknown", None)
    assert never["strainer"].due.state != "unknown"
    # done in its own right it goes by that
    own = entry(e.Service(item="turbine"), T + timedelta(days=61))
    assert limit(folded([*entries, *cleaned, own], book(both)), "turbine", "hours") == (310 + 250) * H


def due_lines_of(entries: list[e.Entry], plans: PlanBook, plan: Plan) -> Sequence[DueLine]:
    state = folded(entries, plans)
    limits = limits_of(state, plan, read_card(state.card))
    return due_lines("m", "R1", "", limits, plan, T + timedelta(days=100), UTC)


def test_a_card_with_another_season_is_kept_as_the_entries_give_it() -> None:
    opened = entry(e.Service(item="season-opening"), datetime(2027, 1, 20, 6, tzinfo=UTC))
    revised = entry(e.Carded(card=CARD | {"season": {"opens": "06-30", "closes": "09-30"}}), opened.happened)
    entries, plans = [entry(e.Carded(card=CARD), T), opened], book(SHIPPED)
    anew = folded([*entries, revised])
    assert limit(anew, "season-opening", "date") == date(2027, 6, 30).toordinal()
    assert advance(folded(entries), [revised], Known(plans)) in (None, anew)


def test_an_item_that_the_plan_puts_on_a_day_of_the_year_is_due_on_it_though_it_was_done_before() -> None:
    closes = months(12, anchor="calendar", on="closes")
    done = entry(e.Service(item="oil"), datetime(2026, 6, 10, 6, tzinfo=UTC))
    state = folded([entry(e.Carded(card=CARD), T), done], book(months(12)))
    assert limit(state, "oil", "date", closes) == date(2026, 9, 30).toordinal()
    assert limit(state, "oil", "date", months(24, anchor="calendar", on="closes")) == date(2028, 9, 30).toordinal()
    assert limit(state, "oil", "date", months(6, anchor="calendar", on="12-31")) == date(2026, 12, 31).toordinal()


def test_a_repair_of_what_was_never_done_leaves_it_to_the_card_from_where_it_counts() -> None:
    fault = entry(e.Fault(part="chain", says="jumps"), T + timedelta(days=1))
    entries = [entry(e.Carded(card=CARD), T), fault, entry(e.Repair(fault=fault.id, says="new"), T + timedelta(days=2))]
    later = entry(e.Carded(card=CARD | {"in_use": {"metres": 52_000}}), T + timedelta(days=3))
    assert limit(folded([*entries, later]), "chain", "metres") == (52_000 + 15_000) * 1000


def months(every: int, **more: str) -> Plan:
    return read_plan({"id": "p", "items": [{"id": "oil", "what": "Oil", "every": {"months": every}, **more}]})


moments = st.lists(st.tuples(st.sampled_from(["run", "reading", "service"]), st.integers(0, 40)), max_size=25)


@given(moments, st.randoms())
def test_entries_that_come_late_give_what_they_would_have_given_in_time(
    happened: list[tuple[str, int]], chance: object
) -> None:
    entries, shown = [entry(e.Carded(card=CARD), T - timedelta(days=1))], 0
    for number, (kind, amount) in enumerate(happened):
        if kind == "run":
            entries.append(run(2 * number, 1 + amount / 10))
        elif kind == "reading":
            shown += amount * H // 4
            entries.append(entry(e.Reading(counter="hours", value=shown), T + timedelta(days=2 * number)))
        else:
            entries.append(entry(e.Service(item="chain"), T + timedelta(days=2 * number)))
    straight: MachineState | None = folded(entries[:1])
    for one in entries[1:]:
        assert straight is not None
        straight = advance(straight, [one], Known(book(SHIPPED)))
    shuffled = list(entries)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert folded(shuffled) == straight
    assert effective(shuffled) == entries

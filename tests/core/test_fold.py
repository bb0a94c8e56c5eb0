"""The fold: whichever way entries come in, all of them give one state; and what a signed check is worth."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.checks.sheet import left_out, left_out_again
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.fold import advance, effective, fold, in_turn
from reelcare.core.machine.card import read_card
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.counters import Totals
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain, to_plain
from reelcare.core.state.plans import Known, PlanBook, Uncounted

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
CARD: dict[str, Any] = {"tag": "R1", "jack": {"kind": "screw"}, "cart": {"arc": 220.5}}
CHOICES = [{"id": "yes", "says": "yes", "right": True}, {"id": "no", "says": "no"}]


def asked(id: str, **more: Any) -> dict[str, Any]:
    return {"id": id, "ask": f"{id}?", "kind": "seen", "part": "pawl", "if_not": "stop", "choices": CHOICES,
            "why": "why", "common_practice": True} | more  # fmt: skip


SHEET = read_sheet(
    {"id": "pre-start", "title": "Pre-start", "for": "run", "stages": [{"id": "s", "title": "S", "questions": [
        asked("feet"), asked("jack", needs=["jack.screw"]), asked("pawl", again=True),
        asked("mud", if_not="note"),
    ]}]}
)  # fmt: skip
ROAD = replace(SHEET, id="road", checks_for="road")
PLAN = read_plan({"id": "p", "items": [
    {"id": "oil", "what": "Oil", "part": "gearbox", "every": {"hours": 20, "months": 6}},
    {"id": "daily", "what": "Pre-start", "part": "pawl", "every": {"runs": 1}, "done_by": "pre-start"},
    {"id": "spring", "what": "Spring", "part": "pawl", "every": {"months": 3}, "first": {"hours": 5},
     "first_after_repair": True},
]})  # fmt: skip
SHEETS = {"kept-run": SHEET, "kept-road": ROAD}
KNOWN = Known(PlanBook([(T - timedelta(days=9), None, PLAN)]), SHEETS.get)


class History:
    """Entries of one machine, each at its time, with ids in the order of writing."""

    def __init__(self) -> None:
        self.entries: list[e.Entry] = []
        self.add(e.Carded(card=CARD), T - timedelta(days=2), id="m")

    def add(self, what: e.Kind, at: datetime, *, id: str = "", recorded: datetime | None = None) -> str:
        id = id or f"{len(self.entries):05d}"
        recorded = recorded or at
        self.entries.append(
            e.Entry(id=id, machine="m", happened=at, recorded=recorded, terminal="t", by="Ana", what=what)
        )
        return id

    def check(self, at: datetime, sheet: str = "kept-run", again_of: str = "", **seen: str) -> str:
        """A check begun, answered and signed within five minutes; `seen` says what was answered otherwise."""
        whole, card = SHEETS[sheet], read_card(CARD)
        leave = left_out_again(whole, card) if again_of else left_out(whole, card)
        begun = e.CheckBegun(
            sheet=sheet, sheet_id=whole.id, checks_for=whole.checks_for, left_out=leave, again_of=again_of
        )
        check = self.add(begun, at)
        for number, one in enumerate(whole.without(leave).questions):
            given = seen.get(one.id, "yes")
            if given != "skip":
                answer = e.Answered(check=check, question=one.id, seen=given, judged="right")
                self.add(answer, at + (1 + number) * MINUTE)
        self.add(e.CheckEnded(check=check, verdict="passed"), at + 5 * MINUTE)
        return check

    def run(self, ended: datetime) -> str:
        return self.add(e.Run(started=ended - HOUR, ended=ended, metres=200_000), ended)

    @property
    def state(self) -> MachineState:
        found = fold("m", self.entries, KNOWN)
        assert found is not None
        return found


def passed(history: History, side: str = "run") -> bool:
    one = history.state.passed.get(side)
    return one is not None and one.spent is None


def test_a_check_whose_answers_are_right_has_passed_until_the_run() -> None:
    history = History()
    history.check(T)
    assert passed(history)
    assert history.state.checks == ()
    assert history.state.cycles["daily"].last_done == T.date()
    history.run(T + 3 * HOUR)
    assert not passed(history)
    assert history.state.passed["run"].spent_by == "the run"


@pytest.mark.parametrize(("question", "what"), [("feet", "no"), ("jack", "skip"), ("pawl", "perhaps"), ("mud", "skip")])
def test_a_signature_is_worth_nothing_where_an_answer_is_missing_or_wrong(question: str, what: str) -> None:
    history = History()
    history.check(T, **{question: what})
    assert not passed(history)
    assert history.state.last_check == T + 5 * MINUTE


def test_a_signature_that_is_worth_nothing_ends_what_was_passed_before() -> None:
    history = History()
    history.check(T)
    history.check(T + HOUR, feet="no")
    assert history.state.passed == {}


def test_no_entry_can_say_that_a_question_did_not_apply() -> None:
    history = History()
    begun = e.CheckBegun(sheet="kept-run", sheet_id="pre-start", checks_for="run", left_out=("feet", "jack", "pawl"))
    check = history.add(begun, T)
    history.add(e.Answered(check=check, question="mud", seen="yes", judged="right"), T + MINUTE)
    history.add(e.CheckEnded(check=check, verdict="passed"), T + 2 * MINUTE)
    assert not passed(history)


def test_a_check_on_a_sheet_that_is_not_here_has_not_passed() -> None:
    history = History()
    history.check(T)
    state = fold("m", history.entries, Known(KNOWN.plans))
    assert state is not None
    assert state.passed == {}


@pytest.mark.parametrize("verdict", ["held", "left"])
def test_only_what_was_signed_as_complete_has_passed(verdict: str) -> None:
    history = History()
    history.check(T)
    end = history.entries[-1]
    history.entries[-1] = end._replace(what=replace(end.what, verdict=verdict, why="rain"))  # type: ignore[type-var]
    assert not passed(history)


def test_an_answer_taken_back_undoes_what_was_signed_on_it() -> None:
    history = History()
    history.check(T)
    answer = next(one.id for one in history.entries if isinstance(one.what, e.Answered))
    correction = history.add(e.Correction(entry=answer, why="not looked at"), T + HOUR)
    assert not passed(history)
    history.add(e.Correction(entry=correction, why="it was"), T + 2 * HOUR)
    assert passed(history)


def test_a_wrong_answer_that_comes_from_another_terminal_later_undoes_a_signature_that_it_was_before() -> None:
    for at in (T + 4 * MINUTE, T + 5 * MINUTE):
        history = History()
        check = history.check(T)
        wrong = e.Answered(check=check, question="feet", seen="no", judged="wrong")
        history.add(wrong, at, recorded=T + HOUR)
        assert not passed(history)
    history = History()
    check = history.check(T)
    history.add(e.Answered(check=check, question="feet", seen="no", judged="wrong"), T + 6 * MINUTE)
    assert passed(history)


def test_answers_of_a_terminal_whose_clock_is_behind_count_against_a_check_that_seems_to_begin_later() -> None:
    history = History()
    history.add(e.Answered(check="later", question="feet", seen="no", judged="wrong"), T - MINUTE)
    begun = e.CheckBegun(sheet="kept-run", sheet_id="pre-start", checks_for="run")
    history.add(begun, T, id="later")
    for number, id in enumerate(("feet", "jack", "pawl", "mud")):
        answer = e.Answered(check="later", question=id, seen="yes", judged="right")
        history.add(answer, T + (number + 1) * MINUTE)
    history.add(e.CheckEnded(check="later", verdict="passed"), T + 5 * MINUTE)
    assert not passed(history)


def test_a_card_that_came_before_is_what_a_check_is_judged_by_and_one_that_came_after_is_not() -> None:
    without = {**CARD, "jack": {"kind": "hydraulic"}}
    for at, expected in ((T - HOUR, True), (T, True), (T + MINUTE, False)):
        history = History()
        begun = e.CheckBegun(sheet="kept-run", sheet_id="pre-start", checks_for="run", left_out=("jack",))
        history.add(begun, T, id="c")
        history.add(e.Carded(card=without), at, recorded=T + HOUR)
        for number, id in enumerate(("feet", "pawl", "mud")):
            answer = e.Answered(check="c", question=id, seen="yes", judged="right")
            history.add(answer, T + (number + 2) * MINUTE)
        history.add(e.CheckEnded(check="c", verdict="passed"), T + 6 * MINUTE)
        assert passed(history) is expected


def test_a_hold_undoes_what_was_passed_for_its_side() -> None:
    history = History()
    history.check(T)
    history.check(T + 10 * MINUTE, "kept-road")
    history.add(e.Fault(part="wheels", says="flat", holds="road"), T + HOUR)
    assert set(history.state.passed) == {"run"}


def test_a_check_for_the_road_uses_up_the_one_for_the_run() -> None:
    history = History()
    history.check(T)
    history.check(T + HOUR, "kept-road")
    assert not passed(history)
    assert passed(history, "road")
    assert history.state.passed["run"].spent_by == "the road check since"


def second_run(history: History, first: str, at: datetime) -> None:
    history.run(at - MINUTE)
    history.check(at, again_of=first)


def test_a_second_run_goes_on_from_the_whole_check_of_the_first() -> None:
    history = History()
    first = history.check(T)
    second_run(history, first, T + 3 * HOUR)
    assert passed(history)
    second_run(history, first, T + 6 * HOUR)
    assert passed(history)


@pytest.mark.parametrize("why", ["a day later", "no whole check", "first not passed", "another sheet", "not there"])
def test_a_second_run_has_not_passed_without_a_whole_check_of_the_day(why: str) -> None:
    history = History()
    first = history.check(
        T, "kept-road" if why == "another sheet" else "kept-run", **{"feet": "no"} if "not p" in why else {}
    )
    at = T + 3 * HOUR
    if why == "a day later":
        at = T + timedelta(days=1, minutes=1)
    if why == "no whole check":
        second_run(history, first, T + HOUR)
        first = history.entries[-3].id
        assert isinstance(history.entries[-3].what, e.CheckBegun)
    second_run(history, "nowhere" if why == "not there" else first, at)
    assert not passed(history)


steps = st.lists(
    st.tuples(
        st.sampled_from(["run", "check", "check", "half", "again", "road", "fault", "hold", "repair", "release",
                         "service", "reading", "card", "measured", "stray", "correct"]),
        st.integers(0, 40),
        st.integers(0, 5),
    ),
    max_size=14,
)  # fmt: skip


def write(history: History, kind: str, number: int, at: datetime) -> None:
    ids = [one.id for one in history.entries]
    faults = [one.id for one in history.entries if isinstance(one.what, e.Fault)] or ["none"]
    checks = [one.id for one in history.entries if isinstance(one.what, e.CheckBegun)] or ["none"]
    acts: dict[str, Callable[[], object]] = {
        "run": lambda: history.run(at),
        "check": lambda: history.check(at, feet="yes" if number % 4 else "no"),
        "half": lambda: history.entries.__delitem__(slice(-2, None)) if history.check(at) else None,
        "again": lambda: history.check(at, again_of=checks[number % len(checks)]),
        "road": lambda: history.check(at, "kept-road"),
        "fault": lambda: history.add(e.Fault(part="pawl", says="x", fix_by_runs=number), at),
        "hold": lambda: history.add(e.Fault(part="pawl", says="x", holds=("run", "road", "both")[number % 3]), at),
        "repair": lambda: history.add(e.Repair(fault=faults[number % len(faults)], says="mended"), at),
        "release": lambda: history.add(e.Release(fault=faults[number % len(faults)]), at),
        "service": lambda: history.add(e.Service(item="oil"), at),
        "reading": lambda: history.add(e.Reading(counter="hours", value=number * 3600), at),
        "card": lambda: history.add(e.Carded(card=CARD if number % 2 else {"tag": "R1"}), at),
        "measured": lambda: history.add(e.Measured(about="pre-start", figures={}), at),
        "stray": lambda: history.add(
            e.Answered(check=checks[number % len(checks)], question="feet", seen="no", judged="wrong"), at
        ),
        "correct": lambda: (
            history.add(e.Correction(entry=ids[1 + number % max(len(ids) - 1, 1)], why="a slip"), at)
            if len(ids) > 1
            else None
        ),
    }
    acts[kind]()


def history_of(happened: list[tuple[str, int, int]]) -> History:
    history, at = History(), T
    for kind, number, hours in happened:
        at += hours * HOUR
        write(history, kind, number, at)
        at = max(at, history.entries[-1].happened)
    return history


@settings(max_examples=150, deadline=None)
@given(steps)
def test_folding_on_one_by_one_gives_what_folding_all_gives(happened: list[tuple[str, int, int]]) -> None:
    entries = sorted(history_of(happened).entries, key=lambda one: one.order)
    state = fold("m", entries[:1], KNOWN)
    for number, one in enumerate(entries[1:], 2):
        assert state is not None
        further = advance(state, [one], KNOWN)
        anew = fold("m", entries[:number], KNOWN)
        # a correction may change what earlier entries did: then the machine is folded anew, and only then
        assert (further is None) == isinstance(one.what, e.Correction)
        assert further is None or further == anew
        state = anew


@settings(max_examples=80, deadline=None)
@given(steps, st.integers(1, 30), st.randoms())
def test_the_order_in_which_entries_come_in_and_where_they_are_kept_changes_nothing(
    happened: list[tuple[str, int, int]], cut: int, chance: Any
) -> None:
    history = history_of(happened)
    shuffled = chance.sample(history.entries, len(history.entries))
    state = history.state
    assert fold("m", shuffled, KNOWN) == state
    assert from_plain(to_plain(state)) == state
    assert to_plain(from_plain(to_plain(state))) == to_plain(state)
    entries = sorted(history.entries, key=lambda one: one.order)
    first = fold("m", entries[:cut], KNOWN)
    assert first is not None
    on = advance(from_plain(to_plain(first)), entries[cut:], KNOWN)
    assert on is None or on == state


@settings(max_examples=50, deadline=None)
@given(steps)
def test_the_states_in_turn_are_those_that_the_entries_before_give(happened: list[tuple[str, int, int]]) -> None:
    history = history_of([one for one in happened if one[0] != "correct"])
    entries = sorted(history.entries, key=lambda one: one.order)
    for number, (one, state) in enumerate(in_turn("m", history.entries, KNOWN)):
        assert one == entries[number]
        if number:
            before = fold("m", entries[:number], KNOWN)
            assert before is not None
            assert (state.totals, dict(state.passed)) == (before.totals, dict(before.passed))


def borne_out(entries: list[e.Entry], check: str, at: datetime) -> bool:
    """Whether a check that was signed at a moment has passed, looked up among all entries that count at their end."""
    begun = next((one for one in entries if one.id == check), None)
    if begun is None or not isinstance(begun.what, e.CheckBegun):
        return False
    about = [one for one in entries if one.what.subject() == check]
    end = next((place for place, one in enumerate(about) if isinstance(one.what, e.CheckEnded)), len(about))
    if any(one.happened <= at for one in about[end + 1 :] if isinstance(one.what, e.Answered)):
        return False  # what was signed for is not what stands there now, whether it was asked or left out
    cards = [one for one in entries if isinstance(one.what, e.Carded)]
    card = read_card([cards[0], *(one for one in cards if one.happened <= begun.happened)][-1].what.card)  # type: ignore[attr-defined]
    sheet, what = SHEETS[begun.what.sheet], begun.what
    until = [one for one in about if one.happened <= at or not isinstance(one.what, e.Answered)]
    if e.walk_of(sheet, begun, until, card).verdict(at) != "passed":
        return False
    if not what.again_of:
        return set(what.left_out) <= set(left_out(sheet, card))
    first = next((one.what for one in entries if one.id == what.again_of), None)
    ended = next(
        (one for one in entries if isinstance(one.what, e.CheckEnded) and one.what.check == what.again_of), None
    )
    return (
        set(what.left_out) <= set(left_out_again(sheet, card))
        and isinstance(first, e.CheckBegun)
        and ended is not None
        and (first.again_of, first.sheet) == ("", what.sheet)
        and timedelta(0) <= at - ended.happened <= timedelta(hours=24)
        and borne_out(entries, what.again_of, ended.happened)
    )


@settings(max_examples=150, deadline=None)
@given(steps)
@example([("check", 1, 0), ("check", 1, 0), ("stray", 1, 0)])  # one before does not stand in for what was undone
@example([("check", 1, 0), ("again", 0, 0), ("stray", 1, 0)])  # nor does an answer to what was left out
def test_what_has_passed_is_what_all_entries_bear_out_at_their_end(happened: list[tuple[str, int, int]]) -> None:
    history = history_of(happened)
    standing = effective(history.entries)
    signed: dict[str, tuple[str, datetime]] = {}
    ends = set()
    for one in standing:
        what = one.what
        if isinstance(what, e.CheckEnded) and what.check not in ends:
            begun = next((b.what for b in standing if b.id == what.check), None)
            ends.add(what.check)
            if isinstance(begun, e.CheckBegun):
                signed[begun.checks_for] = (what.check, one.happened)
        elif isinstance(what, e.Fault) and what.holds:
            for side in ("run", "road"):
                if what.holds in (side, "both"):
                    signed.pop(side, None)
    expected = {side: check for side, (check, at) in signed.items() if borne_out(standing, check, at)}
    assert {side: one.check for side, one in history.state.passed.items()} == expected


def test_a_check_whose_beginning_was_taken_back_bears_no_second_run() -> None:
    history = History()
    first = history.check(T)
    second_run(history, first, T + 3 * HOUR)
    history.add(e.Correction(entry=first, why="another machine's"), T + 4 * HOUR)
    assert not passed(history)


def test_a_state_that_left_the_fold_does_not_change_as_it_is_folded_on() -> None:
    history = History()
    history.check(T)
    state, text = history.state, to_plain(history.state)
    more = History()
    more.entries = []
    more.add(e.Fault(part="pawl", says="bent", holds="both"), T + HOUR, id="f")
    more.add(e.Service(item="oil"), T + HOUR, id="s")
    further = advance(state, more.entries, KNOWN)
    assert further is not None
    assert further.passed == {}
    assert to_plain(state) == text
    for name in ("cycles", "passed"):
        with pytest.raises(TypeError):
            getattr(state, name)["x"] = None


@pytest.mark.parametrize("what", ["late", "plan", "day before", "no card"])
def test_a_machine_that_must_be_folded_anew_is_not_folded_on(what: str) -> None:
    """Newfoundland put its clocks back at one minute past midnight (tz database, America/St_Johns, 2005-10-30)."""
    known, at = KNOWN, T
    history = History()
    if what == "day before":
        at = datetime(2005, 10, 30, 2, 30, 30, tzinfo=UTC)
        known = Known(PlanBook(zone=ZoneInfo("America/St_Johns")))
        history.entries = [history.entries[0]._replace(happened=at, recorded=at)]
    if what == "no card":
        history.entries = []
        history.add(e.Fault(part="pawl", says="x"), T)
    state = fold("m", history.entries, known)
    assert state is not None
    newer: dict[str, tuple[e.Kind, datetime]] = {
        "late": (e.Service(item="oil"), T - timedelta(days=3)),
        "plan": (e.Planned(plan={}), T),
        "day before": (e.Reading(counter="hours", value=0), at + 10 * MINUTE),
        "no card": (e.Carded(card=CARD), T + HOUR),
    }
    entry = e.Entry(
        id="9", machine="m", happened=newer[what][1], recorded=newer[what][1], terminal="t", by="A", what=newer[what][0]
    )
    assert advance(state, [entry], known) is None
    assert advance(state, [], known) is state


def folded(history: History) -> MachineState:
    found = fold("m", sorted(history.entries, key=lambda one: one.happened), KNOWN)
    assert found is not None
    return found


def test_only_what_a_supervisor_writes_ends_a_near_miss() -> None:
    """Whoever wrote the other kind, on whatever terminal: the fold does not take it for the end of a near miss."""
    history = History()
    miss = history.add(e.Noted(says="hose whipped", near_miss="yes"), T)
    note = history.add(e.Noted(says="gate code 12"), T + MINUTE)
    history.add(e.NoteRead(note=miss), T + 2 * MINUTE)
    history.add(e.NearMissRead(note=note), T + 3 * MINUTE)
    assert [one.id for one in folded(history).notes] == [miss, note]
    history.add(e.NearMissRead(note=miss), T + 4 * MINUTE)
    history.add(e.NoteRead(note=note), T + 5 * MINUTE)
    assert folded(history).notes == ()
    assert e.NearMissRead.least_role == "supervisor"


def test_a_service_told_of_at_a_figure_of_the_counter_counts_from_there() -> None:
    history = History()
    history.add(e.Reading(counter="hours", value=110 * 3600), T)
    history.add(e.Service(item="oil", life=104 * 3600), T - HOUR)
    oil = folded(history).cycles["oil"]
    assert (oil.base[0], oil.last_done) == (104 * 3600, T.date())


@pytest.mark.parametrize("read", [None, 40 * 3600])
def test_a_run_told_by_a_stranger_adds_what_it_took_and_no_more(read: int | None) -> None:
    history = History()
    if read is not None:
        history.add(e.Reading(counter="hours", value=read), T - 9 * HOUR)
    history.add(e.Run(started=T - 6 * HOUR, ended=T - HOUR, metres=300_000), T - HOUR)
    told = history.add(e.Run(started=T, ended=T + 2 * HOUR, metres=90_000), T + 2 * HOUR)
    state = fold("m", history.entries, replace(KNOWN, uncounted=Uncounted(told=frozenset({told}))))
    assert state is not None
    assert state.totals == Totals((read or 0) + 7 * 3600, 390_000, 2)

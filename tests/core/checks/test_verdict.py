"""The verdict: nothing is passed that was not answered right, in order, in this check, and lately."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare import languages
from reelcare.core import text
from reelcare.core.checks.sheet import Sheet
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.checks.verdict import STALE, Given, Signature, Walk
from reelcare.core.entries import Fault, fault_of
from reelcare.core.machine.card import Card, read_card
from reelcare.core.parts import RETESTS, default_retest

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def choice(id: str, if_not: str = "stop", sets: str = "", **more: object) -> dict[str, object]:
    return {
        "id": id, "ask": f"{id}?", "kind": "position", "part": "pawl", "if_not": if_not, "sets": sets,
        "choices": [{"id": "good", "says": "good", "right": True}, {"id": "bad", "says": "bad"}],
        **({"fix_by": {"hours": 10, "metres": 5, "runs": 2, "days": 3}} if if_not == "fix-by" else {}), **more,
    }  # fmt: skip


SHEET = read_sheet(
    {
        "id": "s", "title": "S", "for": "run",
        "stages": [
            {"id": "one", "title": "One", "questions": [
                choice("feet", sets="legs=set"),
                choice("arc", if_not="fix-by"),
                choice("wind", if_not="note"),
            ]},
            {"id": "two", "title": "Two", "questions": [
                choice("pawl-up", sets="pawl=up"),
                choice("feet-again", sets="legs=set"),
                {"id": "coils", "ask": "coils?", "kind": "count", "part": "hose", "if_not": "stop", "at_least": 2},
                choice("pawl-down", sets="pawl=down"),
            ]},
        ],
    }
)  # fmt: skip
IDS = [one.id for one in SHEET.questions]


def right(id: str) -> str:
    return "3" if id == "coils" else "good"


def walk(answers: Sequence[tuple[str, str]], sheet: Sheet = SHEET, card: Card | None = None) -> Walk:
    given = tuple(
        Given(id, seen, T + (place + 1) * MINUTE, "Ines", f"{place:04}") for place, (id, seen) in enumerate(answers)
    )
    return Walk(sheet, T, given, card or Card("R1"), {})


ALL = [(id, right(id)) for id in IDS]
LATER = T + 60 * MINUTE


def test_all_answered_right_in_order_is_passed() -> None:
    assert walk(ALL).verdict(LATER) == "passed"


@given(st.lists(st.tuples(st.sampled_from(IDS), st.sampled_from(["good", "bad", "3", "1"])), max_size=14))
def test_each_answer_that_can_be_read_counts_or_says_why_it_does_not(answers: list[tuple[str, str]]) -> None:
    done = walk(answers)
    counting, undone = set(done.counting().values()), set(done.undone())
    assert not counting & undone
    assert counting | undone == {one for one in done.given if done.judgement(one).judged != "unreadable"}


def test_an_answer_that_a_later_one_changes_names_that_one() -> None:
    done = walk([*ALL[:3], ALL[3], ("feet-again", "bad")])
    assert done.undone() == {done.given[0]: ("moved", "feet-again")}
    again = walk([ALL[0], ALL[0]])
    assert again.undone() == {again.given[0]: ("again", "")}
    early = walk([ALL[1]])
    assert early.undone() == {early.given[0]: ("order", "")}


@pytest.mark.parametrize("missing", IDS)
def test_one_missing_answer_leaves_it_open(missing: str) -> None:
    done = walk([one for one in ALL if one[0] != missing])
    assert done.verdict(LATER) == "open"
    assert done.next(LATER) is not None
    assert done.next(LATER).id == missing  # type: ignore[union-attr]


@pytest.mark.parametrize("id", [one.id for one in SHEET.questions if one.if_not == "stop"])
def test_a_wrong_answer_to_a_stop_question_holds_whatever_is_answered_after_it(id: str) -> None:
    wrong = "1" if id == "coils" else "bad"
    place = IDS.index(id)
    assert walk([*ALL[:place], (id, wrong)]).verdict(LATER) == "held"
    assert walk([*ALL[:place], (id, wrong), *ALL[place:]]).verdict(LATER) == "held"


def test_answers_out_of_order_do_not_count() -> None:
    swapped = [ALL[1], ALL[0], *ALL[2:]]
    done = walk(swapped)
    assert done.verdict(LATER) == "open"
    assert [one.id for one in done.open(LATER)] == IDS[1:]


def test_a_stale_answer_is_asked_again() -> None:
    done = walk(ALL)
    assert done.verdict(T + STALE) == "passed"
    assert done.verdict(T + STALE + 2 * MINUTE) == "open"
    assert done.next(T + STALE + 2 * MINUTE).id == "feet"  # type: ignore[union-attr]


HOUR = timedelta(hours=1)
GATED = read_sheet({"id": "g", "title": "G", "for": "run", "stages": [
    {"id": gate, "title": gate, "gate": gate, "questions": [choice(id) for id in asked]}
    for gate, asked in (("pull-out", ["line"]), ("water", ["pin", "hose"]), ("running", ["jet"]))]})  # fmt: skip


def gated(given: Sequence[tuple[str, int]], signed: Sequence[tuple[str, int]]) -> Walk:
    """A check by gates, answered right and signed at hours after its beginning."""
    answers = tuple(Given(id, "good", T + at * HOUR, "Ines", f"{place:04}") for place, (id, at) in enumerate(given))
    gates = tuple(Signature(gate, T + at * HOUR, "Ines", f"z{at}") for gate, at in signed)
    return Walk(GATED, T, answers, Card("R1"), {}, signed=gates)


def test_before_a_gate_is_signed_its_old_answers_are_asked_again_and_none_of_the_gate_before() -> None:
    done = gated([("line", 0), ("pin", 1), ("hose", 7)], [("pull-out", 0)])
    assert done.open_for("water", T + 12 * HOUR) == []
    assert [one.id for one in done.open_for("water", T + 14 * HOUR)] == ["pin"]


def test_an_answer_counts_only_once_the_gate_before_its_own_is_signed() -> None:
    early = gated([("line", 0), ("pin", 0), ("hose", 1)], [("pull-out", 1)])
    assert list(early.counting()) == ["line"]
    assert {given.question: why.why for given, why in early.undone().items()} == {"pin": "order", "hose": "order"}
    assert [one.id for one in early.open_for("water", T + HOUR)] == ["pin", "hose"]
    again = gated([("line", 0), ("pin", 0), ("hose", 1), ("pin", 2), ("hose", 2)], [("pull-out", 1)])
    assert again.open_for("water", T + 2 * HOUR) == []


def test_once_the_water_is_open_neither_a_pause_nor_another_person_takes_its_gate_back() -> None:
    until_water = [("line", 0), ("pin", 1), ("hose", 1)]
    signed = [("pull-out", 0), ("water", 1)]
    later, other = T + 10 * HOUR, T + 2 * HOUR
    for at, by in ((later, "Ines"), (other, "Olav")):
        assert [one.gate for one in gated(until_water, signed).gates(at, by)] == ["pull-out"]
        assert [one.gate for one in gated([*until_water, ("jet", 2)], signed).gates(at, by)] == ["pull-out", "water"]


def test_the_machine_keeps_the_figures_that_were_read_and_no_others() -> None:
    asked = {"ask": "?", "kind": "reading", "quantity": "length", "part": "hose", "if_not": "note"}
    questions = [
        asked | {"id": "long", "keeps": "hose_length"},
        asked | {"id": "bore"},
        asked | {"id": "left", "keeps": "left"},
    ]
    sheet = read_sheet(
        {"id": "s", "title": "S", "for": "shop", "stages": [{"id": "a", "title": "A", "questions": questions}]}
    )
    assert walk([("long", "300 m"), ("bore", "2 m")], sheet).kept_figures() == {"hose_length": 300.0}
    unread = walk([("long", "long enough"), ("bore", "2 m")], sheet)
    assert unread.kept_figures() == {}


def test_an_answer_from_before_the_check_does_not_count() -> None:
    before = Given("feet", "good", T - MINUTE, "Ines")
    late = walk(ALL[1:])
    assert Walk(SHEET, T, (before, *late.given), Card("R1"), {}).verdict(LATER) == "open"


def test_a_position_brought_about_again_reopens_what_came_after() -> None:
    again = walk([*ALL, ("pawl-up", "good")])
    assert [one.id for one in again.open(LATER)] == ["pawl-down"]


def test_an_unreadable_answer_is_no_answer() -> None:
    assert walk([*ALL[:5], ("coils", "two"), ALL[6]]).next(LATER).id == "coils"  # type: ignore[union-attr]


def test_it_resumes_at_the_last_answered_question_unless_an_earlier_one_is_open() -> None:
    # row Q17: Flight Safety Foundation ALAR briefing note 1.5, on interrupted lists
    assert walk(ALL[:3]).resume(LATER).id == "wind"  # type: ignore[union-attr]
    assert walk([]).resume(LATER).id == "feet"  # type: ignore[union-attr]


def test_what_an_answer_raises() -> None:
    held = walk([("feet", "bad")])
    fault = fault_of(held, held.given[0], "check", totals=(3600, 1000, 7), day=T)
    assert fault is not None
    assert (fault.holds, fault.part, fault.retest) == ("run", "pawl", default_retest("pawl"))
    late = walk([ALL[0], ("arc", "bad"), ("wind", "bad")])
    fix = fault_of(late, late.given[1], "check", totals=(3600, 1000, 7), day=T)
    assert fix is not None
    assert fix.holds == ""
    limits = (fix.fix_by_seconds, fix.fix_by_millimetres, fix.fix_by_runs, fix.fix_by_day)
    assert limits == (3600 + 10 * 3600, 1000 + 5000, 7 + 2, "2026-05-04")
    assert fault_of(late, late.given[2], "check", totals=(0, 0, 0), day=T) is None


def test_a_fault_is_kept_in_english_with_what_was_typed_in_whatever_language_it_was_found() -> None:
    text.install(languages.catalogue("es"))
    table = choice("feet", ask={"en": "Feet in?", "es": "¿Palas dentro?"})
    table["choices"] = [
        {"id": "good", "says": {"en": "in", "es": "dentro"}, "right": True},
        {"id": "bad", "says": {"en": "out", "es": "fuera"}},
    ]
    coils = {
        "id": "coils", "ask": {"en": "Coils?", "es": "¿Espiras?"}, "kind": "count", "part": "drum", "if_not": "stop",
        "at_least": "2",
    }  # fmt: skip
    stages = [{"id": "one", "title": "One", "questions": [table, coils]}]
    sheet = read_sheet({"id": "s", "title": "S", "for": "run", "stages": stages})
    given = (Given("feet", "bad", T, "Ines", note="la izquierda"), Given("coils", "1", T + MINUTE, "Ines"))
    walk = Walk(sheet, T, given, Card("R1"), {}, language="es")
    kept = [fault_of(walk, one, "check", totals=(0, 0, 0), day=T) for one in given]
    assert [one and one.says for one in kept] == ["Feet in? out (la izquierda)", "Coils? 1; right is at least 2"]
    assert [one and one.retest for one in kept] == [RETESTS["pawl"], RETESTS["drum"]]
    languages.install("es")
    assert [one and one.shown for one in kept] == ["¿Palas dentro? fuera (la izquierda)", "¿Espiras? 1"]
    assert [one and one.retest_shown for one in kept] == [text._(RETESTS["pawl"]), text._(RETESTS["drum"])]
    languages.install("fr")
    assert kept[0]
    assert kept[0].shown == kept[0].says, "a sheet of one's own may lack a language"


def test_an_answer_is_told_in_the_language_of_the_moment_and_kept_in_english() -> None:
    """A check that was begun in English, answered by somebody else in Spanish."""
    given = Given("coils", "1", T + MINUTE, "Ines")
    going = Walk(SHEET, T, (given,), Card("R1"), {})
    languages.install("es")
    assert going.judgement(given).says == "1; lo correcto es al menos 2"
    kept = fault_of(going, given, "check", totals=(0, 0, 0), day=T)
    assert kept is not None
    assert kept.says == "coils? 1; right is at least 2"
    languages.install("fr")
    assert "lo correcto" not in going.judgement(given).says


def test_a_fault_of_a_gauge_that_cannot_be_read_is_shown_without_an_english_word() -> None:
    inlet = {
        "id": "inlet", "ask": {"en": "Inlet?", "es": "¿Entrada?"}, "kind": "reading", "quantity": "pressure",
        "part": "gauges", "if_not": "stop", "at_most": "9 bar", "cannot_read": True,
    }  # fmt: skip
    sheet = read_sheet({"id": "s", "title": "S", "for": "run", "stages": [
        {"id": "one", "title": "One", "questions": [inlet]},
    ]})  # fmt: skip
    given = [
        Given("inlet", seen, T, "Ines", note="roto") for seen in ("cannot be read", "cannot be read; 6.4 bar at pump")
    ]
    walk = Walk(sheet, T, tuple(given[:1]), Card("R1"), {}, language="es")
    kept = [fault_of(walk, one, "check", totals=(0, 0, 0), day=T) for one in given]
    languages.install("es")
    assert [one and one.shown for one in kept] == [
        f"¿Entrada? {text._('cannot be read')} (roto)",
        f"¿Entrada? {text._('cannot be read')}; {text._('{reading} at the pump', reading='6,4 bar')} (roto)",
    ]
    typed = Fault(part="drum", says="its plate cannot be read")
    assert typed.shown == typed.says, "what somebody typed stays as it is"


given_answers = st.lists(
    st.tuples(st.sampled_from(IDS), st.sampled_from(["good", "bad", "3", "1", "x", ""]), st.integers(-3, 2000)),
    max_size=30,
)


@settings(max_examples=4 * settings().max_examples)
@given(given_answers, st.integers(0, 3000), st.randoms())
def test_no_sequence_of_answers_passes_while_a_stop_question_lacks_a_right_one(
    answers: list[tuple[str, str, int]], ends: int, chance: object
) -> None:
    given = [Given(id, seen, T + at * MINUTE, "Ines", str(place)) for place, (id, seen, at) in enumerate(answers)]
    chance.shuffle(given)  # type: ignore[attr-defined]  # answers of two terminals arrive in any order
    end = T + ends * MINUTE
    done = Walk(SHEET, T, tuple(one for one in given if one.at <= end), Card("R1"), {})
    if done.verdict(end) == "passed":
        for question in SHEET.questions:
            mine = [one for one in given if one.question == question.id and T <= one.at <= end]
            assert mine, "passed without an answer"
            if question.if_not == "stop":
                assert any(one.seen == right(question.id) and end - one.at <= STALE for one in mine)
                assert not any(one.seen == ("1" if question.id == "coils" else "bad") for one in mine)


@given(st.permutations(range(len(ALL))))
def test_the_order_in_which_answers_arrive_does_not_matter(order: list[int]) -> None:
    whole = walk(ALL)
    shuffled = Walk(SHEET, T, tuple(whole.given[place] for place in order), Card("R1"), {})
    assert shuffled.counting() == whole.counting()


def test_only_one_order_of_answering_passes() -> None:
    small = read_sheet({"id": "s", "title": "S", "for": "run", "stages": [
        {"id": "a", "title": "A", "questions": [choice("a"), choice("b"), choice("c"), choice("d")]}]})  # fmt: skip
    passed = [
        order
        for order in permutations("abcd")
        if walk([(id, "good") for id in order], small).verdict(LATER) == "passed"
    ]
    assert passed == [("a", "b", "c", "d")]


def test_what_the_card_says_is_not_there_is_not_asked_and_nobody_can_say_so_otherwise() -> None:
    sheet = read_sheet({"id": "s", "title": "S", "for": "run", "stages": [
        {"id": "a", "title": "A", "questions": [choice("pin", needs=["turntable"]), choice("feet")]}]})  # fmt: skip
    from reelcare.core.checks.sheet import for_machine

    fixed = read_card({"tag": "R1", "drum": {"turntable": False}})
    assert [one.id for one in for_machine(sheet, fixed).questions] == ["feet"]
    assert [one.id for one in for_machine(sheet, Card("R1")).questions] == ["pin", "feet"]
    assert walk([("pin", "does not apply"), ("feet", "good")], sheet).verdict(LATER) == "open"

"""Every kind of entry says all that the program must know of it; a kind that is new is treated like the others."""

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any, ClassVar, get_args

import pytest

from reelcare.core import entries as e
from reelcare.core.entries import bodies
from reelcare.core.entries.base import RunSpan
from reelcare.core.fold import fold
from reelcare.core.machine.card import Card
from reelcare.core.people import ROLES, Role
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plans import Known, PlanBook

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
RELEASED = json.loads(Path(__file__).with_name("released.json").read_text("utf-8"))
"""What released versions wrote of each kind, with all its fields and with as few as could be. No line is ever changed:
registers are full of them. A kind that is new gets its lines, and a field that is new a further one."""
OIL = {"id": "p", "items": [{"id": "oil", "what": "Oil", "part": "gearbox", "every": {"hours": 100}}]}

EXAMPLES: dict[str, e.Kind] = {
    "card": e.Carded(card={"tag": "R1", "name": "Long Reach", "cart": {"arc": 220.5}}),
    "plan": e.Planned(plan=OIL),
    "moved": e.Moved(place="South Field"),
    "retired": e.Retired(why="sold"),
    "field": e.Mapped(field={"id": "north", "lanes": [{"number": 1, "hydrant": 7, "length": "320 m"}]}),
    "lane order": e.LanesChosen(field="north", lanes=("4", "2a")),
    "person": e.Enrolled(name="Ana", role="mechanic"),
    "reading": e.Reading(counter="metres", value=1_500_000, change="rolled over", rolls_at=9_999_000),
    "run": e.Run(started=T, ended=T + timedelta(hours=9), metres=300_000, inlet=640_000, stopped_by="end stop"),
    "sheet": e.Sheeted(sheet={"id": "pre-start", "stages": []}),
    "check begun": e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for="run", left_out=("jack-out",)),
    "answer": e.Answered(check="c", question="feet", seen="down", judged="right", note="soft\nground"),
    "check ended": e.CheckEnded(check="c", verdict="left", why="rain"),
    "gate signed": e.GateSigned(check="c", gate="water"),
    "service": e.Service(item="oil", title="Oil", steps=("drain", "fill"), minutes=20),
    "note": e.Noted(says="left running, stops 03:40", until="2026-06-02", near_miss="yes"),
    "note read": e.NoteRead(note="n"),
    "near miss read": e.NearMissRead(note="n"),
    "instruction": e.Instructed(name="Ana", valid=6),
    "given": e.Assigned(item="oil", to="Ana", day="2026-06-02"),
    "fault": e.Fault(
        part="pawl",
        says="slips",
        fix_by_runs=4,
        fix_by_day="2026-06-01",
        retest="pawl holds",
        says_by_language={"es": "resbala"},
        retest_by_language={"es": "aguanta"},
    ),
    "repair": e.Repair(fault="f", says="new spring"),
    "re-test": e.Retest(fault="f", passed=True, seen="holds"),
    "release": e.Release(fault="f", says="fit"),
    "put right": e.PutRight(fault="f", check="c", says="arc turned"),
    "correction": e.Correction(entry="0123456789", why="another machine's"),
    "recovery": e.Recovered(name="Mara"),
    "restore": e.Restored(why="the disk failed", before={"a1": [9, "f0"]}, after={"a1": [7, "e1"]}),
    "carried in": e.CarriedIn(digest="ab12", terminal="b2", brought={"fault": 1, "run": 3}),
    "carry decision": e.CarryDecision(entries=("0123456789",), accepted=False, why="not ours"),
    "measured": e.Measured(about="timing-check", figures={"hose_length": 401.5}),
    "set-up": e.SetPlanned(wishes={"out": "300 m"}, planned={"pull_out": "300 m"}, warnings=("late",)),
}
SAYS = {
    "card": "card of R1: Long Reach",
    "plan": "service plan p, 1 item",
    "moved": "moved to South Field",
    "retired": "left the yard: sold",
    "field": "field north, 1 lane",
    "lane order": "next lanes of north: 4, 2a",
    "person": "Ana, mechanic",
    "reading": "metre counter shows 1500 m (rolled over)",
    "run": "300 m in 9.0 h, stopped by end stop",
    "sheet": "sheet pre-start",
    "check begun": "pre-start begun",
    "answer": "feet: down (right), soft\nground",
    "check ended": "given up: rain",
    "gate signed": "may open the water, signed",
    "service": "Oil",
    "note": "near miss: left running, stops 03:40 (until 2026-06-02)",
    "note read": "read note n",
    "near miss read": "read near miss n",
    "instruction": "Ana instructed, for 6 months",
    "given": "oil given to Ana for 2026-06-02",
    "fault": "pawl: slips (to be fixed by run 4 or 2026-06-01)",
    "repair": "repaired: new spring",
    "re-test": "passed: holds",
    "release": "released: fit",
    "put right": "put right, and answered again: arc turned",
    "correction": "takes back 23456789: another machine's",
    "recovery": "Mara signed in with the recovery code",
    "restore": "went back to a copy: the disk failed",
    "carried in": "carried in from b2: 1 fault, 3 run",
    "carry decision": "refuses 23456789: not ours",
    "measured": "timing-check, hose, measured 402 m",
    "set-up": "set planned: out 300 m, warned: the run is not done in time",
}
SUBJECTS = {
    "note read": "n",
    "near miss read": "n",
    "answer": "c",
    "check ended": "c",
    "gate signed": "c",
    "repair": "f",
    "re-test": "f",
    "release": "f",
    "put right": "f",
    "correction": "0123456789",
    "carried in": "ab12",
}


def entry(what: e.Kind, at: datetime = T, id: str = "1", machine: str | None = "m") -> e.Entry:
    return e.Entry(id=id, machine=machine, happened=at, recorded=at, terminal="t", by="Ana", what=what)


@dataclass
class Around:
    """What a door knows around an entry, as it is set; what is asked for is noted."""

    at: datetime = T
    now: datetime = T + timedelta(minutes=1)
    zone: tzinfo = UTC
    machine: str | None = "m"
    state: MachineState | None = None
    card: Card | None = None
    card_then: Card | None = None
    plan: Plan | None = field(default_factory=lambda: read_plan(OIL))
    in_use_since: date | None = None
    carded: datetime | None = T
    fastest: int = 500_000
    roles: Mapping[str, str] = field(default_factory=lambda: {"Ana": "supervisor"})
    runs: tuple[e.Run, ...] = ()
    tags: Mapping[str, str] = field(default_factory=dict)
    entries: Mapping[str, e.Entry] = field(default_factory=dict)
    gone: frozenset[str] = frozenset()
    moved: Mapping[str, str] = field(default_factory=dict)

    def run_after(self, moment: datetime) -> RunSpan | None:
        return next((one for one in self.runs if one.ended > moment), None)

    def card_at(self, moment: datetime) -> Card | None:
        return self.card_then or self.card

    def machine_with_tag(self, tag: str) -> str | None:
        return self.tags.get(tag)

    def entry(self, id: str) -> e.Entry | None:
        return self.entries.get(id)

    def moved_to(self, correction: str) -> str | None:
        return self.moved.get(correction)

    def is_in_newest_plan(self, item: str) -> bool:
        return self.plan is not None and any(one.id == item for one in self.plan.items)

    def is_cancelled(self, id: str) -> bool:
        return id in self.gone


def lacks(cls: type[e.Kind]) -> list[str]:
    """What a kind does not say of itself."""
    found = [name for name in ("kind", "least_role", "reaches", "news") if name not in vars(cls)]
    own = ["describe"] if vars(cls).get("reaches") is e.UpdateScope.NOTHING else ["apply", "describe"]
    found += [name for name in own if getattr(cls, name) is getattr(e.Kind, name)]
    if not found and cls.least_role not in ROLES:
        found.append(f"a least_role of {ROLES}")
    if not found and cls.news not in get_args(e.News):
        found.append(f"news of {get_args(e.News)}")
    return found


def test_every_class_of_a_kind_in_the_package_is_listed() -> None:
    # a dataclass with slots leaves the class that it was made from behind, so they are held together by name
    there = {one.__name__ for one in e.Kind.__subclasses__() if one.__module__.startswith("reelcare.")}
    listed = {one.__name__ for one in e.KINDS.values()}
    assert there == listed, "a kind is listed in `KINDS` of the module of its family"


def test_every_kind_can_be_named_from_outside() -> None:
    named = {one.__name__ for one in e.KINDS.values()}
    assert named <= set(e.__all__), "a kind is imported in `reelcare/core/entries/__init__.py`, and named in `__all__`"


def test_there_is_an_example_of_every_kind_and_no_other() -> None:
    for told, name in ((EXAMPLES, "EXAMPLES"), (SAYS, "SAYS")):
        assert set(told) == set(e.KINDS), f"a kind has its line in {name}, and a line there has its kind"
    assert set(SUBJECTS) <= set(e.KINDS)
    assert all(one.kind == kind for kind, one in EXAMPLES.items())


@pytest.mark.parametrize("kind", e.KINDS)
def test_every_kind_says_all_of_itself(kind: str) -> None:
    assert lacks(e.KINDS[kind]) == []


def test_a_kind_that_lacks_something_is_found() -> None:
    class Bare(e.Kind):
        kind: ClassVar[str] = "bare"

    class Reaching(Bare):
        reaches: ClassVar[e.UpdateScope] = e.UpdateScope.STATE

    assert lacks(Bare) == ["least_role", "reaches", "news", "apply", "describe"]
    methods: tuple[Callable[[Any], object], ...] = (
        lambda one: one.describe(), lambda one: one.apply(None, None, None),
    )  # fmt: skip
    for method in methods:
        with pytest.raises(NotImplementedError):
            method(Reaching())


@pytest.mark.parametrize("kind", EXAMPLES)
def test_every_kind_goes_to_plain_values_and_back(kind: str) -> None:
    what = EXAMPLES[kind]
    body = e.to_body(what)
    assert e.from_body(kind, body) == what
    assert all(type(value) in (str, int, float, bool, list, dict) for value in body.values())
    least = e.from_body(kind, {name: body[name] for name in body if name in needed(type(what))})
    assert set(e.to_body(least)) == needed(type(what))
    e.validate(what)


def needed(cls: type[e.Kind]) -> set[str]:
    return {one.name for one in bodies.fields_of(cls) if not one.is_optional}


def test_every_field_of_every_kind_stands_among_what_was_released() -> None:
    assert set(RELEASED) == set(e.KINDS)
    for kind, written in RELEASED.items():
        names = {one.name for one in bodies.fields_of(e.KINDS[kind])}
        assert {name for body in written for name in body} == names, kind


@pytest.mark.parametrize("kind", RELEASED)
def test_what_a_released_version_wrote_is_read_as_it_was_written(kind: str) -> None:
    for body in RELEASED[kind]:
        what = e.from_body(kind, body)
        bodies.validate(what)
        assert body.items() <= e.to_body(what).items(), "a field keeps its name, its type and its default"


@pytest.mark.parametrize("kind", EXAMPLES)
def test_a_body_that_does_not_fit_is_refused_with_its_kind(kind: str) -> None:
    body = e.to_body(EXAMPLES[kind])
    for wrong in ({**body, "colour": "red"}, {}):
        with pytest.raises(e.EntryError, match=f"kind '{kind}' with fields that do not fit"):
            e.from_body(kind, wrong)


@pytest.mark.parametrize("kind", EXAMPLES)
def test_a_field_of_another_type_is_found(kind: str) -> None:
    what = EXAMPLES[kind]
    values = {one.name: getattr(what, one.name) for one in fields(what)}  # type: ignore[arg-type]
    for name in values:
        with pytest.raises((e.EntryError, AttributeError)):
            e.validate(type(what)(**{**values, name: 1.5}))


@pytest.mark.parametrize("kind", ["check begun", "set-up"])
@pytest.mark.parametrize(
    ("planned", "says"),
    [({"pull_out": "far"}, "planned.pull_out: 'far'"), ({"coils_left": "3 m"}, "planned.coils_left"),
     ({"inlet_pressure": "7 m"}, "measures length"), ({"finish": "soon"}, "'soon'"),
     ({"finish": "9999-12-31T23:00-12:00"}, "must be a year")],
)  # fmt: skip
def test_a_plan_of_the_day_that_nobody_could_read_later_is_found(kind: str, planned: dict[str, str], says: str) -> None:
    """Such a set passed with a carry file, and the machine's book, or the yard while it ran, ended with a traceback."""
    with pytest.raises(ValueError, match=says):
        e.validate(replace(EXAMPLES[kind], planned=planned))  # type: ignore[type-var]


@pytest.mark.parametrize("kind", EXAMPLES)
def test_the_book_describes_every_kind(kind: str) -> None:
    assert EXAMPLES[kind].describe() == SAYS[kind]


def test_lengths_are_described_in_the_reader_s_units() -> None:
    assert EXAMPLES["run"].describe("us") == "984 ft in 9.0 h, stopped by end stop"


def test_a_run_tells_its_planned_dwell() -> None:
    run = e.Run(started=T, ended=T + timedelta(hours=9), metres=300_000, dwell=1800)
    assert run.describe() == "300 m in 9.0 h, 30 min of it planned dwell"


@pytest.mark.parametrize("kind", EXAMPLES)
def test_what_an_entry_is_looked_up_by(kind: str) -> None:
    if kind != "sheet":
        assert EXAMPLES[kind].subject() == SUBJECTS.get(kind), "SUBJECTS says what a kind is looked up by, unless None"
    by = e.KINDS[kind].looked_up_by
    assert by in ("", *(one.name for one in e.fields_of(e.KINDS[kind])))


def test_a_sheet_is_looked_up_by_its_content_whatever_the_order_of_its_keys() -> None:
    """SHA-256 (FIPS 180-4) of the canonical text (RFC 8785)."""
    expected = hashlib.sha256(b'{"id":"pre-start","stages":[]}').hexdigest()
    assert e.Sheeted(sheet={"stages": [], "id": "pre-start"}).subject() == expected


@pytest.mark.parametrize("kind", EXAMPLES)
def test_every_kind_can_be_folded_and_only_what_reaches_a_machine_changes_it(kind: str) -> None:
    known = Known(PlanBook([(T - timedelta(days=1), None, read_plan(OIL))]))
    card = entry(e.Carded(card={"tag": "R1"}), T - timedelta(days=1), "0")
    fault = entry(e.Fault(part="pawl", says="slips"), T - timedelta(hours=2), "f")
    begun = entry(e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for="run"), T - timedelta(hours=1), "c")
    before, after = (
        fold("m", [card, fault, begun], known),
        fold("m", [card, fault, begun, entry(EXAMPLES[kind])], known),
    )
    assert before is not None
    assert after is not None
    same = [one.name for one in fields(MachineState) if getattr(before, one.name) == getattr(after, one.name)]
    changed = {one.name for one in fields(MachineState)} - set(same) - {"last"}
    if EXAMPLES[kind].reaches in (e.UpdateScope.NOTHING, e.UpdateScope.HISTORY):
        assert changed == set()
    if EXAMPLES[kind].reaches is e.UpdateScope.STATE:
        assert changed <= {"checks", "early"}


def test_what_frees_a_machine_is_good_news_and_what_holds_it_bad() -> None:
    """What can end or weaken a hold or a limit (release, correction, another plan or card) is good news."""
    good = {kind for kind, cls in e.KINDS.items() if cls.news == "good"}
    assert good == {
        "card", "plan", "person", "check ended", "gate signed", "service", "re-test", "release", "put right",
        "correction", "measured", "restore", "repair", "carry decision",
        "note read", "near miss read", "instruction", "retired",
    }  # fmt: skip
    assert {kind for kind, cls in e.KINDS.items() if cls.news == "bad"} == {"note", "fault"}


def test_roles_are_as_the_trade_has_them() -> None:
    """Common practice, no source: who works on a machine says that it is fit; who keeps cards and plans corrects."""
    by_role: dict[str, set[str]] = {role: set() for role in ROLES}
    for kind, cls in e.KINDS.items():
        by_role[cls.least_role].add(kind)
    assert by_role["mechanic"] == {"service", "repair", "re-test", "release", "instruction"}
    assert by_role["supervisor"] == {
        "card", "plan", "field", "person", "given", "correction", "recovery", "restore", "carry decision", "retired",
            "near miss read",
    }  # fmt: skip


def test_heads_are_witnessed_after_what_safety_rests_on() -> None:
    assert {kind for kind, cls in e.KINDS.items() if cls.witnessed} == {
        "fault",
        "release",
        "put right",
        "check ended",
        "gate signed",
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Greased(e.Kind):
    """A nipple greased: a kind as one adds it."""

    kind: ClassVar[str] = "greased"
    least_role: ClassVar[Role] = "operator"
    reaches: ClassVar[e.UpdateScope] = e.UpdateScope.LIMITS
    news: ClassVar[e.News] = "good"
    nipple: str
    strokes: int = 1

    def problems(self, context: e.Context) -> Iterator[str]:
        if not self.strokes:
            yield "strokes: none; give at least one"

    def apply(self, state: FoldState, entry: e.Entry, known: Known) -> None:
        state.take_done_by(self.nipple, entry.happened, known)

    def describe(self, system: Any = "metric") -> str:
        return f"{self.nipple} greased"


def test_a_new_kind_goes_through_every_door_with_its_class_alone() -> None:
    what = Greased(nipple="gearbox nipple", strokes=3)
    assert lacks(Greased) == []
    assert bodies.from_body(Greased, e.to_body(what)) == what
    e.validate(what)
    with pytest.raises(e.EntryError, match="strokes"):
        e.validate(Greased(nipple="x", strokes="three"))  # type: ignore[arg-type]
    assert e.problems(what, Around()) == []
    assert e.problems(Greased(nipple="x", strokes=0), Around()) == ["strokes: none; give at least one"]
    (late,) = e.problems(what, Around(at=T + timedelta(days=1)))
    assert "lies in the future" in late
    plan = read_plan({"id": "p", "items": [
        {"id": "oil", "what": "Oil", "every": {"months": 1}, "done_by": "gearbox nipple"}
    ]})  # fmt: skip
    known = Known(PlanBook([(T - timedelta(days=9), None, plan)]))
    carded = entry(e.Carded(card={"tag": "R1"}), T - timedelta(days=8), "0")
    state = fold("m", [carded, entry(what)], known)
    assert state is not None
    assert state.cycles["oil"].last_done == T.date()
    assert what.describe() == "gearbox nipple greased"

"""Four registers with forgers among them: no hold ends, nothing gets better and no right is given without a name here.

The oracle is written apart from the view and the fold: it counts holds, roles and plans from lists of what was signed
where, and knows nothing of states.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from operator import le
from random import Random
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.fold import fold
from reelcare.core.foreign import uncounted
from reelcare.core.machine.card import read_card
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.limits import limits_of
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import from_plain, to_plain
from reelcare.core.state.plans import Known, PlanBook
from reelcare.core.state.plans import Uncounted as View
from reelcare.core.state.standing import RANK, judge

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
CARD = {"tag": "R1"}
SHEET = read_sheet({"id": "pre-start", "title": "Pre-start", "for": "run", "stages": [{"id": "s", "title": "S",
    "questions": [{"id": "feet", "ask": "Feet?", "kind": "seen", "part": "legs", "if_not": "stop", "why": "w",
                   "common_practice": True, "choices": [{"id": "yes", "says": "yes", "right": True},
                                                        {"id": "no", "says": "no"}]}]}]})  # fmt: skip
STRICT: dict[str, Any] = {"id": "strict", "items": [
    {"id": "oil", "what": "Oil", "part": "gearbox", "every": {"hours": 20}, "grace": 0, "stop": True},
]}  # fmt: skip
LAX: dict[str, Any] = {"id": "lax", "items": [{"id": "oil", "what": "Oil", "every": {"hours": 9000}}]}
PLANS = {plan["id"]: read_plan(plan) for plan in (STRICT, LAX)}
STRANGERS = ("Bo", "Nobody", "Cas")
"""Who is not enrolled at the first register, or only after it was asked."""
NAMES = ("Mara", "Tove", "Olav", *STRANGERS)


@dataclass
class Terminal:
    """A register of one terminal: its own entries, and those that were carried in."""

    name: str
    own: list[e.Entry] = field(default_factory=list)
    carried: dict[str, e.Entry] = field(default_factory=dict)
    _found: dict[object, Any] = field(default_factory=dict)
    """What was found of so many entries; entries are only added."""

    @property
    def entries(self) -> list[e.Entry]:
        return [*self.own, *self.carried.values()]

    def _once(self, what: str, find: Callable[[], Any]) -> Any:
        key = what, len(self.own), len(self.carried)
        if key not in self._found:
            self._found[key] = find()
        return self._found[key]

    def view(self, order: Random | None = None) -> View:
        """Which entries do not count here, looked at in an order, or in the one that they came in."""
        found: View = self._once("view", lambda: self._view(None)) if order is None else self._view(order)
        return found

    def _view(self, order: Random | None) -> View:
        theirs = list(self.carried.values())
        if order is not None:
            order.shuffle(theirs)
        by_id = {one.id: one for one in self.entries}
        here = [one for one in self.own if isinstance(one.what, (e.Enrolled, e.CarryDecision, e.Correction))]
        found = uncounted(here, theirs, by_id.get)
        kinds = ("waiting", "told")
        waiting, told = (frozenset(id for id, why in found.items() if why == kind) for kind in kinds)
        return View(waiting, frozenset(found) - waiting - told, told)

    def plans(self, view: View) -> PlanBook:
        counts = [one for one in self.entries if one.id not in view.waiting | view.out]
        gone = e.cancelled(counts)
        force = [
            (one.happened, one.machine, PLANS[one.what.plan["id"]])
            for one in sorted(counts, key=lambda one: one.order)
            if isinstance(one.what, e.Planned) and one.id not in gone
        ]
        return PlanBook(force, default=PLANS["strict"])

    def state(self, order: Random | None = None) -> MachineState:
        """The machine folded from its entries in an order, or in the one that they came in."""
        found: MachineState = self._once("state", lambda: self._state(None)) if order is None else self._state(order)
        return found

    def _state(self, order: Random | None) -> MachineState:
        view, some = self.view(order), self.entries
        if order is not None:
            order.shuffle(some)
        known = Known(self.plans(view), lambda _: SHEET, uncounted=view)
        state = fold("m", [one for one in some if one.machine == "m"], known)
        assert state is not None
        return state

    def rank(self, now: datetime) -> tuple[int, int]:
        state = self.state()
        limits = limits_of(state, self.plans(self.view()).newest("m"), read_card(state.card))
        standing = judge(limits, now, UTC).standing
        return RANK[standing.run], RANK[standing.road]


class World:
    """Four registers; the first is the one that is watched, and the last two belong to forgers."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.now, self.count = T, 0
        self.all = [Terminal(name) for name in "abcd"]
        here, near = self.all[:2]
        for name, role in (("Mara", "supervisor"), ("Tove", "mechanic"), ("Olav", "operator")):
            self.write(here, e.Enrolled(name=name, role=role), "Mara", machine=None)
        self.write(here, e.Carded(card=CARD), "Mara", id="m")
        self.write(here, e.Planned(plan=STRICT), "Mara", machine=None)
        for one in self.all[1:]:
            self.write(one, e.Enrolled(name="Bo", role="supervisor"), "Bo", machine=None)
            self.carry(here, one)
        self.write(near, e.Enrolled(name="Cas", role="mechanic"), "Bo", machine=None)

    def write(self, at: Terminal, what: e.Kind, by: str, *, machine: str | None = "m", id: str = "",
              happened: datetime | None = None) -> e.Entry:  # fmt: skip
        self.count += 1
        self.now += MINUTE
        one = e.Entry(id or f"{self.count:06d}", machine, happened or self.now, self.now, at.name, by, what)
        at.own.append(one)
        return one

    def carry(self, source: Terminal, target: Terminal) -> None:
        mine = {one.id for one in target.own}
        target.carried |= {one.id: one for one in source.entries if one.id not in mine}

    # what happens

    def honest(self) -> None:
        """Something at the first register, as its door lets it in."""
        here, c = self.all[0], self.chance
        open_now = here.state().faults
        match c.choice((0, 1, 1, 1, 2, 3, 4, 4, 5, 5, 6)):
            case 0:
                retest = c.choice(("", "pawl holds"))
                self.write(
                    here,
                    e.Fault(part="pawl", says="slips", holds=c.choice(("run", "road", "both")), retest=retest),
                    "Olav",
                )
            case 1:
                hours = c.randrange(1, 15)
                self.now += hours * 60 * MINUTE
                self.write(
                    here, e.Run(started=self.now - hours * 60 * MINUTE, ended=self.now + MINUTE, metres=9), "Olav"
                )
            case 2:
                self.write(here, e.Service(item="oil"), "Tove")
            case 3 if open_now:
                fault = c.choice(open_now).id
                self.write(here, e.Repair(fault=fault, says="new"), "Tove")
                if c.random() < 0.7 or here.state().fault(fault).retest:  # type: ignore[union-attr]  # it is open
                    self.write(here, e.Retest(fault=fault, passed=True), "Tove")
                self.write(here, e.Release(fault=fault), "Tove")
            case 4:
                begun = self.write(here, e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for="run"), "Olav")
                self.write(here, e.Answered(check=begun.id, question="feet", seen="yes", judged="right"), "Olav")
                self.write(here, e.CheckEnded(check=begun.id, verdict="passed"), "Olav")
            case 5:
                total = here.state().counters.hours
                value = max(total.shown or 0, total.life) + c.randrange(40) * 3600
                self.write(here, e.Reading(counter="hours", value=value), "Olav")
            case _:
                self.write(here, e.Planned(plan=STRICT), "Mara", machine=None)

    def forged(self) -> Terminal:
        """Anything at all, signed by anybody, dated at any time."""
        c, at = self.chance, self.chance.choice(self.all[1:])
        here = self.all[0]
        self.carry(here, at)  # a forger knows what stands there
        known = at.entries
        target = c.choice(known[-12:])
        faults = [one.id for one in here.state().faults] or ["x"]
        checks = [one.id for one in known if isinstance(one.what, e.CheckBegun)][-2:] or ["x"]
        back = self.now - c.randrange(0, 3000) * MINUTE
        good: list[e.Kind] = [
            e.Release(fault=c.choice(faults)), e.Retest(fault=c.choice(faults), passed=c.random() < 0.7),
            e.PutRight(fault=c.choice(faults), check=c.choice(checks), says="x"),
            e.Correction(entry=target.id, why="a slip"), e.Planned(plan=LAX), e.Carded(card={"tag": "X"}),
            e.Enrolled(name=c.choice(NAMES), role=c.choice(("operator", "mechanic", "supervisor"))),
            e.CarryDecision(entries=(target.id,), accepted=True, why="mine"),
        ]  # fmt: skip
        strange: list[e.Kind] = [
            e.Service(item="oil"), e.Repair(fault=c.choice(faults), says="x"), e.Measured(about="oil", figures={}),
            e.Answered(check=c.choice(checks), question="feet", seen=c.choice(("yes", "no")), judged="right"),
            e.CheckEnded(check=c.choice(checks), verdict=c.choice(("passed", "held", "left"))),
            e.GateSigned(check=c.choice(checks), gate="water"), e.SetPlanned(wishes={}, planned={}),
            e.Reading(counter="hours", value=c.randrange(9000) * 3600, change=c.choice(("", "new counter"))),
            e.Run(started=back - c.randrange(-50, 900) * MINUTE, ended=back, metres=c.randrange(-9, 900)),
            e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for=c.choice(("run", "road"))),
        ]  # fmt: skip
        if c.random() < 0.15:
            by = c.choice(("Nobody", "Stranger"))
            begun = self.write(at, e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for="run"), by)
            self.write(at, e.Answered(check=begun.id, question="feet", seen="yes", judged="right"), by)
            self.write(at, e.CheckEnded(check=begun.id, verdict="passed"), by)
            return at
        if c.random() < 0.5:
            what, by = c.choice(good), c.choice(NAMES)
        else:
            what, by = c.choice(strange), c.choice(("Nobody", "Stranger"))
        for_all = isinstance(what, (e.Enrolled, e.CarryDecision)) or (isinstance(what, e.Planned) and c.random() < 0.5)
        happened = back if isinstance(what, e.Run) or c.random() < 0.4 else None
        self.write(at, what, by, machine=None if for_all else "m", happened=happened)
        return at

    def decided(self) -> None:
        """A supervisor of the first register accepts or refuses something that waits."""
        here = self.all[0]
        waits = sorted(here.view().waiting)
        if waits:
            some = tuple(self.chance.sample(waits, min(len(waits), self.chance.randrange(1, 3))))
            accepted = self.chance.random() < 0.5
            self.write(here, e.CarryDecision(entries=some, accepted=accepted, why="asked"), "Mara", machine=None)


# the oracle


def accepted_at(here: Terminal) -> set[str]:
    last: dict[str, bool] = {}
    for one in here.own:
        if isinstance(one.what, e.CarryDecision):
            for id in one.what.entries:
                last[id] = one.what.accepted
    return {id for id, yes in last.items() if yes}


def judged_apart(here: Terminal) -> None:
    """Nothing stands at a register but what a name of it allows."""
    named = {one.id for one in here.own} | accepted_at(here)
    holds = {one.id for one in here.entries if isinstance(one.what, e.Fault) and one.what.holds}
    ends = {one.what.fault for one in here.entries if isinstance(one.what, (e.Release, e.PutRight)) and one.id in named}
    assert holds - ends <= {one.id for one in here.state().faults}
    tested = {
        one.what.fault for one in here.entries if isinstance(one.what, e.Retest) and one.what.passed and one.id in named
    } | {one.what.fault for one in here.entries if isinstance(one.what, e.PutRight) and one.id in named}
    to_test = {one.id for one in here.entries if isinstance(one.what, e.Fault) and one.what.holds and one.what.retest}
    assert to_test - tested <= {one.id for one in here.state().faults}
    cards = [one for one in here.entries if isinstance(one.what, e.Carded) and one.id in named and one.machine == "m"]
    taken_back = {one.what.entry for one in here.entries if isinstance(one.what, e.Correction) and one.id in named}
    cards = [one for one in cards if one.id not in taken_back or one.id == "m"]
    assert here.state().card == max(cards, key=lambda one: one.order).what.card  # type: ignore[attr-defined]
    view = here.view()
    counting = {one.id for one in here.entries} - view.waiting - view.out
    for one in here.entries:
        needs = isinstance(one.what, (e.Release, e.PutRight, e.Correction, e.Planned, e.Enrolled))
        needs |= isinstance(one.what, e.Carded) and one.id != one.machine
        if needs and one.id not in named and not takes_back_a_service_of_theirs(one, here):
            assert one.id not in counting


def takes_back_a_service_of_theirs(one: e.Entry, here: Terminal) -> bool:
    """Whether somebody says that a service was not done which they had said within ten minutes that it was."""
    if not isinstance(one.what, e.Correction):
        return False
    services = {each.id: each for each in here.entries if isinstance(each.what, e.Service)}
    done = services.get(one.what.entry)
    said_together = done is not None and (done.by, done.terminal) == (one.by, one.terminal)
    return said_together and done is not None and timedelta(0) <= one.recorded - done.recorded <= 10 * MINUTE


def same_in_any_order(here: Terminal, chance: Random) -> None:
    first, view = here.state(), here.view()
    for _ in range(2):
        assert here.view(chance) == view
        assert here.state(chance) == first
    assert from_plain(to_plain(first)) == first


def knows_a_stranger(here: Terminal) -> bool:
    """Whether a supervisor has accepted one of those who sign strange things: then their checks rightly count."""
    accepted = accepted_at(here)
    enrolled = (one.what.name for one in here.entries if isinstance(one.what, e.Enrolled) and one.id in accepted)
    return not {"Nobody", "Stranger"}.isdisjoint(enrolled)


def play(seed: int, steps: int = 12) -> int:
    """One history; how often something was carried in."""
    world = World(seed)
    here, chance = world.all[0], world.chance
    carried = 0
    for _ in range(steps):
        match chance.randrange(10):
            case 0 | 1 | 2:
                world.honest()
            case 3:
                world.decided()
            case 4:
                world.carry(chance.choice(world.all[1:]), chance.choice(world.all[1:]))
            case _:
                source = world.forged()
                for _ in range(chance.randrange(3)):
                    source = world.forged()
                before = here.rank(world.now)
                world.carry(source, here)
                after = here.rank(world.now)
                assert knows_a_stranger(here) or all(map(le, after, before)), (before, after)
                carried += 1
        judged_apart(here)
    same_in_any_order(here, chance)
    return carried


@pytest.mark.parametrize("begin", range(0, 100, 25))
def test_no_hold_ends_and_nothing_gets_better_without_a_name_of_this_register(begin: int) -> None:
    assert sum(play(seed) for seed in range(begin, begin + 25)) > 10


TWO: dict[str, Any] = {"id": "two", "items": [
    {"id": "oil", "what": "Oil", "part": "gearbox", "every": {"hours": 20}, "grace": 10, "stop": True},
    {"id": "hose", "what": "Hose", "part": "hose", "every": {"metres": 3000, "runs": 9}, "grace": 10},
]}  # fmt: skip


def use_of(chance: Random) -> tuple[list[e.Entry], list[e.Entry]]:
    """What the people of a register signed for on a machine, and the runs and readings that strangers tell of it."""
    own, told = [_at("m", 0, e.Carded(card=CARD), "Mara")], []
    for number in range(1, 9):
        at = chance.randrange(1, 2000)
        match chance.randrange(4):
            case 0:
                what: e.Kind = _run(at, chance)
            case 1:
                what = e.Service(item=chance.choice(("oil", "hose")))
            case 2:
                what = e.Reading(counter="hours", value=at * 60 + chance.randrange(9000), change=_change(chance))
            case _:
                what = e.Reading(counter="metres", value=at * 5000 + chance.randrange(99_000), change=_change(chance))
        own.append(_at(f"o{number}", at, what, "Tove"))
    for number in range(chance.randrange(1, 7)):
        at = chance.randrange(1, 2000)
        counter, value = chance.choice((("hours", at * 60), ("metres", at * 5000)))
        read = e.Reading(counter=counter, value=chance.randrange(value * 2), change=_change(chance))  # type: ignore[arg-type]
        told.append(_at(f"t{number}", at, chance.choice((read, _run(at, chance))), "Nobody"))
    return own, told


def _change(chance: Random) -> Any:
    return "new counter" if chance.random() < 0.15 else ""


def _run(at: int, chance: Random) -> e.Run:
    return e.Run(started=T + (at - chance.randrange(1, 600)) * MINUTE, ended=T + at * MINUTE,
                 metres=chance.randrange(400_000))  # fmt: skip


def _at(id: str, minutes: int, what: e.Kind, by: str) -> e.Entry:
    when = T + minutes * MINUTE
    return e.Entry(id, "m", when, when, "a", by, what)


def left(own: list[e.Entry], told: list[e.Entry]) -> list[int]:
    """How little has been done by a state: less than nothing of each total, and what is left of each interval."""
    plans = PlanBook([(T, None, read_plan(TWO))])
    state = fold("m", [*own, *told], Known(plans, uncounted=View(told=frozenset(one.id for one in told))))
    assert state is not None
    assert from_plain(to_plain(state)) == state
    limits, now = limits_of(state, plans.newest("m"), read_card(state.card)), state.point(T.date())
    done = {"hours": now.seconds, "metres": now.millimetres, "runs": now.runs}
    figures = [-one for one in done.values()]
    for *_, scales in limits.items:
        figures += [moment - done[by] for by, *moments in scales if by in done for moment in moments]
    return figures


@pytest.mark.parametrize("begin", [0, *(pytest.param(one, marks=pytest.mark.long) for one in range(300, 1500, 300))])
def test_nothing_that_strangers_tell_takes_from_what_others_tell_or_was_signed(begin: int) -> None:
    fewer = 0
    for seed in range(begin, begin + 300):
        own, told = use_of(Random(seed))
        with_all = left(own, told)
        for one in told:
            without = left(own, [other for other in told if other is not one])
            assert all(now <= then for now, then in zip(with_all, without, strict=True)), (seed, one)
            fewer += with_all != without
    assert fewer > 100


@pytest.mark.parametrize("what", [e.Carded(card={"tag": "X"}), e.Planned(plan=LAX), e.Release(fault="f")])
def test_what_was_accepted_stands_whatever_is_said_later_of_who_wrote_it(what: e.Kind) -> None:
    world = World(0)
    here, _, there, elsewhere = world.all
    world.write(elsewhere, e.Enrolled(name="Ada", role="supervisor"), "Bo", machine=None)
    one = world.write(there, what, "Ada")
    world.carry(elsewhere, here)
    world.carry(there, here)
    assert one.id in here.view().waiting
    world.write(here, e.CarryDecision(entries=(one.id,), accepted=True, why="asked"), "Mara", machine=None)
    world.write(there, e.Enrolled(name="Ada", role="operator"), "Bo", machine=None)
    world.carry(there, here)
    assert one.id not in here.view().waiting | here.view().out


SLIPS: dict[str, tuple[e.Kind, str]] = {
    "a run": (e.Run(started=T, ended=T + MINUTE, metres=9), "waiting"),
    "a service": (e.Service(item="oil"), ""),
    "a hold": (e.Fault(part="pawl", says="slips", holds="run"), "out"),
}


@pytest.mark.parametrize("name", SLIPS)
def test_what_is_taken_back_there_as_a_slip_waits_unless_it_is_bad_news_or_may_not_be(name: str) -> None:
    world = World(0)
    here, there = world.all[0], world.all[2]
    what, status = SLIPS[name]
    world.write(there, e.Enrolled(name="Ada", role="operator"), "Bo", machine=None)
    slip = world.write(there, what, "Ada", happened=T + MINUTE if isinstance(what, e.Run) else None)
    undone = world.write(there, e.Correction(entry=slip.id, why="a slip"), "Ada")
    world.carry(there, here)
    view = here.view()
    found = "waiting" if undone.id in view.waiting else "out" if undone.id in view.out else ""
    assert found == status
    world.now += 60 * MINUTE
    late = world.write(there, e.Correction(entry=slip.id, why="too late"), "Ada")
    other = world.write(there, e.Correction(entry=slip.id, why="not mine"), "Nobody")
    world.carry(there, here)
    assert {late.id, other.id} <= here.view().out


def test_a_signature_that_only_a_stranger_doubts_clears_nothing_and_takes_what_it_took() -> None:
    world = World(0)
    here, ends = world.all[0], []
    for side in ("run", "road"):
        begun = world.write(here, e.CheckBegun(sheet="s", sheet_id="pre-start", checks_for=side), "Olav")
        world.write(here, e.Answered(check=begun.id, question="feet", seen="yes", judged="right"), "Olav")
        ends.append(world.write(here, e.CheckEnded(check=begun.id, verdict="passed"), "Olav"))
    some = [one for one in here.entries if one.machine == "m"]

    def passed(**known: Any) -> set[str]:
        state = fold("m", some, Known(here.plans(here.view()), lambda _: SHEET, **known))
        assert state is not None
        return {side for side, one in state.passed.items() if one.spent is None}

    assert passed() == {"road"}
    assert passed(doubtful={ends[1].id: ends[1].recorded}) == {"run"}
    assert passed(distrusted={ends[1].id}) == set()
    assert passed(distrusted={ends[0].id}) == {"road"}


@pytest.mark.long
@pytest.mark.parametrize("begin", range(1000, 11_000, 1250))
def test_ten_thousand_histories(begin: int) -> None:
    assert sum(play(seed, 16) for seed in range(begin, begin + 1250)) > 1250

"""Random histories of one machine: never clear without the gates, whoever answered, whenever it came in.

The oracle below reads the entries alone, by the sentences of the README: both gates signed in order, each after right
answers that came after the gate before, nothing held, no run and no move since it was begun, and after a change of
person or eight hours all that moves by hand seen again.
"""

import random
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.fold import fold
from reelcare.core.machine.card import read_card
from reelcare.core.service.plan_table import read_plan
from reelcare.core.state.limits import limits_of
from reelcare.core.state.plans import Known, PlanBook
from reelcare.core.state.standing import judge

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
CHOICES = [{"id": "yes", "says": "yes", "right": True}, {"id": "no", "says": "no"}]


def asked(id: str, **more: Any) -> dict[str, Any]:
    return {"id": id, "ask": f"{id}?", "kind": "seen", "part": "pawl", "if_not": "stop", "owner": "adjustment",
            "choices": CHOICES, "why": "why", "common_practice": True} | more  # fmt: skip


GATES = {
    "pull-out": [asked("line", owner="place"), asked("feet", again=True, by_hand=True, sets="legs=set"),
                 asked("pawl-up", again=True, by_hand=True)],
    "water": [asked("pawl-down", again=True, by_hand=True), asked("stop", kind="test", owner="machine", again=True,
              by_hand=True), asked("hose", again=True)],
    "running": [asked("inlet", again=True), asked("feet-again", again=True, by_hand=True, sets="legs=set")],
}  # fmt: skip
SHEET = read_sheet({"id": "pre-start", "title": "Pre-start", "for": "run", "stages": [
    {"id": gate, "title": gate, "gate": gate, "questions": questions} for gate, questions in GATES.items()
]}, kept=True)  # fmt: skip
ORDER = [one.id for one in SHEET.questions]
WATER = [one["id"] for gate in ("pull-out", "water") for one in GATES[gate]]
BY_HAND = [one["id"] for one in GATES["water"] if one.get("by_hand")]
AGAIN = [one.id for one in SHEET.questions if one.again]
PLAN = read_plan({"id": "p", "items": [{"id": "oil", "what": "Oil", "every": {"hours": 99999}}]})
PLACES = ("home field", "river field", "hill")
KNOWN = Known(PlanBook([(T - timedelta(days=9), None, PLAN)]), {"kept": SHEET}.get)


class Histories:
    """One machine, two people, and a clock; every step writes one entry, some of them late or dated back."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.now = T
        self.who = "Ana"
        self.entries: list[e.Entry] = []
        self.asks: dict[str, list[str]] = {}
        """What each check asks."""
        self.firsts: dict[str, str] = {}
        """The check that each second run goes on from."""
        self.write(e.Carded(card={"tag": "R1"}), at=T - timedelta(days=1))

    def write(self, what: e.Kind, *, at: datetime | None = None) -> str:
        id = f"{len(self.entries):05d}"
        machine = "00000"
        one = e.Entry(id, machine, at or self.now, self.now, "t", self.who, what)
        self.entries.append(one)
        return id

    def step(self) -> None:
        chance = self.chance
        self.now += chance.choices([MINUTE, 20 * MINUTE, 3 * HOUR, 9 * HOUR], [94, 3, 2, 1])[0]
        if chance.random() < 0.03:
            self.who = "Ben" if self.who == "Ana" else "Ana"
        late = self.now - chance.choices([0, 2, 30, 200], [94, 2, 2, 2])[0] * MINUTE  # told later, or by a slow clock
        check = next(reversed(self.asks), "")
        do = chance.random()
        if not check or do < 0.02:
            self._begin(check)
        elif do < 0.90:
            self._go_on(check, late)
        elif do < 0.93:
            self.write(e.CheckEnded(check=check, verdict="passed"), at=late)
        elif do < 0.97:
            self.write(e.Run(started=late - HOUR, ended=late, metres=1000), at=late)
            self._begin(check if chance.random() < 0.6 else "")
        elif do < 0.98:
            self.write(e.Moved(place=chance.choice(PLACES)), at=late)
        else:
            self._fault(late)

    def _go_on(self, check: str, at: datetime) -> None:
        """Mostly the next answer or signature; at times another."""
        said = [one.what for one in self.entries if one.what.subject() == check]
        given = {one.question for one in said if isinstance(one, e.Answered)}
        signed = sum(isinstance(one, e.GateSigned) for one in said)
        gate = list(GATES)[min(signed, 2)] if self.chance.random() < 0.95 else self.chance.choice(list(GATES))
        left = [one for one in self.asks[check] if one not in given]
        is_next = not left or list(GATES).index(SHEET.gate_of(left[0]) or "") > signed
        if self.chance.random() < (0.85 if is_next else 0.04):
            self.write(e.GateSigned(check=check, gate=gate), at=at)
            return
        question = left[0] if left and self.chance.random() < 0.92 else self.chance.choice(self.asks[check])
        seen = "yes" if self.chance.random() < 0.97 else "no"
        judged = "right" if seen == "yes" else "wrong"
        self.write(e.Answered(check=check, question=question, seen=seen, judged=judged), at=at)  # type: ignore[arg-type]

    def _begin(self, first: str) -> None:
        again = first if first and self.chance.random() < 0.5 else ""
        again = self.firsts.get(again, again)
        asks = AGAIN if again else ORDER
        left_out = tuple(one for one in ORDER if one not in asks)
        begun = e.CheckBegun(sheet="kept", sheet_id="pre-start", checks_for="run", left_out=left_out, again_of=again)
        check = self.write(begun)
        self.asks[check] = asks
        if again:
            self.firsts[check] = again

    def _fault(self, at: datetime) -> None:
        faults = [one.id for one in self.entries if isinstance(one.what, e.Fault)]
        if not faults or self.chance.random() < 0.3:
            self.write(e.Fault(part="pawl", says="slips", holds="run"), at=at)
        else:
            fault = self.chance.choice(faults)
            self.write(e.Repair(fault=fault, says="spring"), at=at)
            self.write(e.Retest(fault=fault, passed=True), at=at)
            self.write(e.Release(fault=fault), at=at)

    # the oracle

    def in_order(self, kind: type[e.Kind], check: str) -> list[e.Entry]:
        found = [one for one in self.entries if isinstance(one.what, kind) and one.what.subject() == check]
        return sorted(found, key=lambda one: one.order)

    def is_borne_out(self, check: str, at: datetime) -> bool:
        """Whether both gates of a check are signed, each after right answers, and nothing has undone it at `at`."""
        signed = [one for one in self.in_order(e.GateSigned, check) if one.happened <= at]
        return any(self._is_proved(check, one, signed) for one in signed if one.what.gate == "water")  # type: ignore[attr-defined]

    def _is_proved(self, check: str, water: e.Entry, signed: list[e.Entry]) -> bool:
        pull_outs = [one for one in signed if one.what.gate == "pull-out" and one.order < water.order]  # type: ignore[attr-defined]
        if not pull_outs:
            return False
        acts = [*(one for one in self.in_order(e.Answered, check) if one.order <= water.order), water]
        for question in (one for one in WATER if one in self.asks[check]):
            given = [one for one in acts if isinstance(one.what, e.Answered) and one.what.question == question]
            if not given or given[-1].what.seen != "yes":  # type: ignore[attr-defined]
                return False
            if SHEET.gate_of(question) == "water" and given[-1].order < pull_outs[0].order:
                return False
            if question in BY_HAND:
                since = acts[acts.index(given[-1]) :]
                if any(a.by != b.by or b.happened - a.happened >= 8 * HOUR for a, b in pairwise(since)):
                    return False
        return True

    def is_where_it_began(self, check: str) -> bool:
        """Whether the machine stands where it stood when a check was begun, and was nowhere else meanwhile."""
        (begun,) = (one for one in self.entries if one.id == check)
        moves = sorted((one for one in self.entries if isinstance(one.what, e.Moved)), key=lambda one: one.order)
        places = ["", *(one.what.place for one in moves)]  # type: ignore[attr-defined]
        changes = [move for move, (old, new) in zip(moves, pairwise(places), strict=True) if old != new]
        return not any(begun.order < move.order for move in changes)

    def may_be_clear(self) -> bool:
        """Whether any check could have cleared the machine by now."""
        for one in self.entries:
            if isinstance(one.what, e.Fault):
                after = [each for each in self.entries if isinstance(each.what, e.Release) and each.order > one.order]
                if not any(each.what.fault == one.id for each in after):  # type: ignore[attr-defined]
                    return False
        ran = [one.what for one in self.entries if isinstance(one.what, e.Run)]
        runs = [run.ended for run in ran]
        for check in self.asks:
            (begun_at,) = (one.happened for one in self.entries if one.id == check)
            water = [one for one in self.in_order(e.GateSigned, check) if one.what.gate == "water"]  # type: ignore[attr-defined]
            first = self.firsts.get(check)
            for one in water:
                unused = all(ended < one.happened for ended in runs)
                begun = first is None or (self.is_where_it_began(first) and self.is_borne_out(first, one.happened))
                begun = begun and self.is_where_it_began(check)
                # what was seen before a run was for that run
                begun = begun and not any(begun_at < run.started and run.ended <= one.happened for run in ran)
                if unused and begun and self.now - one.happened <= 48 * HOUR and self.is_borne_out(check, one.happened):
                    return True
        return False


def walk(seeds: range, steps: int) -> tuple[int, int]:
    """Histories of so many steps each, held against the oracle after every one; the steps, and how many were clear."""
    clear = 0
    for seed in seeds:
        history = Histories(seed)
        for _ in range(steps):
            history.step()
            state = fold("00000", history.entries, KNOWN)
            assert state is not None
            stands = judge(limits_of(state, PLAN, read_card(state.card)), history.now, UTC).standing
            if stands.run == "clear":
                clear += 1
                assert stands.gate in ("water", "running")
                assert history.may_be_clear(), (seed, len(history.entries))
    return len(seeds) * steps, clear


def test_no_history_clears_a_machine_without_its_gates() -> None:
    steps, clear = walk(range(20, 40), 60)
    assert clear > 30, "a machine has to become clear at times, or nothing is shown"
    print(f"{steps} steps, {clear} of them clear")


@pytest.mark.long
def test_no_history_of_a_hundred_thousand_steps_clears_a_machine_without_its_gates() -> None:
    steps, clear = walk(range(1000, 2667), 60)
    print(f"{steps} steps, {clear} of them clear")
    assert steps >= 100_000
    assert clear > 2500

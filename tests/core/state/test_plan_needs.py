"""Plan items are only for machines that have the part, and an item that was split off keeps its history."""

import tomllib
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from reelcare.core import entries as e
from reelcare.core.fold import fold
from reelcare.core.machine.card import Card, read_card
from reelcare.core.machine.equipment_kinds import every_kind
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import PlanError, read_plan, to_plain
from reelcare.core.state.limits import limits_of
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plans import Known, PlanBook

T = datetime(2026, 5, 1, 6, tzinfo=UTC)
SHIPPED = read_plan(tomllib.loads(Path("checklists/plan-default.toml").read_text("utf-8")))
numbers = count()


def entry(what: e.Kind, day: int = 0) -> e.Entry:
    at = T + timedelta(days=day)
    return e.Entry(f"{next(numbers):08d}", "m", at, at, "t", "Ana", what)


def plan(*items: dict[str, object]) -> Plan:
    return read_plan({"id": "p", "title": "Plan", "items": [{"what": "x", "every": {"months": 12}, **one}
                                                           for one in items]})  # fmt: skip


def folded(plans: list[tuple[datetime, str | None, Plan]], *entries: e.Entry) -> MachineState:
    state = fold("m", entries, Known(PlanBook(plans)))
    assert state is not None
    return state


def listed(shown: Plan, **card: object) -> set[str]:
    state = folded([(T, None, shown)], entry(e.Carded(card={"tag": "R1", **card})))
    return {id for id, *_ in limits_of(state, shown, read_card(state.card)).items}


@pytest.mark.parametrize(
    ("kind", "has", "has_not"),
    [
        ("turbine", {"strainer", "drive-belt"}, {"engine-oil", "engine-clutch", "engine-air-filter"}),
        ("bellows", {"strainer"}, {"drive-belt", "turbine", "engine-oil"}),
        ("engine", {"engine-oil", "engine-clutch", "engine-air-filter"}, {"strainer", "turbine", "bellows"}),
    ],
)
def test_a_machine_is_listed_with_what_belongs_to_its_drive_alone(kind: str, has: set[str], has_not: set[str]) -> None:
    found = listed(SHIPPED, drive={"kind": kind})
    assert has <= found
    assert not has_not & found


# which part an item is about, said a second time by hand (trade: common practice, no source)
PARTS_OF: dict[str, Callable[[Card], bool]] = {
    "strainer": lambda card: card.drive.kind != "engine",
    "turbine": lambda card: card.drive.kind == "turbine",
    "bellows": lambda card: card.drive.kind == "bellows",
    "drive-belt": lambda card: card.drive.kind != "bellows",
    "engine-oil": lambda card: card.drive.kind == "engine",
    "engine-air-filter": lambda card: card.drive.kind == "engine",
    "engine-fuel-filter": lambda card: card.drive.kind == "engine",
    "engine-start": lambda card: card.drive.kind == "engine",
    "engine-belts": lambda card: card.drive.kind == "engine",
    "engine-battery": lambda card: card.drive.kind == "engine",
    "engine-coolant": lambda card: card.drive.kind == "engine",
    "engine-clutch": lambda card: card.drive.kind == "engine",
    "gun": lambda card: card.cart.kind == "gun",
    "boom": lambda card: card.cart.kind == "boom",
    "oil-hoses": lambda card: "hydraulic" in (card.legs.kind, card.jack.kind),
    "oil-hoses-renewed": lambda card: "hydraulic" in (card.legs.kind, card.jack.kind),
    "pto-shaft": lambda card: card.drive.pto is True,
    "hand-crank": lambda card: card.drive.crank is True,
    "turntable-bolts": lambda card: card.drum.turntable is True,
    "control": lambda card: card.compensation.kind == "electronic",
    "control-volts": lambda card: card.compensation.kind == "electronic",
    "compensation-bar": lambda card: card.compensation.kind == "mechanical",
}


def test_no_item_stands_on_a_machine_without_its_part_for_each_kind_of_equipment() -> None:
    kinds = list(every_kind())
    assert len(kinds) == 384
    for item in SHIPPED.items:
        has = PARTS_OF.get(item.id)
        for card in kinds:
            assert item.is_for(card) == (has is None or has(card)), (item.id, card)


@pytest.mark.parametrize(
    ("id", "room", "needs"),
    [
        ("pump", "equipment", "pump"), ("backflow-device", "equipment", "injection"),
        ("inlet-valve", "equipment", "shut_off"), ("drum-brake", "drum", "brake"),
    ],
)  # fmt: skip
def test_what_not_every_machine_has_is_left_out_where_the_card_denies_it(id: str, room: str, needs: str) -> None:
    assert id in listed(SHIPPED, **{room: {needs: True}})
    assert id not in listed(SHIPPED, **{room: {needs: False}})


def test_a_need_that_no_card_can_say_is_refused_and_others_come_back_as_they_were() -> None:
    with pytest.raises(PlanError, match=r"needs: 'wings' is not known"):
        plan({"id": "a", "needs": ["wings"]})
    kept = plan({"id": "a", "needs": ["drive.turbine or drive.bellows"], "was": ["b"]})
    assert read_plan(to_plain(kept)) == kept


def test_an_item_that_was_split_off_keeps_the_history_until_it_is_done_itself() -> None:
    before = plan({"id": "pawl-and-brake"})
    after = plan({"id": "pawl", "was": ["pawl-and-brake"]}, {"id": "drum-brake", "was": ["pawl-and-brake"]})
    plans: list[tuple[datetime, str | None, Plan]] = [(T, None, before), (T + timedelta(days=20), None, after)]
    carded, done = entry(e.Carded(card={"tag": "R1"})), entry(e.Service(item="pawl-and-brake"), 10)

    def last_done(state: MachineState) -> dict[str, date | None]:
        return {one.id: state.cycle(one).last_done for one in after.items}

    tenth = date(2026, 5, 11)
    assert last_done(folded(plans, carded, done)) == {"pawl": tenth, "drum-brake": tenth}
    later = folded(plans, carded, done, entry(e.Service(item="pawl"), 30))
    assert last_done(later) == {"pawl": date(2026, 5, 31), "drum-brake": tenth}
    (pawl, brake) = limits_of(later, after, read_card(later.card)).items
    assert pawl[5] != brake[5]


def test_the_last_done_of_several_former_items_counts() -> None:
    plans: list[tuple[datetime, str | None, Plan]] = [(T, None, plan({"id": "a"}, {"id": "b"}))]
    state = folded(
        plans, entry(e.Carded(card={"tag": "R1"})), entry(e.Service(item="b"), 9), entry(e.Service(item="a"), 3)
    )
    (joined,) = plan({"id": "c", "was": ["a", "b"]}).items
    assert state.cycle(joined).last_done == date(2026, 5, 10)

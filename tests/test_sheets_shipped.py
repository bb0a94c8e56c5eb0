"""The shipped sheets: whole in both languages, asking all that the trade asks, and short enough for wet hands."""

import json
import math
from collections import Counter
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest

from reelcare import languages
from reelcare.core.checks.sheet import Question, Sheet, for_machine, left_out_again
from reelcare.core.machine.card import KINDS, NEEDS, Card, read_card
from reelcare.core.wording import Words
from reelcare.register import sheets

LOADED = sheets.load(own=Path("no-such-folder"))
SHEETS = LOADED.by_id
ROWS = {row["id"]: row for row in json.loads(Path("tests/references/water-and-drum.json").read_text("utf-8"))}

# common practice, no source: what must be true at each stage of a set, and the questions that ask it
ASKED = {
    "no overhead line in reach": ["pre-start.overhead", "road.route"],
    "stream and drift off roads, houses, animals, people": ["pre-start.stream"],
    "ground firm and not steep": ["pre-start.ground"],
    "the right hydrant": ["pre-start.hydrant"],
    "wind": ["pre-start.wind"],
    "hose leaves square, never over the rear": ["pre-start.square", "pre-start.heading"],
    "drum turned to the lane": ["pre-start.heading"],
    "turntable pin back in": ["pre-start.pin"],
    "chassis level across": ["pre-start.level"],
    "jack within its stroke": ["pre-start.level", "weekly-shop.jack-out"],
    "both feet in the ground": ["pre-start.feet"],
    "tractor hydraulics low, then uncoupled": ["pre-start.leg-oil"],
    "leg pins and cranks": ["pre-start.feet", "weekly-shop.leg-wear"],
    "cart down, chains unhooked": ["pre-start.cart"],
    "track width": ["pre-start.cart", "season-opening.track"],
    "arc stops": ["pre-start.arc"],
    "nozzle as planned": ["pre-start.arc"],
    "drive arm": ["weekly-shop.drive-arm"],
    "pawl up before pull-out": ["pre-start.pawl-up", "timing-check.pawl-up"],
    "drive out before pull-out": ["pre-start.drive-out", "timing-check.drive-out"],
    "feet once more": ["pre-start.feet-again"],
    "cart hitched with chain, shackle, pin": ["pre-start.hitch"],
    "steady pull-out, slow at the end": ["pre-start.pawl-up", "pre-start.coils-tight", "timing-check.walk-pace"],
    "at least two coils left": ["pre-start.coils"],
    "straight first fifth, 90 degrees of curve at most": ["pre-start.hose-walk"],
    "timing check after hose or level-wind work": ["timing-check.reason", "timing-check.guide-turn"],
    "remaining coils tight": ["pre-start.coils-tight"],
    "supply hose free of kinks": ["pre-start.supply-hose"],
    "idle line flushed": ["pre-start.supply-hose"],
    "pawl down": ["pre-start.pawl-down"],
    "turbine stopped": ["pre-start.turbine", "pre-start.bellows", "pre-start.engine"],
    "drive in": ["pre-start.drive-in"],
    "stop reset by hand": ["pre-start.stop-reset"],
    "gear range chosen": ["pre-start.turbine", "pre-start.bellows", "pre-start.engine"],
    "stop bar worked by hand": ["pre-start.stop-test"],
    "pump on, air out, gun smooth": ["pre-start.flow"],
    "inlet pressure read": ["pre-start.inlet"],
    "loss across the drive": ["pre-start.drive-loss"],
    "speed as planned": ["pre-start.speed"],
    "stop tripped by itself": ["after-run.tripped"],
    "hose home": ["after-run.home", "road.coils"],
    "pump off": ["after-run.pump"],
    "first water of the year on a short run": ["season-opening.first-water"],
    "gun and hub bearing after the winter": ["season-opening.gun-bearing", "season-opening.hub"],
    "brakes, lights, emblem after the winter": ["season-opening.brakes", "season-opening.lights"],
    "shaft guard, battery, signs after the winter": [
        "season-opening.shaft",
        "season-opening.battery",
        "season-opening.signs",
    ],
    "gun off and dry, valves half open": ["lay-up.gun-off", "lay-up.valves"],
    "supply hose, counters, mice at lay-up": ["lay-up.supply-hose", "lay-up.counters", "lay-up.mice"],
    "cart lifted and secured": ["road.cart"],
    "legs up": ["road.legs"],
    "supply hose off": ["road.supply"],
    "drum in the road position": ["road.heading"],
    "turntable locked": ["road.pin"],
    "lights": ["road.lights"],
    "tyres": ["road.tyres"],
    "drawbar": ["road.drawbar"],
    "towed with the pawl down": ["road.pawl"],
}
STOPS = (
    "pre-start.overhead", "pre-start.square", "pre-start.heading", "pre-start.feet", "pre-start.pawl-up",
    "pre-start.drive-out", "pre-start.hose-walk", "pre-start.feet-again", "pre-start.coils", "pre-start.pawl-down",
    "pre-start.stop-test", "road.heading", "road.pin", "after-run.tripped",
)  # fmt: skip


def question(name: str) -> Question:
    sheet, _, id = name.partition(".")
    found = SHEETS[sheet].question(id)
    assert found is not None, name
    return found


def every_text(sheet: Sheet) -> Iterator[tuple[str, Words]]:
    """Every text of the sheet with its place."""
    yield "title", sheet.title
    for stage in sheet.stages:
        yield f"{stage.id}.title", stage.title
        for question in stage.questions:
            for key in ("ask", "short", "why", "caution", "do", "retest"):
                words = getattr(question, key)
                if words is not None:
                    yield f"{stage.id}.{question.id}.{key}", words
            for choice in question.choices:
                yield f"{stage.id}.{question.id}.{choice.id}", choice.says


def test_every_shipped_sheet_can_be_read() -> None:
    assert LOADED.problems == ()
    assert set(SHEETS) == {
        "pre-start", "road", "after-run", "weekly-shop", "season-opening", "lay-up", "timing-check",
        "rescue", "goes-on",
    }  # fmt: skip


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))
def test_no_text_is_missing_in_any_language(sheet: Sheet) -> None:
    for place, words in every_text(sheet):
        assert list(words) == list(languages.LANGUAGES), place
        assert all(words.values()), place
        assert len(set(words.values())) == len(words), place


@pytest.mark.parametrize("requirement", ASKED)
def test_everything_that_must_be_true_is_asked(requirement: str) -> None:
    for name in ASKED[requirement]:
        question(name)


@pytest.mark.parametrize("name", STOPS)
def test_what_wrecks_machines_or_hurts_people_stops(name: str) -> None:
    assert question(name).if_not == "stop"


@pytest.mark.parametrize("name", ["pre-start.overhead", "road.route"])
def test_the_clearance_from_lines_is_the_published_one(name: str) -> None:
    # rows H9-01 (29 CFR 1926.1408, table A, up to 50 kV) and H9-06 (irrigation pipe), in feet:
    # in metres they are never less
    asked = question(name)
    assert asked.source is not None
    lines, pipe = (ROWS[id]["expected"]["distance"]["value"] for id in ("H9-01", "H9-06"))
    metres = [f"{one} ft ({math.ceil(3.048 * one) / 10} m)" for one in (lines[0], pipe)]
    assert f"{metres[0]} from lines up to 50 kV" in asked.source
    assert metres[1] in asked.source


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))
def test_questions_ask_for_what_is_seen(sheet: Sheet) -> None:
    # rows Q01 and Q30: Degani & Wiener 1990 (NASA CR-177549), guideline 4; FAA AC 120-71B, section 5.4
    for one in sheet.questions:
        for choice in one.choices:
            assert choice.says["en"].lower() not in ("checked", "ok", "yes", "no", "set", "done"), one.id
        assert one.why is not None, f"{one.id}: no why"
        assert one.do is not None, f"{one.id}: does not say what to do"
        if one.if_not == "stop":
            assert one.retest is not None, f"{one.id}: a stop question names its re-test"
        assert one.source or one.common_practice, one.id


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))
def test_stages_are_short_enough_to_keep_in_mind(sheet: Sheet) -> None:
    # row Q36 (from memory: Gawande, Boorman): five to nine items; shop stages are worked with the sheet in hand
    for stage in sheet.stages:
        assert len(stage.questions) <= (12 if sheet.checks_for in ("shop", "season") else 9), stage.id


def test_what_can_be_undone_is_asked_again() -> None:
    # row Q06: Degani & Wiener 1990, guideline 11
    assert question("pre-start.feet").sets == question("pre-start.feet-again").sets
    assert question("pre-start.drive-out").position == ("drive", "out")
    assert question("pre-start.drive-in").position == ("drive", "in")


EQUIPMENT = [
    dict(zip(("legs", "drive", "cart", "compensation", "jack", "turntable"), one, strict=True))
    for one in product(
        KINDS["legs"], KINDS["drive"], KINDS["cart"], KINDS["compensation"], KINDS["jack"], (True, False)
    )
]


def machine(one: dict[str, object]) -> Card:
    table: dict[str, object] = {"tag": "R1", "drum": {"turntable": one["turntable"]}, "equipment": {"injection": False}}
    for room in ("legs", "drive", "cart", "compensation", "jack"):
        table[room] = {"kind": one[room]}
    return read_card(table)


@pytest.mark.parametrize("one", EQUIPMENT, ids=lambda one: "-".join(str(value) for value in one.values()))
def test_a_good_machines_pre_start_takes_fewer_than_60_key_presses(one: dict[str, object]) -> None:
    keys = 1  # w, in the yard
    for question in for_machine(SHEETS["pre-start"], machine(one)).questions:
        # a choice is one key; a number its figures and enter
        keys += {"count": 2, "voltage": 5, "pressure": 4, "speed": 3}[question.quantity] if question.is_number else 1
    keys += 3  # s, to sign each gate
    assert 40 <= keys < 60


@pytest.mark.parametrize("one", EQUIPMENT, ids=lambda one: "-".join(str(value) for value in one.values()))
def test_each_gate_is_as_long_as_the_work_before_it(one: dict[str, object]) -> None:
    """Common practice, no source: 15, 11 and 8 questions on a turntable machine with turbine, gun and cranked legs, 12
    before a second pull-out; each piece of equipment that can fail adds its own."""
    card = machine(one)
    whole = for_machine(SHEETS["pre-start"], card)
    second = SHEETS["pre-start"].without(left_out_again(SHEETS["pre-start"], card))
    asked = Counter(whole.gate_of(each.id) for each in whole.questions)
    again = Counter(second.gate_of(each.id) for each in second.questions)
    has_oil = "hydraulic" in (one["legs"], one["jack"])
    # a drum without turntable has no pin; where the card is silent, a boom's arms go out before pull-out
    ground = bool(one["turntable"]) + has_oil
    assert asked["pull-out"] == 14 + ground
    assert again["pull-out"] == 11 + ground + (one["cart"] == "boom")
    engine, electronic = one["drive"] == "engine", one["compensation"] == "electronic"
    assert asked["water"] == again["water"] == 11 + engine + 2 * electronic
    assert asked["running"] == again["running"] == 8 - engine


def test_every_kind_of_equipment_is_asked_of_somewhere() -> None:
    needed = {
        each.removeprefix("not ")
        for sheet in SHEETS.values()
        for needs in (sheet.needs, *(one.needs for one in sheet.questions))
        for need in needs
        for each in need.split(" or ")
    }
    # a screw jack is read as a hydraulic one is, and so are cranked legs; a pump and an inlet valve have their items in
    # the plan; a machine without compensation has nothing to ask; lights are asked of every machine; what the stop
    # frees and what moves with the legs is for the model of the machine
    assert set(NEEDS) - needed == {
        "jack.screw", "legs.cranked", "pump", "shut_off", "compensation.none", "lights",
        "drive.stop_frees_winding", "legs.with_cart",
    }  # fmt: skip


@pytest.mark.parametrize("sheet", ["weekly-shop", "season-opening", "lay-up"])
def test_work_on_a_machine_begins_with_every_energy_made_safe(sheet: str) -> None:
    # what must move to be tried comes before, with the water off and nobody in reach
    first = next(one for one in SHEETS[sheet].stages if one.id == "isolate")
    assert [one.id for one in first.questions] == [
        "iso-drive", "iso-water", "iso-hose", "iso-pto", "iso-oil", "iso-drum", "iso-stand",
    ]  # fmt: skip
    assert all(one.if_not == "stop" for one in first.questions)
    assert SHEETS[sheet].questions[0].id in ("clear", "iso-drive")


def test_a_part_has_its_positions_in_the_order_of_the_table_everywhere() -> None:
    """The first key is right only where each part stands at the first position of the table: down 1, up 2."""
    model = sheets.machine_model()
    places = {(one.id, each): place for one in model.parts.values() for place, each in enumerate(one.positions)}
    for sheet in SHEETS.values():
        for one in sheet.questions:
            if one.choices and one.positions:
                is_first = all(places[pair] == 0 for pair in one.positions)
                assert one.choices[0].right == is_first, f"{sheet.id}.{one.id}"


def test_no_key_is_right_in_more_than_three_quarters_of_the_choice_questions() -> None:
    asked = [one for sheet in SHEETS.values() for one in sheet.questions if one.choices]
    for place in range(9):
        right = sum(len(one.choices) > place and one.choices[place].right for one in asked)
        assert right <= 0.75 * len(asked), f"key {place + 1} is right in {right} of {len(asked)}"

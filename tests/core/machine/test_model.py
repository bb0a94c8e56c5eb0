"""The table of the machine: read with every slip told, fitted to the machine, silent about nothing."""

import tomllib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from reelcare import languages
from reelcare.core.machine.card import Card, Cart, Compensation, Drive, Drum, Legs
from reelcare.core.machine.equipment_kinds import every_kind, few_kinds
from reelcare.core.machine.model import SAFE, Activity, Goal, InTheWay, ModelError, Part
from reelcare.core.machine.model_reader import contradictions, read_model
from reelcare.core.text import in_english
from reelcare.core.wording import too_long_of

PLAIN = tomllib.loads(Path("checklists/machine.toml").read_text("utf-8"))
MODEL = read_model(PLAIN)
PAWL = {"id": "pawl", "says": "Pawl", "lit": "pawl", "stays": "hand", "positions": [
    {"id": "down", "says": "down"}, {"id": "up", "says": "up"}]}  # fmt: skip
STOP = {"id": "halt", "says": "Halt", "stop": True, "changes": {"pawl": "down"}}
GOAL = {"id": SAFE, "says": "Safe", "where": {"pawl": "down"}}


def problems(**table: Any) -> str:
    with pytest.raises(ModelError) as refused:
        read_model({"parts": [PAWL], "activities": [STOP], "goals": [GOAL], **table})
    return "\n".join(refused.value.problems)


def test_every_slip_is_told_at_once_with_its_place() -> None:
    text = problems(
        parts=[
            PAWL | {"stays": "now and then", "positions": [{"id": "up", "says": "up"}], "colour": "red"},
            PAWL | {"says": {"es": "x"}, "equipment": ["wings"], "lit": "wing"},
        ],
        activities=[
            {"id": "fly", "says": "Fly", "needs": {"pawl": ["sideways"], "wings": "out"}, "equipment": ["wings"]},
        ],
        goals=[{"id": "home", "says": "Home", "where": {"pawl": ["nowhere"]}}],
        procedures=[{"id": "day", "says": "Day", "from": "dawn", "activities": ["sleep"]}],
        second_run={"procedures": ["night"]},
    )
    for piece in (
        "parts: pawl is there twice", "stays: 'now and then'", "two or more", "says: must be a text",
        "equipment: 'wings'",
        "lit: 'wing' is not drawn", "(pawl).colour: not known", "'sideways' is no position; choose from down, up",
        "'wings' is no part",
        "'nowhere'", "from: 'dawn' is not known", "'sleep' is not known", "second_run.procedures: 'night'",
    ):  # fmt: skip
        assert piece in text, piece


@pytest.mark.parametrize(
    ("activity", "says"),
    [
        (STOP | {"needs": {"pawl": "up"}}, "stopping is never forbidden"),
        (STOP | {"barred_by": ["run"]}, "no hold forbids stopping"),
        ({"id": "see", "says": "See", "goal": SAFE, "changes": {}, "barred_by": ["run"]}, "no hold forbids"),
        ({"id": "wait", "says": "Wait", "changes": {}}, "changes nothing"),
        ({"id": "lift", "says": "Lift", "needs": {"pawl": "up"}, "changes": {"pawl": "up"}}, "needs up already"),
        ({"id": "all", "says": "All", "stands_for": ["lift"], "changes": {}}, "'lift' is no stop"),
        ({"id": "lift", "says": "Lift", "changes": {"pawl": "up"}, "barred_by": ["rain"]}, "'rain' is not known"),
    ],
)
def test_what_no_table_may_say_is_refused_with_its_cure(activity: dict[str, Any], says: str) -> None:
    assert says in problems(activities=[STOP, activity] if activity["id"] != "halt" else [activity])


WHOLE = {
    "parts": [PAWL],
    "goals": [GOAL | {"one_of": [{"pawl": ["up", "down"]}], "without": ["lift"]}],
    "activities": [
        STOP,
        {"id": "lift", "says": "Lift", "needs": {"pawl": "down"}, "one_of": [{"pawl": ["down"]}], "goal": SAFE,
         "changes": {"pawl": {"to": "up", "from": "down", "unless": "pto"}}, "caution": {"en": "Mind."},
         "equipment": ["pto"], "barred_by": ["run"], "stands_for": ["halt"],
         "also": [{"if": "crank", "needs": {"pawl": "down"}, "changes": {"pawl": "up"}}]},
    ],
    "states": [{"id": "rest", "says": "Rest", "where": {"pawl": "down"}}],
    "procedures": [{"id": "day", "says": "Day", "from": "rest", "activities": ["lift", {"id": "lift", "if": "pto"}]}],
    "rescue": {"activities": ["lift"], "none": "Call."},
    "second_run": {"procedures": ["day"]},
    "begins": {"run": "rest"},
}  # fmt: skip
ODD: tuple[Any, ...] = (
    5, 2.5, True, "odd", [], {}, ["odd"], [5], [[]], [{}], {"odd": 5}, {"pawl": 5}, [{"id": "odd", "says": {"en": 5}}],
)  # fmt: skip


def _odd(value: Any) -> Iterator[Any]:
    """The value with each thing in it, and itself, in odd forms."""
    yield from ODD
    for key, one in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        for other in _odd(one):
            yield {**value, key: other} if isinstance(value, dict) else [*value[:key], other, *value[key + 1 :]]


def test_whatever_stands_in_a_table_is_read_or_told() -> None:
    """An own table with `changes = ["up"]` ended every command with a traceback."""
    for room, value in WHOLE.items():
        for odd in _odd(value):
            with suppress(ModelError):
                read_model({**WHOLE, room: odd})
    assert "activities (halt).changes: must be a table" in problems(activities=[STOP | {"changes": ["up"]}])


def test_a_table_without_stops_or_without_safe_is_refused() -> None:
    assert "none is a stop" in problems(activities=[STOP | {"stop": False}])
    assert "it says when a machine is safe to work on" in problems(goals=[])


def test_the_shipped_table_goes_on_every_kind_of_machine() -> None:
    assert list(contradictions(MODEL)) == []


def test_a_procedure_that_does_not_go_and_a_goal_out_of_reach_are_named() -> None:
    plain = tomllib.loads(Path("checklists/machine.toml").read_text("utf-8"))
    order = next(one for one in plain["procedures"] if one["id"] == "pulled out")
    order["activities"] = ["lift the pawl", "pull out"]
    plain["goals"].append({"id": "moon", "says": "Moon", "where": {"pawl": "up", "drive": "in"}})
    told = "\n".join(contradictions(read_model(plain)))
    assert "procedures (pulled out): lift the pawl is not allowed at its place: Tractor: away" in told
    assert "goals (moon): no allowed steps lead there" in told


def test_every_text_stands_in_every_language_and_every_short_title_is_short() -> None:
    named: list[Part | Activity | Goal] = [*MODEL.parts.values(), *MODEL.activities.values(), *MODEL.goals.values()]
    for one in named:
        assert set(one.says) == set(languages.LANGUAGES), one.id
        assert set(one.short) == set(languages.LANGUAGES), one.id
        assert not list(too_long_of(one.short)), one.id
    for activity in MODEL.activities.values():
        assert activity.caution is not None, activity.id
        assert set(activity.caution) == set(languages.LANGUAGES), activity.id
    for part in MODEL.parts.values():
        assert set(part.at) == set(languages.LANGUAGES), part.id
        assert all(set(words) == set(languages.LANGUAGES) for words in part.positions.values())


def test_a_machine_has_only_what_its_card_says_or_does_not_deny() -> None:
    fixed = MODEL.for_machine(Card("R1", drum=Drum(turntable=False), cart=Cart("gun"), legs=Legs("cranked")))
    assert not {"drum heading", "turntable pin", "arms"} & set(fixed.parts)
    assert "turn to the lane" not in fixed.activities
    assert "opposite" not in fixed.goals
    assert "second run" not in fixed.procedures
    assert not any("turntable pin" in one.needs for one in fixed.activities.values())
    assert "idling" not in MODEL.for_machine(Card("R1", drive=Drive("turbine"))).parts["turbine"].positions
    assert "control" in MODEL.for_machine(Card("R1", compensation=Compensation("electronic"))).parts
    silent = MODEL.for_machine(Card("R1"))
    assert set(silent.parts) == set(MODEL.parts)


def test_closing_the_water_stops_what_water_drives_and_no_engine() -> None:
    driving = {"turbine": "driving", "supply": "on"}
    by_water = MODEL.for_machine(Card("R1", drive=Drive("turbine")))
    by_engine = MODEL.for_machine(Card("R1", drive=Drive("engine")))
    assert by_water.after("close the water", driving)["turbine"] == "stopped"
    assert by_engine.after("close the water", driving)["turbine"] == "driving"
    assert MODEL.for_machine(Card("R1")).after("close the water", driving)["turbine"] == "driving"
    assert by_engine.after("stop now", driving)["turbine"] == "stopped"


def test_the_card_says_what_a_machine_needs_besides() -> None:
    apart = MODEL.for_machine(Card("R1", legs=Legs("hydraulic", with_cart=False)))
    assert apart.activities["set the legs"].needs["oil hoses"] == ("coupled",)
    assert "lower legs and cart" not in apart.activities
    assert "oil hoses" not in MODEL.for_machine(Card("R1", legs=Legs("cranked"))).activities["set the legs"].needs
    frees = MODEL.for_machine(Card("R1", drive=Drive("turbine", pto=True, stop_frees_winding=True)))
    assert frees.activities["wind home by PTO"].changes["drive"].to == "out"
    first = MODEL.for_machine(Card("R1", cart=Cart("boom", arms_out="before pull-out")))
    assert first.activities["pull out"].needs["arms"] == ("out",)


def test_what_is_not_known_stands_in_the_way() -> None:
    model = MODEL.for_machine(Card("R1"))
    way = model.in_the_way("pull out", {"drive": "in", "pawl": "up"})
    assert InTheWay("drive", "in", ("out",)) in way
    assert InTheWay("legs", None, ("set",)) in way
    assert not any(one.part == "pawl" for one in way)
    assert "Drive: in, must be out" in [model.tell(one) for one in way]
    with pytest.raises(ValueError, match="may not be done"):
        model.after("pull out", {})
    languages.install("es")
    assert "Patas: sin mirar, hace falta: clavadas" in [model.tell(one) for one in way]
    with in_english():  # one language for the whole line: that of the catalogue
        assert "Legs: not seen, must be set in the ground" in [model.tell(one) for one in way]


def test_where_one_of_several_is_enough_all_are_named() -> None:
    model = MODEL.for_machine(Card("R1"))
    (one,) = (each for each in model.in_the_way(SAFE_ACT, {}) if each.instead)
    assert model.tell(one) == (
        "Wheel chocks: not seen, must be on, or Legs set in the ground, or Tractor at the drawbar"
    )
    assert not any(each.instead for each in model.in_the_way(SAFE_ACT, {"legs": "set"}))


SAFE_ACT = "make safe"


def test_safe_needs_tension_block_shaft_crank_and_oil_hoses_as_well() -> None:
    model = MODEL.for_machine(Card("R1"))
    now = {"supply": "off", "turbine": "stopped", "drive": "out", "pawl": "down", "supply hose": "off", "hose": "out"}
    missing = {one.part for one in model.in_the_way_of(SAFE, now)}
    assert missing == {"pressure", "tension", "drum block", "PTO shaft", "hand crank", "oil hoses", "control", "chocks"}
    assert missing == {one.part for one in model.in_the_way("work on it", now)}
    assert model.activities["make safe"].needs == model.activities["work on it"].needs


def test_a_hold_forbids_the_water_and_the_road_and_leaves_rescue_and_safety_open() -> None:
    barred = {one.id for one in MODEL.activities.values() if one.barred(("run", "road"))}
    assert {"open the water", "start", "pull out", "tow"} <= barred
    assert not barred & {
        "stop now", "make safe", "work on it", "wind home by PTO", "wind home by crank", "let the pressure down",
        "let the tension off", "block the drum", "put the drive to winding", "lower the pawl", "stow the cart",
    }  # fmt: skip
    assert not MODEL.activities["tow"].barred(("run",))


def test_after_a_pause_what_hands_can_move_is_looked_at_again() -> None:
    model = MODEL.for_machine(Card("R1"))
    now = {"pawl": "down", "drive": "in", "legs": "set", "supply": "on", "cart": "lowered"}
    assert model.seen_after_a_pause(now) == {"legs": "set", "cart": "lowered"}
    assert {one.id for one in model.unknown({"legs": "set"})} == set(model.parts) - {"legs"}


def test_few_kinds_hold_each_pair_of_equipment_that_can_meet() -> None:
    def pairs(card: Card) -> set[Any]:
        facts = [
            ("turntable", card.drum.turntable), ("drive", card.drive.kind), ("legs", card.legs.kind),
            ("winding", (card.drive.pto, card.drive.crank)), ("control", card.compensation.kind),
            ("cart", card.cart.kind),
        ]  # fmt: skip
        return {(one, two) for number, one in enumerate(facts) for two in facts[number + 1 :]}

    every = set().union(*(pairs(card) for card in every_kind()))
    few = set().union(*(pairs(card) for card in few_kinds()))
    assert every == few

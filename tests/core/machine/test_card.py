"""The card: what it takes, what it refuses and how it says so."""

import tomllib

import pytest

from reelcare.core.machine.card import NEEDS, READERS, TOP, Card, CardError, Legs, read_card
from reelcare.core.machine.card_words import CARD_WORDS
from reelcare.core.machine.particulars import particulars

FULL = tomllib.loads("""
tag = "R1"
name = "Long Reach"
place = "Home yard"
in_use_since = "2019-04-01"
[drum]
core_diameter = "1.6 m"
coils_per_layer = 12
layers = 5
packing = 0.866
turntable = true
brake = true
[hose]
outside = "110 mm"
inside = "94 mm"
length = "1050 ft"
material = "PE80"
[drive]
kind = "turbine"
most_loss = "10 psi"
[legs]
kind = "hydraulic"
[jack]
kind = "screw"
stroke = "14 in"
hole_gain = "11 in"
[compensation]
kind = "mechanical"
[cart]
kind = "gun"
nozzle = "24 mm"
arc = 320
[season]
opens = "04-15"
closes = "09-30"
hours_a_year = 600
metres_a_year = 18000
""")


def test_a_whole_card_is_read_into_si() -> None:
    card = read_card(FULL)
    assert card.hose.length == pytest.approx(320.04)
    assert card.drive.most_loss == pytest.approx(68947.57, abs=0.01)  # 10 psi, NIST SP 811 appendix B
    assert card.jack.stroke == pytest.approx(0.3556)
    assert card.season.opens == "04-15"


@pytest.mark.parametrize("on", ["turntable", "chassis"])
def test_a_card_says_what_the_legs_are_fixed_to(on: str) -> None:
    assert read_card(FULL | {"legs": {"kind": "hydraulic", "with_cart": True, "on": on}}).legs == Legs(
        "hydraulic", with_cart=True, on=on
    )
    with pytest.raises(CardError, match=r"legs\.on: 'wheels' is not known; choose from turntable, chassis"):
        read_card({"tag": "R1", "legs": {"on": "wheels"}})


def test_every_problem_is_told_at_once_with_its_key() -> None:
    bad = {
        "hose": {"length": 400, "inside": "94 gal", "outsid": "110 mm"},
        "drive": {"kind": "steam"},
        "drum": {"layers": 2.5, "packing": 3},
        "jak": {},
        "season": {"opens": "31-12"},
    }
    with pytest.raises(CardError) as refused:
        read_card(bad)
    told = "\n".join(refused.value.problems)
    for key in ("tag:", "hose.length:", "hose.inside:", "hose.outsid:", "drive.kind:", "drum.layers:",
                "drum.packing:", "jak:", "season.opens:"):  # fmt: skip
        assert key in told
    assert "did you mean outside?" in told
    assert "did you mean jack?" in told


@pytest.mark.parametrize(
    ("key", "right"),
    [("drum.layers", "a whole number: layers; 1 to 20"), ("in_use.hours", "a bare number: ")],
)
def test_what_is_right_for_a_number_says_whether_it_is_a_whole_one(key: str, right: str) -> None:
    assert READERS[key].right.startswith(right)


@pytest.mark.parametrize("tag", ["", "a b", "x" * 25, "../up", "-R"])
def test_a_tag_that_could_not_name_a_file_or_an_option_is_refused(tag: str) -> None:
    with pytest.raises(CardError, match="tag"):
        read_card({"tag": tag})


def test_a_hose_with_no_wall_is_refused() -> None:
    with pytest.raises(CardError, match=r"hose\.inside"):
        read_card({"tag": "R1", "hose": {"inside": "110 mm", "outside": "110 mm"}})


def test_a_silent_card_has_everything_asked_and_a_plain_one_only_what_it_has() -> None:
    silent = Card("R1")
    assert all(silent.has(need) for need in NEEDS)
    told = Card("R1", legs=Legs("hydraulic"))
    assert told.has("legs.hydraulic")
    assert not told.has("legs.cranked")
    assert not told.has("not legs.hydraulic")


def test_a_need_nobody_knows_is_a_slip_and_said_so() -> None:
    with pytest.raises(ValueError, match="no such need"):
        Card("R1").has("legs.wooden")


def test_a_hose_may_lie_in_a_curve_of_half_a_metre_and_more() -> None:
    assert read_card({"tag": "R1", "hose": {"least_radius": "0.5 m"}}).hose.least_radius == 0.5
    with pytest.raises(CardError, match="least_radius"):
        read_card({"tag": "R1", "hose": {"least_radius": "0.1 m"}})


@pytest.mark.parametrize(("said", "kilograms"), [(500, 500), ("500 kg", 500), ("0.5 t", 500), ("1100 lb", 498.952)])
def test_the_mass_of_the_cart_is_a_number_or_a_text_with_its_unit(said: object, kilograms: float) -> None:
    """1 lb is 0.453 592 37 kg (NIST SP 811, B.8)."""
    assert read_card({"tag": "T01", "cart": {"mass": said}}).cart.mass == pytest.approx(kilograms, abs=1e-3)


@pytest.mark.parametrize("said", ["500", "500 m", "5 kg", "1,200 kg", True])
def test_a_mass_without_a_unit_or_beyond_what_a_cart_weighs_is_refused(said: object) -> None:
    with pytest.raises(CardError, match=r"cart\.mass"):
        read_card({"tag": "T01", "cart": {"mass": said}})


def test_a_name_that_is_no_text_is_told_with_its_key() -> None:
    with pytest.raises(CardError, match="name: must be a text"):
        read_card({"tag": "R1", "name": 5})


def test_every_key_has_a_name_for_people_and_is_shown() -> None:
    assert set(CARD_WORDS) == {*TOP, *READERS} - {"pump.points"}
    shown = dict(particulars(read_card({"tag": "R1", "in_use_since": "2019-04-01"}), "metric"))
    together = {"tag", "in_use.hours", "in_use.metres", "in_use.runs", "season.metres_a_year"}
    assert set(shown) == {words for key, words in CARD_WORDS.items() if key not in together} | {
        "counters then", "hose a year", "pump curve",
    }  # fmt: skip


def test_what_a_card_says_of_the_road_and_of_winding_home_is_shown() -> None:
    card = read_card({"tag": "R1", "drive": {"pto": True}, "road": {"brakes": False}, "cart": {"mass": "500 kg"}})
    shown = dict(particulars(card, "metric"))
    assert [shown[name] for name in ("PTO input", "road brakes", "cart mass (kg)")] == ["yes", "no", "500"]
    assert shown["road lights"] == "not on the card"

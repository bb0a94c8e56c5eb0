"""The drum: against the computed rows, published rules of reel capacity, and a count coil by coil."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reelcare.core.hydraulics import drum
from reelcare.core.hydraulics.drum import Wind, fit, layers_of, speed_spread, turn_length

Row = Callable[[str], dict[str, Any]]
PACKING = {"square 1.0": 1.0, "NEMA 0.95": 0.95, "nested sqrt3/2": math.sqrt(3) / 2}
winds = st.builds(
    Wind,
    core_diameter=st.floats(0.5, 3), outside=st.floats(0.04, 0.16), coils_per_layer=st.floats(5, 40),
    packing=st.floats(0.866, 1.0),
)  # fmt: skip


@pytest.mark.parametrize("id", ["H5-13", "H5-14", "H5-15"])
def test_hose_by_layer_is_that_of_the_computed_rows(row: Row, id: str) -> None:
    inputs, told = row(id)["inputs"], row(id)["expected"]
    wind = Wind(
        inputs["core_diameter"]["value"] / 1000,
        inputs["hose_OD"]["value"] / 1000,
        inputs["wraps"]["value"],
        PACKING[inputs["packing"]],
    )
    layers = range(1, inputs["layers"]["value"] + 1)
    assert [wind.radius(one) * 1000 for one in layers] == pytest.approx(told["centre_radius"]["value"], abs=1e-3)
    circles = [wind.below(one + 1) - wind.below(one) for one in layers]
    assert circles == pytest.approx(told["circle_length"]["value"], abs=1e-4)
    # H5-12: a helix is sqrt((pi D)^2 + p^2), longer than its circle by less than 0.03 %
    helix = [wind.coils_per_layer * math.hypot(turn_length(wind.radius(one)), wind.outside) for one in layers]
    assert helix == pytest.approx(told["helix_length_pitch_OD"]["value"], abs=1e-4)
    assert circles == pytest.approx(helix, rel=3e-4)
    assert wind.metres(44) == pytest.approx(told["total_circle"]["value"], abs=1e-4)
    ratios = [wind.radius(one) / wind.radius(1) for one in layers]
    assert ratios == pytest.approx(told["speed_ratio_to_layer1"]["value"], abs=1e-5)
    # the fastest against the slowest over the whole drum is the last ratio, with the hose as long as the row prints it
    whole = told["total_circle"]["value"]
    for length in (wind.metres(44), whole, whole + 0.004):
        assert 1 + speed_spread(wind, length, length).bare == pytest.approx(ratios[-1])
        wound = layers_of(wind, length, length)
        assert [one.begins - one.ends for one in wound] == pytest.approx(told["circle_length"]["value"], abs=0.005)
    assert 1 + speed_spread(wind, whole, whole - circles[0] + 0.004).bare == pytest.approx(ratios[-1] / ratios[1])


def test_a_cable_on_a_reel_measured_at_its_middle(row: Row) -> None:
    # H5-09: a published how-to's reel, reckoned on the centre line of the cable (H5-08 measures on the barrel)
    told = row("H5-09")["expected"]
    wind = Wind(2.0, 0.25, 20)
    assert [wind.below(2), wind.below(3) - wind.below(2)] == pytest.approx(
        [told["layer1"]["value"], told["layer2"]["value"]], abs=1e-3
    )
    barrel = wind.coils_per_layer * turn_length(1.0) * 3.14 / math.pi
    assert barrel == pytest.approx(row("H5-08")["expected"]["layer1"]["value"], abs=1e-9)


def test_the_rule_for_reels_is_ours_for_whole_layers(row: Row) -> None:
    # H5-07 and H5-11: capacity = pi (H + B) H T / d^2 with barrel B, traverse T and depth of hose H on each side
    outside, across, layers, core = 0.11, 11, 5, 1.5
    deep, traverse = layers * outside, across * outside
    by_rule = math.pi * (deep + core) * deep * traverse / outside**2
    assert Wind(core, outside, across, 1.0, layers).capacity == pytest.approx(by_rule)
    assert row("H5-07")["expected"]["constant"]["value"] == pytest.approx(math.pi / 12, abs=5e-4)
    # L = (outermost + innermost circle) n / 2
    wind = Wind(core, outside, across, 1.0, layers)
    both = turn_length(wind.radius(1)) + turn_length(wind.radius(layers))
    assert wind.capacity == pytest.approx(both * layers / 2 * across)


@pytest.mark.parametrize("id", [f"H5-{number:02}" for number in range(2, 7)])
def test_the_rule_of_thumb_for_ropes_is_a_square_winding_of_a_rope_a_little_thicker(row: Row, id: str) -> None:
    # H5-01: L [ft] = (A + D) A B K, depth A, traverse B and barrel D in inches; H5-02 to 06: K by the rope's size,
    # which is pi / 12 over the square of the diameter that it really has
    inputs = {name: one["value"] for name, one in row("H5-01")["inputs"].items()}
    deep, wide, barrel = inputs["A"], inputs["B"], inputs["D"]
    k = row(id)["expected"]["K"]["value"]
    thick = math.sqrt(math.pi / 12 / k)
    over, _, under = str(row(id)["inputs"]["rope"]["value"]).partition("/")
    assert 1.03 < thick / (float(over) / float(under or 1)) < 1.14
    wind = Wind(barrel, thick, wide / thick)
    # as many layers as go into the depth, the last one in part
    assert wind.below(deep / thick + 1) / 12 == pytest.approx((deep + barrel) * deep * wide * k, rel=1e-9)
    if k == inputs["K"]:
        assert (deep + barrel) * deep * wide * k == pytest.approx(row("H5-01")["expected"]["L"]["value"])


def counted(wind: Wind, turns: float) -> float:
    """Hose in so many turns, coil by coil, as one would count them on the drum."""
    total, coil = 0.0, 0.0
    layer, room = 1, wind.coils_per_layer
    while coil < turns - 1e-12:
        part = min(1.0, turns - coil, room)
        total += (
            part * 2 * math.pi * (wind.core_diameter / 2 + wind.outside / 2 + (layer - 1) * wind.packing * wind.outside)
        )
        coil, room = coil + part, room - part
        if room <= 1e-12:
            layer, room = layer + 1, wind.coils_per_layer
    return total


@given(winds, st.floats(0, 150))
def test_metres_are_those_of_a_count_coil_by_coil(wind: Wind, turns: float) -> None:
    assert wind.metres(turns) == pytest.approx(counted(wind, turns), rel=1e-9, abs=1e-9)


@given(winds, st.floats(0, 1500))
def test_metres_turns_and_layers_agree_both_ways(wind: Wind, metres: float) -> None:
    assert wind.metres(wind.turns(metres)) == pytest.approx(metres, rel=1e-12, abs=1e-9)
    layer = wind.layer_at(metres)
    assert wind.below(layer) - 1e-9 <= metres <= wind.below(layer + 1) + 1e-9
    coil = wind.turns(metres) - (layer - 1) * wind.coils_per_layer
    assert -1e-9 <= coil <= wind.coils_per_layer * (1 + 1e-9)


@given(winds, st.integers(1, 6))
def test_a_full_layer_ends_in_that_layer(wind: Wind, layer: int) -> None:
    assert wind.layer_at(wind.below(layer + 1)) == layer
    assert wind.layer_at(wind.below(layer + 1) + 0.01) == layer + 1


@given(winds, st.floats(50, 600), st.floats(1, 600))
def test_the_spread_grows_with_what_is_pulled_out(wind: Wind, length: float, out: float) -> None:
    assume(out <= length)
    less, more = speed_spread(wind, length, out / 2), speed_spread(wind, length, out)
    assert 0 <= less.bare <= more.bare
    # a published sheet (H4-08, H4-09): a machine in adjustment keeps 15 % (mechanical) or 5 % (electronic)
    assert speed_spread(wind, length, out, "mechanical").left <= drum.MECHANICAL_LEAVES
    assert speed_spread(wind, length, out, "electronic").left <= drum.ELECTRONIC_LEAVES
    assert speed_spread(wind, length, out, "none").left == more.bare


def test_the_published_limits_of_compensation(row: Row) -> None:
    told = row("H4-09")["expected"]
    assert told["mechanical"]["value"] == 100 * drum.MECHANICAL_LEAVES
    assert told["electronic"]["value"] == 100 * drum.ELECTRONIC_LEAVES


@given(winds, st.lists(st.floats(3, 150), min_size=5, max_size=12, unique=True), st.randoms(use_true_random=False))
def test_core_and_packing_are_found_again_from_readings(wind: Wind, turns: list[float], chance: Any) -> None:
    assume(max(turns) > 2 * wind.coils_per_layer and min(turns) < wind.coils_per_layer)
    exact = fit([(one, wind.metres(one)) for one in turns], wind.outside, wind.coils_per_layer)
    assert exact.core_diameter == pytest.approx(wind.core_diameter, abs=1e-6)
    assert exact.packing == pytest.approx(wind.packing, abs=1e-6)
    # with readings that scatter, by numpy's least squares and its covariance
    read = [(one, wind.metres(one) + chance.gauss(0, 0.2)) for one in turns]
    try:
        found = fit(read, wind.outside, wind.coils_per_layer)
    except ValueError:
        return
    lifts = [counted(Wind(1, 1 / math.pi, wind.coils_per_layer, 1), one) for one in turns]
    # metres of a drum of that shape = pi (1 + 1/pi) turns + 2 lifts, so lifts are told by the count itself
    matrix = np.array([[t, (c - math.pi * (1 + 1 / math.pi) * t) / 2] for t, c in zip(turns, lifts, strict=True)])
    metres = np.array([m for _, m in read])
    answer, *_ = np.linalg.lstsq(matrix, metres, rcond=None)
    left = metres - matrix @ answer
    spread = math.sqrt(left @ left / (len(read) - 2))
    errors = spread * np.sqrt(np.diag(np.linalg.inv(matrix.T @ matrix)))
    assert found.core_diameter == pytest.approx(answer[0] / math.pi - wind.outside, rel=1e-6)
    assert found.packing == pytest.approx(answer[1] / (2 * math.pi * wind.outside), rel=1e-6)
    assert found.core_error == pytest.approx(errors[0] / math.pi, rel=1e-5)
    assert found.packing_error == pytest.approx(errors[1] / (2 * math.pi * wind.outside), rel=1e-5)


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        ([(1, 5), (2, 10)], "three or more"),
        ([(1, 5), (2, 10), (3, 15)], "second layer"),
        ([(1, 5), (2, -1), (30, 15)], "nothing or more"),
        ([(1, math.nan), (2, 1), (30, 15)], "nothing or more"),
        ([(5, 25), (15, 80), (35, 80)], "would make"),
        ([(20, 100), (20, 100), (20, 100)], "too close"),
    ],
)
def test_readings_that_cannot_tell_are_refused(readings: list[tuple[float, float]], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        fit(readings, 0.1, 12)


@pytest.mark.parametrize("wrong", [0.0, -1.0, math.inf, math.nan])
@pytest.mark.parametrize("name", ["core_diameter", "outside", "coils_per_layer", "packing"])
def test_a_drum_that_cannot_be_is_named(name: str, wrong: float) -> None:
    good: dict[str, Any] = {"core_diameter": 1.5, "outside": 0.1, "coils_per_layer": 11.0, "packing": 1.0}
    with pytest.raises(ValueError, match=name):
        Wind(**(good | {name: wrong}))


def test_nothing_on_the_drum_is_no_place_but_the_first() -> None:
    wind = Wind(1.5, 0.1, 10)
    assert wind.metres(0) == wind.turns(0) == wind.turns(-1) == 0
    assert wind.layer_at(0) == 1
    assert wind.capacity == math.inf

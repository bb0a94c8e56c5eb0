"""Water and pipe friction: against an independent library of fluid mechanics and the published rows."""

import math
from collections.abc import Callable
from typing import Any

import fluids
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from iapws import IAPWS97

from reelcare.core.hydraulics import friction
from reelcare.core.hydraulics.friction import Water
from reelcare.core.settings.set_limits import SetLimits

Row = Callable[[str], dict[str, Any]]
STRAIGHT = [f"H3-{number:02}" for number in range(1, 24, 2)]


@pytest.mark.parametrize("id", STRAIGHT)
def test_straight_hose_loses_what_the_computed_rows_say(row: Row, id: str) -> None:
    given_, told = row(id)["inputs"], row(id)["expected"]
    fluid = Water(given_["rho"]["value"], given_["mu"]["value"])
    flow, bore = given_["Q"]["value"] / 3600, given_["ID"]["value"] / 1000
    assert friction.velocity(flow, bore) == pytest.approx(told["v"]["value"], abs=1e-4)
    number = friction.reynolds(flow, bore, fluid)
    assert round(number) == told["Re"]["value"]
    for name, roughness in (("smooth_1.5um", 1.5e-6), ("LDPE_8.116um", 8.116e-6)):
        assert friction.friction_factor(number, roughness / bore) == pytest.approx(told[f"f_{name}"]["value"], abs=1e-6)
        lost = friction.loss_along(flow, bore, 100, fluid, roughness) / 1e5
        assert lost == pytest.approx(told[f"dp_{name}"]["value"], abs=1e-5)
    # the power law that handbooks use is near enough to show a slip of units, and no nearer
    assert lost == pytest.approx(told["dp_HazenWilliams_C150"]["value"], rel=0.05)


@pytest.mark.parametrize(
    ("number", "roughness", "told"), [(5e6, 2.5e-5, 0.010279663295529), (3e4, 9e-3, 0.038630738574792)]
)
def test_the_friction_factor_is_that_of_published_examples(number: float, roughness: float, told: float) -> None:
    # worked examples of Praks and Brkic 2018, Adv. Civ. Eng. 5451034, by iteration (digits from memory)
    assert friction.friction_factor(number, roughness) == pytest.approx(told, abs=1e-15)


@given(st.floats(math.log(500), math.log(1e7)), st.floats(0, 0.05))
def test_the_friction_factor_is_that_of_an_independent_solution(log_number: float, roughness: float) -> None:
    number = math.exp(log_number)
    # fluids: laminar below 2040, else an exact solution of Colebrook's equation
    assert friction.friction_factor(number, roughness) == pytest.approx(
        fluids.friction.friction_factor(number, eD=roughness), rel=1e-6
    )


@given(st.floats(3000, 1e8), st.floats(0, 0.05))
def test_the_friction_factor_satisfies_colebrooks_equation(number: float, roughness: float) -> None:
    root = 1 / math.sqrt(friction.friction_factor(number, roughness))
    assert root == pytest.approx(-2 * math.log10(roughness / 3.7 + 2.51 * root / number), rel=1e-12)


@pytest.mark.parametrize("temperature", [1, 5, 10, 15, 20, 25, 30, 40, 50])
def test_water_is_that_of_the_international_formulation(temperature: float) -> None:
    # IAPWS-IF97 and the IAPWS viscosity of 2008, by an independent library
    told = IAPWS97(T=temperature + 273.15, P=0.101325)
    ours = friction.water(temperature)
    assert ours.density == pytest.approx(told.rho, rel=2e-5)
    assert ours.viscosity == pytest.approx(told.mu, rel=1e-3)


def test_the_rougher_wall_of_the_rows_is_the_measured_one(row: Row) -> None:
    # H3-25: roughness measured on irrigation pipe; the rows of straight hose are tried with that of LDPE
    assert row("H3-25")["expected"]["LDPE"]["value"] == 8.116


def test_a_third_more_flow_loses_seventy_percent_more(row: Row) -> None:
    # H4-12: a machine for 300 gpm loses too much at 400 gpm; by Hazen and Williams 1.70 times as much
    gpm = 231 * 0.0254**3 / 60
    one, other = (friction.loss_along(flow * gpm, 0.0938, 400, friction.COOL) for flow in (300, 400))
    assert other / one == pytest.approx(1.70, rel=0.02)


@pytest.mark.parametrize("id", ["H3-30", "H3-31", "H3-32"])
def test_the_coils_of_three_reels_lie_within_the_span(row: Row, id: str) -> None:
    inputs = row(id)["inputs"]
    bore, coil = inputs["ID"]["value"] / 1000, inputs["coil_diameter"]["value"]
    number = friction.reynolds(inputs["Q"]["value"] / 3600, bore, Water(998.2, 0.001002))
    ours = friction.coil_factor(number, bore, coil)
    assert ours.low <= row(id)["expected"]["ratio"]["value"] <= ours.high
    assert ours.likely == pytest.approx(row(id)["expected"]["ratio"]["value"], rel=0.02)


@given(st.floats(0.02, 0.15), st.floats(1e-6, 5e-5))
def test_slow_flow_loses_by_the_law_of_hagen_and_poiseuille(bore: float, flow: float) -> None:
    fluid = friction.COOL
    assume(friction.reynolds(flow, bore, fluid) < 2000)
    told = 128 * fluid.viscosity * 100 * flow / (math.pi * bore**4)
    assert friction.loss_along(flow, bore, 100, fluid) == pytest.approx(told, rel=1e-12)


COILS = [f"H3-{number}" for number in range(33, 41)]


def test_what_coils_add_lies_in_the_midst_of_the_correlations(row: Row) -> None:
    # the eight correlations of rows H3-33 to 40 run from 1.19 to 2.51 at one and the same flow
    told = sorted(row(id)["expected"]["ratio"]["value"] for id in COILS)
    ours = friction.coil_factor(176168, 0.1, 2.0)
    assert told[0] < ours.likely < told[4]
    inside = [one for one in told if ours.low <= one <= ours.high]
    assert len(inside) >= 6


@given(st.floats(5e4, 1e6), st.floats(0.04, 0.15), st.floats(10, 40))
def test_what_coils_add_is_near_a_correlation_of_the_library(number: float, bore: float, times: float) -> None:
    # flows and drums of real machines; Schmidt 1967, the library's own choice
    coil = times * bore
    straight = fluids.friction.friction_factor(number)
    coiled = fluids.friction.helical_turbulent_fd_Schmidt(number, bore, coil)
    ours = friction.coil_factor(number, bore, coil)
    assert ours.low * 0.95 <= coiled / straight <= ours.high * 1.05


@pytest.mark.parametrize("number", [0, -1, math.inf, math.nan])
def test_a_reynolds_number_that_cannot_be_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match="Reynolds number"):
        friction.friction_factor(number)


@pytest.mark.parametrize("temperature", [-0.1, 61, math.nan, math.inf])
def test_ice_and_steam_are_refused(temperature: float) -> None:
    with pytest.raises(ValueError, match="degC"):
        friction.water(temperature)


def test_a_roughness_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="roughness"):
        friction.friction_factor(1e5, 0.2)
    assert friction.loss_along(0, 0.1, 100, friction.COOL) == 0


@pytest.mark.parametrize("flow", [25, 43, 60])
def test_shipped_roughness_is_at_the_smooth_end_of_hazen_and_williams_and_its_worst_within(
    flow: float, row: Row, limits: SetLimits
) -> None:
    # H3-26, H3-27: 10.67 L Q^1.852 / (C^1.852 d^4.87) in metres of water, C 140 to 150 for polyethylene
    form, flow, bore = row("H3-26")["expected"], flow / 3600, 0.0938
    rough, smooth = (float(one) for one in row("H3-27")["expected"]["C"]["value"].split("-"))

    def by_hand(c: float) -> float:
        per_metre = form["constant"]["value"] * (flow / c) ** form["Q_exponent"]["value"]
        return float(998.2 * 9.80665 * per_metre / bore ** form["d_exponent"]["value"])

    likely, worst = (
        friction.loss_along(flow, bore, 1.0, friction.water(20), wall)
        for wall in (limits.roughness, limits.worst.roughness)
    )
    assert 0.9 * by_hand(smooth) < likely < worst < by_hand(rough)

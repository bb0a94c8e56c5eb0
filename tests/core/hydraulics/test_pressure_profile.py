"""Pressure down the line: against the computed budget, an independent solver, and the laws of a pipe."""

import math
from collections.abc import Callable
from typing import Any

import fluids
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from reelcare.core.hydraulics import gun
from reelcare.core.hydraulics.friction import Water, water
from reelcare.core.hydraulics.pressure_profile import Line, NotFed, mean_coil_diameter
from reelcare.core.hydraulics.pump import FixedInlet

Row = Callable[[str], dict[str, Any]]
WATER = Water(998.2, 0.001002)


def test_the_computed_budget_of_an_inlet(row: Row) -> None:
    # H8-08: gun 4.5 bar, hose 1.0446, drive 0.5, lift 0.4894
    inputs, told = row("H8-08")["inputs"], row("H8-08")["expected"]
    line = Line(
        inputs["ID"]["value"] / 1000,
        inputs["L"]["value"],
        inputs["L"]["value"],
        inputs["rise_to_gun"]["value"],
        inputs["drive_loss"]["value"] * 1e5,
        WATER,
    )
    flow = inputs["Q"]["value"] / 3600
    assert line.hose_loss(flow) / 1e5 == pytest.approx(told["hose"]["value"], abs=1e-4)
    assert line.lift / 1e5 == pytest.approx(told["lift"]["value"], abs=1e-4)
    assert inputs["P_gun"]["value"] + line.between(flow) / 1e5 == pytest.approx(told["inlet"]["value"], abs=1e-4)


lines = st.builds(
    Line,
    bore=st.floats(0.03, 0.15), length=st.floats(50, 800), out=st.floats(1, 800), rise=st.floats(-20, 20),
    drive_loss=st.floats(0, 1e5), fluid=st.floats(1, 45).map(water), roughness=st.floats(0, 5e-5),
    coil_diameter=st.floats(1, 4),
)  # fmt: skip


@given(lines, st.floats(2e5, 1.5e6), st.floats(0.008, 0.04), st.floats(0.85, 1.0))
def test_flow_and_pressure_are_solved_together_to_the_last_digits(
    line: Line, inlet: float, bore: float, discharge: float
) -> None:
    assume(line.out <= line.length and bore < 0.6 * line.bore)
    left = inlet - line.drive_loss - line.lift
    assume(left > 1e4)
    flow, at_gun = line.feed(FixedInlet(inlet), bore, discharge)
    # from inlet to gun and back again
    number = 4 * flow * line.fluid.density / (math.pi * line.bore * line.fluid.viscosity)
    assume(number > 2100)  # where turbulence sets in the loss jumps, and no flow fits
    assert at_gun + line.between(flow) == pytest.approx(inlet, rel=1e-9)
    assert gun.flow_through(bore, at_gun, discharge, line.fluid) == pytest.approx(flow, rel=1e-9)

    # an independent solver with an independent friction factor
    def off(flow: float) -> float:
        velocity = 4 * flow / (math.pi * line.bore**2)
        re = line.fluid.density * velocity * line.bore / line.fluid.viscosity
        f = fluids.friction.friction_factor(re, eD=line.roughness / line.bore)
        straight = f * line.length / line.bore * line.fluid.density * velocity**2 / 2
        assert line.coil_diameter is not None
        coils = max(1, re * (line.bore / line.coil_diameter) ** 2) ** 0.05
        hose = straight * (line.out + (line.length - line.out) * coils) / line.length
        return float(hose + line.fluid.density / 2 * (4 * flow / (math.pi * bore**2 * discharge)) ** 2 - left)

    assert flow == pytest.approx(brentq(off, 1e-9, 1.0, xtol=1e-15, rtol=1e-14), rel=1e-8)


@given(lines, st.floats(1e-3, 0.05))
def test_coils_never_lose_less_than_straight_hose(line: Line, flow: float) -> None:
    assume(line.out <= line.length)
    low, likely, high = line.coil_loss(flow)
    assert 0 <= low <= likely <= high
    assert line.hose_loss(flow) == pytest.approx(line.straight_loss(flow) + likely)


@given(lines, st.floats(3e5, 1.2e6), st.floats(0.01, 0.03))
def test_a_gun_farther_up_gets_less(line: Line, inlet: float, bore: float) -> None:
    assume(line.out <= line.length and bore < 0.6 * line.bore)
    higher = Line(line.bore, line.length, line.out, line.rise + 5, line.drive_loss, line.fluid, line.roughness, 2.0)
    assume(inlet - higher.lift - higher.drive_loss > 1e4)
    lower = Line(line.bore, line.length, line.out, line.rise, line.drive_loss, line.fluid, line.roughness, 2.0)
    assert higher.feed(FixedInlet(inlet), bore, 0.95)[1] < lower.feed(FixedInlet(inlet), bore, 0.95)[1]


def test_an_inlet_that_does_not_reach_the_gun_is_named_with_its_cure() -> None:
    with pytest.raises(NotFed, match=r"drive and rise take 2\.46 bar"):
        Line(0.09, 400, 400, 20, 5e4).feed(FixedInlet(2e5), 0.02, 0.95)


def test_laminar_flow_is_solved_as_well() -> None:
    flow, at_gun = Line(0.1, 100, 100).feed(FixedInlet(300.0), 0.002, 0.95)
    assert 0 < flow < 1e-5
    assert at_gun == pytest.approx(300, rel=0.01)
    assert Line(0.1, 100, 50).coil(0.0) == (1, 1, 1)
    assert Line(0.1, 100, 50, coil_more=0.4).coil(0.01) == (1.4, 1.4, 1.4)


def test_the_mean_coil_is_as_wide_as_its_hose_is_long() -> None:
    assert mean_coil_diameter(math.pi * 2 * 10, 10) == pytest.approx(2)

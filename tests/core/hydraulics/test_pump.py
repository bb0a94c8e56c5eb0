"""The pump: its curve against an independent library, its worked example, and curves that cannot be."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BarycentricInterpolator, PchipInterpolator

from reelcare.core.hydraulics.pump import FixedInlet, PumpCurve, curve_problem, energy
from reelcare.core.machine.card import CardError, read_card

falls = st.floats(0, 4e5)
steps = st.floats(0.002, 0.02)


@given(st.floats(5e5, 12e5), st.tuples(steps, steps), st.tuples(falls, falls), st.floats(0, 1))
def test_a_curve_through_three_points_is_smooth_and_never_rises(
    shut_off: float, widths: tuple[float, float], falls: tuple[float, float], part: float
) -> None:
    flows = [0.0, widths[0], sum(widths)]
    pressures = [shut_off, shut_off - falls[0], shut_off - sum(falls)]
    if pressures[-1] <= 0:
        return
    curve = PumpCurve(tuple(zip(flows, pressures, strict=True)))
    asked = np.linspace(0, flows[-1], 41)
    told = [curve.pressure(flow) for flow in asked]
    assert all(after <= before + 1e-6 for before, after in itertools.pairwise(told))
    # the parabola by an independent library where it never rises, and its monotone cubic where it would
    parabola = np.array([BarycentricInterpolator(flows, pressures)(one) for one in asked])
    fine = np.polyfit(flows, pressures, 2)
    slopes = np.polyval(np.polyder(fine), [flows[0], flows[-1]])
    if max(slopes) < -1.0:
        assert told == pytest.approx(parabola, rel=1e-6)
    elif max(slopes) > 1.0:
        assert told == pytest.approx(PchipInterpolator(flows, pressures)(asked), rel=1e-6)
    assert curve.pressure(part * flows[-1]) <= curve.shut_off + 1e-6


@given(st.floats(0, 0.06))
def test_two_points_are_a_straight_line_down_to_nothing(flow: float) -> None:
    curve = PumpCurve(((0.0, 8e5), (0.02, 5e5)))
    assert curve.pressure(flow) == pytest.approx(max(0.0, 8e5 - 3e5 * flow / 0.02), abs=1e-6)


def test_a_fixed_inlet_gives_its_pressure_whatever_flows() -> None:
    assert FixedInlet(6e5).pressure(0.02) == FixedInlet(6e5).shut_off == 6e5


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (((0.0, 5e5), (0.01, 6e5)), "pressure rises from 5 bar to 6 bar as the flow rises to 36 m3/h"),
        (((0.0, 5e5),), "1 point: give two or three"),
        (((0.0, 5e5), (0.01, 4e5), (0.01, 3e5)), "list the points by rising flow"),
    ],
)
def test_a_curve_that_cannot_be_is_refused_in_one_line(points: tuple[tuple[float, float], ...], says: str) -> None:
    assert says in curve_problem(points)
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        PumpCurve(points)


def test_energy_is_that_of_the_water_horsepower() -> None:
    # 1 gpm against 1 ft of head is 1/3960 hp (Hydraulic Institute, Engineering Data Library: water horsepower);
    # 500 gpm at 200 ft for an hour at 70 % is 500 x 200 / 3960 / 0.7 hp h = 36.1 hp h = 26.9 kWh
    volume, pressure = 500 * 60 * 3.785411784e-3, 200 * 0.3048 * 998.2 * 9.80665
    assert energy(volume, pressure, 0.7) / 3.6e6 == pytest.approx(500 * 200 / 3960 / 0.7 * 0.7457, rel=2e-3)


def card(**pump: object) -> object:
    return read_card({"tag": "R1", "pump": pump}).pump


def test_a_card_has_the_points_of_its_pump() -> None:
    found = read_card({"tag": "R1", "pump": {"points": [["0 m3/h", "8 bar"], ["36 m3/h", "6 bar"]], "efficiency": 0.7}})
    assert found.pump.points is not None
    assert [one for point in found.pump.points for one in point] == pytest.approx([0.0, 8e5, 0.01, 6e5])
    assert found.pump.efficiency == 0.7
    assert read_card({"tag": "R1", "hose": {"least_radius": "3 m"}}).hose.least_radius == 3


@pytest.mark.parametrize(
    ("pump", "says"),
    [
        ({"points": [["0 m3/h", "5 bar"], ["36 m3/h", "6 bar"]]}, "pump.points: pressure rises from 5 bar to 6 bar"),
        ({"points": "8 bar"}, "pump.points: must be a list of pairs"),
        ({"points": [["0 m3/h", 8]]}, "pump.points: point 1: give two texts with units"),
        ({"points": [["0 m3/h", "8 bar"], ["36 bar", "6 bar"]]}, "pump.points: point 2: "),
        ({"points": [["0 m3/h", "8 bar"]]}, "pump.points: 1 point: give two or three"),
        ({"efficiency": 1.2}, "pump.efficiency: 1.2 cannot be"),
        ({"motor_efficiency": 70}, "pump.motor_efficiency: 70 cannot be"),
    ],
)
def test_a_pump_that_cannot_be_is_named_with_its_key(pump: dict[str, object], says: str) -> None:
    with pytest.raises(CardError) as told:
        card(**pump)
    assert says in str(told.value)

"""Units: against an independent library (pint), published factors, and laws."""

import math
from collections.abc import Iterator

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import text, units
from reelcare.core.settings.fields import BY_KEY

ORACLE: pint.UnitRegistry[float] = pint.UnitRegistry()
NAMES = {
    "m3/s": "m**3/s", "m3/h": "m**3/h", "gpm": "gallon/min", "l/s": "liter/s", "l/min": "liter/min",
    "l/h": "liter/h", "in": "inch", "ft/h": "foot/hour", "ft/min": "foot/minute", "in/h": "inch/hour",
    "knots": "knot", "lbf": "pound_force", "lbf ft": "pound_force*foot", "Nm": "N*m", "m2": "m**2", "m3": "m**3",
    "ml": "milliliter", "acre-in": "acre*inch", "acre": "43560*foot**2", "l": "liter", "h": "hour", "d": "day",
    "min": "minute", "m/min": "m/minute", "m/h": "m/hour", "mm/h": "mm/hour", "km/h": "km/hour",
}  # fmt: skip
SI = {
    "length": "m", "pressure": "Pa", "flow": "m**3/s", "speed": "m/s", "duration": "s", "force": "N", "area": "m**2",
    "volume": "m**3", "torque": "N*m", "voltage": "V",
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name, unit in units.UNITS.items() if unit.quantity != "temperature"])
def test_every_factor_agrees_with_an_independent_library(name: str) -> None:
    unit = units.UNITS[name]
    if name == "acre-in":
        theirs = (ORACLE("43560*foot**2") * ORACLE("inch")).to("m**3").magnitude
    else:
        theirs = ORACLE(NAMES.get(name, name)).to(SI[unit.quantity]).magnitude
    assert unit.factor == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "quantity", "si"),
    [
        # NIST Special Publication 811 (2008), appendix B.8, to the digits printed there
        ("1 psi", "pressure", 6.894757e3),
        ("1 ft", "length", 3.048e-1),
        ("1 gpm", "flow", 6.309020e-5),
        ("1 lbf", "force", 4.448222),
        ("1 lbf ft", "torque", 1.355818),
        ("1 mph", "speed", 4.4704e-1),
        ("1 bar", "pressure", 1e5),
    ],
)
def test_published_factors(text: str, quantity: units.Quantity, si: float) -> None:
    assert units.read(text, quantity) == pytest.approx(si, rel=2e-7)


def test_volumes_of_the_irrigators_handbook() -> None:
    # row H8-04: an acre-inch is 27,154 US gallons, an acre-foot 325,851
    for told, gallons in (("1 acre-in", 27_154), ("12 acre-in", 325_851)):
        assert units.read(told, "volume") / units.GALLON == pytest.approx(gallons, abs=0.5)


def test_temperatures_go_both_ways() -> None:
    assert units.read("212 degF", "temperature") == pytest.approx(100)
    assert units.in_unit(-40, "degF") == pytest.approx(-40)


@pytest.mark.parametrize(
    ("text", "quantity", "says"),
    [
        ("7,5 bar", "pressure", "comma"),
        ("1,500 m", "length", "comma"),
        ("12 gal", "volume", "US or imperial"),
        ("40", "length", "say the unit"),
        ("40 bar", "length", "measures pressure"),
        ("nan m", "length", "no number"),
        ("inf m", "length", "no number"),
        ("1e999 m", "length", "too large"),
        ("", "length", "no number"),
        ("m 40", "length", "no number"),
        ("40 furlongs", "length", r"not a unit.*; write one number, and one unit \("),
        ("40 furlongs", "count", "not a unit.*; write one number, without a unit$"),
        ("40 mPa", "pressure", "not a unit"),
        ("9**9**9 m", "length", "not a unit"),
        ("3 m", "count", "without a unit"),
        ("x" * 5000, "length", "no number"),
    ],
)
def test_what_could_be_misread_is_refused_with_its_cure(text: str, quantity: units.Quantity, says: str) -> None:
    with pytest.raises(units.UnitsError, match=says):
        units.read(text, quantity)


@pytest.fixture
def comma() -> Iterator[None]:
    """A language that writes a decimal comma."""
    text.install(language="xx", sign=",")
    yield
    text.install()


@pytest.mark.usefixtures("comma")
@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("7,5 bar", "7.5 bar"), ("7.5 bar", "7.5 bar"), (",5 in", ".5 in"), ("0,125 in", "0.125 in"),
        ("12,75", "12.75"), ("1,234 m", "1,234 m"),
        ("1.234 m", "1,234 m"), ("0.125 in", "0.125 in"), ("1.2345 m", "1.2345 m"), ("1234.567", "1234.567"),
        ("72 m, 1.5 m", "72 m, 1.5 m"), ("2026.11", "2026.11"),
        ("1.234,5 h", "1234.5 h"), ("1.234.567,8 m3", "1234567.8 m3"), ("1234,567 m", "1234.567 m"),
        ("2026.111,5", "2026.111.5"),
        ("60 m, 100 m, 45", "60 m, 100 m, 45"), ("yesterday", "yesterday"),
    ],
)  # fmt: skip
def test_a_decimal_comma_is_typed_by_those_who_write_it_and_never_taken_for_thousands(typed: str, read: str) -> None:
    assert text.typed_figure(typed) == read


@pytest.mark.usefixtures("comma")
@pytest.mark.parametrize("typed", ["1.500 m3", "1,500 m3"])
def test_what_parts_thousands_in_such_a_language_is_refused_with_two_ways_to_say_it(typed: str) -> None:
    with pytest.raises(units.UnitsError, match=r"write 1500 or 1\.5000"):
        units.read(text.typed_figure(typed), "volume")
    assert units.read(text.typed_figure("1.5000 m3"), "volume") == 1.5


@pytest.mark.usefixtures("comma")
@pytest.mark.parametrize("kept", ["300.125 m", "7.5 bar", "0.125 in", "1234.567 m", "68 m"])
def test_what_a_line_shows_of_a_kept_set_is_read_from_it_again(kept: str) -> None:
    line = BY_KEY["out"]
    assert units.split(line.as_kept(line.as_shown(kept))) == units.split(kept)


@pytest.mark.usefixtures("comma")
def test_a_figure_is_shown_with_the_sign_of_the_language_and_kept_with_a_point() -> None:
    assert units.write(150_000, "bar", 0.01) == "1,50 bar"
    assert units.as_kept(150_000, "bar", 0.01) == "1.50 bar"
    assert text._("{hours:.1f} h, {n} runs, {words}", hours=7.25, n=3, words="6204.2") == "7,2 h, 3 runs, 6204.2"
    with text.in_english():
        assert units.write(150_000, "bar", 0.01) == "1.50 bar"


@given(st.sampled_from(sorted(units.UNITS)), st.floats(0, 1e6), st.sampled_from([0.05, 0.1, 0.5, 1.0]))
def test_what_is_shown_can_be_typed_again(name: str, value: float, step: float) -> None:
    text.install(language="xx", sign=",")
    shown = units.write(value, name, step)
    quantity = units.UNITS[name].quantity
    assert units.read(text.typed_figure(shown), quantity) == units.read(units.as_kept(value, name, step), quantity)


def test_a_comma_is_not_read_where_a_point_is_written() -> None:
    assert text.typed_figure("7,5 bar") == "7,5 bar"
    with pytest.raises(units.UnitsError, match="separate thousands"):
        units.read("7,5 bar", "pressure")


@given(
    st.sampled_from(sorted(units.UNITS)),
    st.floats(-1e9, 1e9, allow_nan=False).filter(lambda x: x == 0 or abs(x) > 1e-6),
)
def test_what_is_written_is_read_back(name: str, value: float) -> None:
    quantity = units.UNITS[name].quantity
    text = f"{value!r} {name}"
    assert units.in_unit(units.read(text, quantity), name) == pytest.approx(value, rel=1e-9, abs=1e-6)


@given(st.sampled_from(sorted(units.ROLES)), st.sampled_from(["metric", "us"]), st.floats(0, 1e6))
def test_what_is_shown_lies_within_half_a_step(role: str, system: units.System, value: float) -> None:
    metric, metric_step, us, us_step = units.ROLES[role]
    name, step = (metric, metric_step) if system == "metric" else (us, us_step)
    shown = units.write(value, name, step)
    assert abs(float(shown.split()[0]) - units.in_unit(value, name)) <= step / 2 + 1e-9 * math.fabs(value) + 1e-12


@pytest.mark.parametrize("quantity", [one for one in units.COMMON if one != "count"])
def test_the_example_of_an_error_is_right_itself(quantity: units.Quantity) -> None:
    with pytest.raises(units.UnitsError, match="say the unit") as told:
        units.read("12", quantity)
    example = str(told.value).split("`")[1]
    assert example.startswith("12 ")
    assert units.read(example, quantity) == units.read(f"12 {example.split()[1]}", quantity)


@pytest.mark.parametrize(
    ("typed", "quantity", "right"),
    [
        ("4 ac-in", "volume", "4 acre-in"), ("4 Acre Inches", "volume", "4 acre-in"), ("5 ac", "area", "5 acre"),
        ("60 lb/in2", "pressure", "60 psi"), ("1050 ft.", "length", "1050 ft"), ("70 deg F", "temperature", "70 degF"),
        ("72 ft per hour", "speed", "72 ft/h"), ("300 GPM (US)", "flow", "300 gpm"),
        ("90 ft-lb", "torque", "90 lbf ft"),
    ],
)  # fmt: skip
def test_us_units_are_read_as_they_are_written_on_a_farm(typed: str, quantity: units.Quantity, right: str) -> None:
    assert units.read(typed, quantity) == units.read(right, quantity)


@pytest.mark.parametrize("typed", ["3/4 in", "1 1/8 in", "1-1/8 in", "½ in", "1½ in", '7/8"'])
def test_a_fraction_of_an_inch_is_refused_with_the_cure(typed: str) -> None:
    with pytest.raises(units.UnitsError, match=r"with decimals, as 0\.75 for 3/4"):
        units.read(typed, "length")


def test_gallons_are_refused_with_what_is_read() -> None:
    for typed in ("300 gal/min", "300 gal"):
        with pytest.raises(units.UnitsError, match="`gpm`"):
            units.read(typed, "flow")
    with pytest.raises(units.UnitsError, match="m3, l or acre-in"):
        units.read("300", "volume")

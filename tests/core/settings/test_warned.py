"""Sentences of warnings: a figure that is past its limit never reads as if it kept it."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core.settings.warning_codes import Warned

AT_LEAST = "{gun} at the gun; {least} at least is right"


def figures(text: str) -> list[float]:
    return [float(one) for one in re.findall(r"\d+(?:\.\d+)?", text)]


@given(st.floats(2e5, 8e5), st.floats(200, 1e5), st.sampled_from(("metric", "us")))
def test_a_pressure_under_its_limit_reads_as_under_it(limit: float, short: float, system: str) -> None:
    says = Warned("gun-low", AT_LEAST, ((limit - short, "pressure", ""), (limit, "pressure", "")))
    here, least = figures(says.text(system))  # type: ignore[arg-type]  # one of the two
    assert here < least


def test_figures_are_no_finer_than_they_must_be() -> None:
    assert Warned("", AT_LEAST, ((3.5e5, "pressure", ""), (4.1e5, "pressure", ""))).text() == (
        "3.5 bar at the gun; 4.1 bar at least is right"
    )
    assert Warned("", AT_LEAST, ((4.07e5, "pressure", ""), (4.1e5, "pressure", ""))).text() == (
        "4.07 bar at the gun; 4.10 bar at least is right"
    )
    assert Warned("", AT_LEAST, ((4e5, "pressure", ""), (4e5, "pressure", ""))).text().startswith("4.0 bar at")


@pytest.mark.parametrize(("coils", "says"), [(1.5, "1.5 coils stay; 2.0"), (1.97, "1.97 coils stay; 2.00")])
def test_coils_are_told_as_finely_as_they_differ(coils: float, says: str) -> None:
    assert Warned("", "{coils} coils stay; {least}", ((coils, "count", ""), (2.0, "count", ""))).text() == says

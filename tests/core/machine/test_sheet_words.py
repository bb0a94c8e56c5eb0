"""A figure that a settings sheet took is written as a person reads it."""

import pytest

from reelcare.core.settings.sheet_words import figure_text

# 1 psi is 6894.757 Pa (NIST SP 811, appendix B.8)
PSI = 6894.757293168


@pytest.mark.parametrize(
    ("figure", "metric", "us"),
    [
        ((320, "count", ""), "320", "320"),
        ((1.85, "count", ""), "1.85", "1.85"),
        ((12.5, "count", "percent"), "12.5 %", "12.5 %"),
        ((1000 * PSI, "pressure", "strength"), "6.89476 MPa", "1000 psi"),
        ((4e5, "pressure", ""), "4.0 bar", "58 psi"),
    ],
)
def test_a_figure_has_its_unit_and_a_strength_its_own(figure: tuple[float, str, str], metric: str, us: str) -> None:
    assert figure_text(figure, "metric") == metric  # type: ignore[arg-type]  # a table of quantities
    assert figure_text(figure, "us") == us  # type: ignore[arg-type]

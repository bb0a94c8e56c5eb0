"""A figure that a settings sheet took is written as a person reads it."""

from dataclasses import replace

import pytest

from reelcare.core.drawing.limits import bars_of
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.setting import work_out
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


def test_the_tightest_limit_stands_first_and_what_only_warns_after_what_decides(card: Card, limits: SetLimits) -> None:
    wishes = Wishes(spacing=68, out=300, depth=0.025, flow=43 / 3600, gun_pressure=4.6e5, drive_loss=0.5e5)
    setting = work_out(card, wishes, limits)
    assert setting.deciding is not None
    made = bars_of(setting, "metric")
    assert made[0].percent == setting.deciding.percent
    assert made[-1].name in ("slope", "lane spacing", "hose on the drum")
    assert "bar" in next(one.long for one in made if one.name == "gun pressure, least")
    # over its limit, a figure that only warns goes among those that decide
    wide = bars_of(work_out(card, replace(wishes, spacing=120), limits), "metric")
    assert wide[0].name == "lane spacing"
    assert wide[0].over

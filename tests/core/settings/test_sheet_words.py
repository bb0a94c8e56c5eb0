"""A figure that a settings sheet took is written as a person reads it."""

import re
from dataclasses import replace
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from manual import catalogues
from reelcare.core import units
from reelcare.core.drawing.limits import bars_of
from reelcare.core.hydraulics.hose import Bend
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_request import WishError, Wishes
from reelcare.core.settings.setting import work_out
from reelcare.core.settings.sheet_words import figure_text, limit_text, sheet_lines, verdict
from tests.pseudo import Pseudo, outside

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


SAME_EVERYWHERE = {"m", "mm", "cm", "bar", "h", "min", "kN", "kWh", "MPa", "degC", "ha", "km"}
"""Units, which are the same in every language; keys of the card have a dot."""
AWKWARD = Wishes(
    spacing=150, out=399, depth=0.001, speed=30 / 3600, inlet=7e5, drive_loss=0.9e5, rise=-60, wind=9, wind_limit=5,
    intake=0.001 / 3600, temperature=38, nozzle=0.012, neighbour_loss=0.3e5,
)  # fmt: skip


def left_in_english(told: str) -> set[str]:
    return set(re.findall(r"(?<![\w.])[A-Za-z]{2,}(?![\w.])", outside(told))) - SAME_EVERYWHERE


@pytest.mark.long
@pytest.mark.parametrize("wishes", [Wishes(), Wishes(out=300, wind=2), replace(AWKWARD, depth=None), Wishes(
    spacing=68, out=300, depth=0.025, flow=43 / 3600, gun_pressure=4.6e5, drive_loss=0.5e5, rise=5)])  # fmt: skip
@pytest.mark.parametrize("material", ["PE80", None])
def test_every_word_of_a_sheet_goes_through_the_catalogues(
    wishes: Wishes, material: str | None, card: Card, limits: SetLimits, pseudo: Pseudo
) -> None:
    card = replace(
        card, hose=card.hose._replace(material=material), compensation=card.compensation._replace(kind="none")
    )
    setting = work_out(card, wishes, limits)
    told = [verdict(setting), *(text for line in sheet_lines(setting, "metric") for text in line)]
    told += [one.text() for one in setting.warnings]
    told += [text for one in setting.limits for text in limit_text(one, "metric")]
    told += [text for one in setting.taken for text in (one.what, one.source, figure_text(one.figure, "metric"))]
    told += [one.needs for one in setting.unknown]
    assert {text: left for text in told if (left := left_in_english(text) - {"PE40", "PE80", "PE63", "PE100"})} == {}
    known = {one.id for one in catalogues.texts_of_the_code()}
    assert {one.what for one in setting.unknown} <= known


def test_what_is_wrong_with_wishes_goes_through_the_catalogues(card: Card, limits: SetLimits, pseudo: Pseudo) -> None:
    for wishes in (
        AWKWARD,
        Wishes(spacing=-3, coil_more=9),
        Wishes(flow=0.02, nozzle=0.024, gun_pressure=4e5, out=300),
    ):
        with pytest.raises(WishError) as refused:
            work_out(card, wishes, limits)
        assert [left_in_english(one) for one in refused.value.problems] == [set()] * len(refused.value.problems)


def test_a_small_curve_does_not_read_as_none(card: Card, limits: SetLimits) -> None:
    tight = Wishes(out=300, bends=(Bend(100, 0.5, 80),))
    told = next(one for one in work_out(card, tight, limits).warnings if one.code == "bend-tight").text()
    assert told.startswith("a curve of 0.36 m radius; ")
    limit = next(one for one in work_out(card, tight, limits).limits if one.code == "bend-tight")
    assert limit_text(limit, "metric")[0] == "0.36 m"


@pytest.mark.parametrize(
    ("code", "changed", "told"),
    [
        ("coils", {"out": 390.03}, ("1.97", "1.97", "at least 2")),
        ("hose-pressure", {"flow": None, "inlet": 10.03e5}, ("10.03 bar", "10.03 bar", "10.01 bar (worst 8.06 bar)")),
        ("wind", {"wind": 18.3 / 3.6, "wind_limit": 18 / 3.6}, ("18.3 km/h", "18.3 km/h", "18.0 km/h")),
        ("slope", {"rise": 60.4}, ("20.1 %", "20.1 %", "20.0 %")),
        ("drive-loss", {"drive_loss": 0.702e5}, ("0.700 bar", "0.700 bar", "0.690 bar")),
        ("bend-early", {"bends": (Bend(59.6, 100, 40),)}, ("59.6 m", "59.6 m", "at least 60.0 m")),
        ("bend-much", {"bends": (Bend(70, 100, 90.04),)}, ("90.04", "90.04", "90")),
        ("pull-out", {"out": 400.3}, ("400.3 m", "400.3 m", "400.0 m")),
    ],
)  # fmt: skip
def test_a_figure_past_its_limit_does_not_stand_beside_it_as_the_limit(
    code: str, changed: dict[str, Any], told: tuple[str, str, str], card: Card, limits: SetLimits
) -> None:
    """Shown in the table of limits, of the sheet as of the screen, and for the coils in the line of the drum."""
    wishes = Wishes(spacing=68, out=300, depth=0.025, flow=43 / 3600, gun_pressure=None, drive_loss=0.5e5)
    setting = work_out(card, replace(wishes, **changed), limits)
    limit = next(one for one in setting.limits if one.code == code)
    assert limit.over
    assert limit_text(limit, "metric") == told
    for system in get_args(units.System):
        likely, _worst, most = limit_text(limit, system, worst=False)
        assert likely != most.removeprefix("at least ")
    left = dict(sheet_lines(setting, "metric"))["left on the drum"]
    assert left.startswith("1.97 coils") == (code == "coils")


def test_lanes_as_far_apart_as_is_told_are_not_too_far(card: Card, limits: SetLimits) -> None:
    wishes = Wishes(spacing=90, out=300, depth=0.025, flow=43 / 3600, drive_loss=0.5e5)
    setting = work_out(card, wishes, limits)
    told = next(one.text() for one in setting.warnings if one.code == "spacing")
    limit = limit_text(next(one for one in setting.limits if one.code == "spacing"), "metric", worst=False)[2]
    lines = dict(sheet_lines(setting, "metric"))["throw"]
    most = {re.search(r"(\d+) m at most", told), re.search(r"lanes (\d+) m apart", lines), re.match(r"(\d+) m", limit)}
    (metres,) = {one[1] for one in most if one is not None}
    assert not any(
        one.code == "spacing" for one in work_out(card, replace(wishes, spacing=float(metres)), limits).warnings
    )


@pytest.mark.parametrize("system", get_args(units.System))
@given(
    length=st.floats(250, 450), loss=st.floats(0.2, 0.9), inside=st.floats(0.09, 0.098), wind=st.floats(1, 9),
    intake=st.floats(3, 15), gun=st.floats(2, 4.4),
    least=st.integers(1, 24).map(lambda one: one / 4), slope=st.floats(0.05, 0.3),
)  # fmt: skip
def test_a_limit_that_is_read_and_reached_is_kept(
    system: units.System, length: float, loss: float, inside: float, wind: float, intake: float, gun: float,
    least: float, slope: float, card: Card, limits: SetLimits,
) -> None:  # fmt: skip
    # common practice has a drive take 10 psi at most (no source): that read as 0.70 bar, which is over it
    card = replace(
        card, hose=card.hose._replace(length=length, inside=inside), drive=card.drive._replace(most_loss=loss * 1e5),
        cart=card.cart._replace(least_pressure=gun * 1e5),
    )  # fmt: skip
    limits = replace(limits, least_coils=least, most_slope=slope)
    wishes = Wishes(
        spacing=68, out=200, depth=0.025, flow=43 / 3600, gun_pressure=4.5e5, drive_loss=0.5e5, wind=1,
        wind_limit=wind, intake=intake / 3.6e6, bends=(Bend(70, 100, 40),),
    )  # fmt: skip
    for one in work_out(card, wishes, limits).limits:
        told = limit_text(one, system, worst=False)[2].removeprefix("at least ").replace("%", "")
        texts = [told]
        if not one.figures:  # what is warned of names the figure, then its limit
            past = replace(one, likely=0.5 * one.limit if one.at_least else 10 * one.limit)
            texts.append(re.findall(r"\d+(?:\.\d+)? [a-zA-Z/]+", past.warned.text(system))[1])
        for text in texts:
            figure, unit = units.split(text)
            read = units.from_unit(figure, unit) if unit else figure / (100 if one.code == "slope" else 1)
            assert not replace(one, likely=read * (1 + (1e-12 if one.at_least else -1e-12))).over, (text, one.limit)


def test_the_worst_says_up_to_which_friction_the_hose_holds(card: Card, limits: SetLimits) -> None:
    wishes = Wishes(spacing=68, out=240, depth=0.025, flow=43 / 3600, gun_pressure=4.6e5, drive_loss=0.5e5)
    setting = work_out(card, wishes, limits)
    to = setting.friction_to
    assert to is not None
    assert f"(the hose holds up to a friction of {to - 0.005:.2f} on the ground)" in verdict(setting)

    def over(friction: float) -> bool:
        found = work_out(card, replace(wishes, ground_friction=friction), limits)
        assert found.friction_to is None
        return any(one.code == "wall" for one in found.warnings)

    assert not over(to * 0.999)
    assert over(to * 1.001)


def test_depth_and_speed_that_disagree_say_by_how_much(card: Card, limits: SetLimits) -> None:
    wishes = Wishes(spacing=68, out=240, depth=0.025, flow=43 / 3600, gun_pressure=4.6e5, drive_loss=0.5e5)
    comes = work_out(card, wishes, limits).speed
    assert comes is not None
    nearly = work_out(card, replace(wishes, speed=comes * 1.01), limits)
    assert nearly.holds
    # what falls is 1000 Q / (V E) (row H1-01), whatever was typed beside the speed
    assert nearly.depth == pytest.approx(0.025 / 1.01)
    assert (nearly.depth or 0) * (nearly.area or 0) == pytest.approx(nearly.water_used)
    with pytest.raises(WishError, match=r"depth disagree; at this flow 25\.0 mm need 25\.3 m/h, 37 % less") as refused:
        work_out(card, replace(wishes, speed=40 / 3600), limits)
    assert refused.value.twice


@pytest.mark.parametrize(("bore", "tells"), [(0.018, r"26\.4 m³/h through the nozzle, 39 % less"), (0.03, "% more")])
def test_a_flow_that_the_cards_nozzle_does_not_let_through_says_by_how_much(
    card: Card, limits: SetLimits, bore: float, tells: str
) -> None:
    wishes = Wishes(spacing=68, out=240, depth=0.025, flow=43 / 3600, gun_pressure=4.6e5, drive_loss=0.5e5)
    found = work_out(replace(card, cart=card.cart._replace(nozzle=bore)), wishes, limits).warnings
    told = next(one.text() for one in found if one.code == "nozzle")
    assert told.startswith("flow and nozzle disagree: 43.0 m³/h wanted")
    assert re.search(tells, told)


def test_what_is_taken_has_figures_that_people_write() -> None:
    """It stood as *5.90551e-05 in* and *3045.79 psi* where US units are shown."""
    assert figure_text((1.5e-6, "length", "roughness"), "us") == "0.000059 in"
    assert figure_text((1.5e-6, "length", "roughness"), "metric") == "0.0015 mm"
    assert figure_text((21e6, "pressure", "strength"), "us") == "3050 psi"

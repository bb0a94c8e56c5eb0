"""The settings sheet: its parts together, every warning, every unknown, and nothing that is no number."""

import dataclasses
import math
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import units
from reelcare.core.hydraulics.hose import Bend
from reelcare.core.machine.card import Card, Cart, Compensation, Drive, Drum, Hose, read_card
from reelcare.core.settings.fields import FIELDS
from reelcare.core.settings.set_limits import SetLimits, SetLimitsError, read_set_limits
from reelcare.core.settings.set_parser import plan_of_the_day, read_wishes
from reelcare.core.settings.set_request import WishError, Wishes
from reelcare.core.settings.setting import work_out
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.sheet_words import verdict
from reelcare.core.settings.warning_codes import CODES

Row = Callable[[str], dict[str, Any]]
START = datetime(2026, 6, 1, 6, tzinfo=UTC)
SPANS = {one.key: one.span or (math.nan, math.nan, "") for one in FIELDS if one.quantity is not None}
GOOD = Wishes(
    spacing=68, out=300, depth=0.025, flow=43 / 3600, gun_pressure=4.6e5, drive_loss=0.5e5, rise=5, start=START
)


def codes(setting: Setting) -> list[str]:
    return [one.code for one in setting.warnings]


def test_a_good_set_is_warned_of_nothing(card: Card, limits: SetLimits) -> None:
    setting = work_out(card, replace(GOOD, wind=2.0), limits)
    assert codes(setting) == []
    assert setting.speed is not None
    assert setting.run_time is not None
    assert setting.speed * 3600 == pytest.approx(25.2941, abs=1e-4)
    assert setting.run_time == pytest.approx(300 / 25.2941 * 3600, rel=1e-5)
    assert setting.finish == START + timedelta(seconds=round(setting.run_time))
    assert setting.area == 68 * 300
    assert setting.water_used == pytest.approx(0.025 * 68 * 300, rel=1e-9)
    assert setting.unknown == ()


def test_run_time_has_its_dwell_at_both_ends(row: Row, card: Card, limits: SetLimits) -> None:
    # H8-05
    wishes = Wishes(spacing=68, out=400, speed=25.2941 / 3600, dwell_start=1800, dwell_end=1800)
    setting = work_out(card, wishes, limits)
    assert setting.run_time is not None
    assert setting.run_time / 3600 == pytest.approx(row("H8-05")["expected"]["time"]["value"], abs=1e-4)


def test_a_pull_that_nobody_knows_the_hours_of_lasts_a_day_at_worst(card: Card, limits: SetLimits) -> None:
    # the form of ASTM F1804 (row H6-20): 0.95 of the pull to 12 hours, 0.91 to 24
    unknown, known = (
        work_out(card, Wishes(out=300, temperature=20, speed=speed), limits) for speed in (None, 30 / 3600)
    )
    assert unknown.allowable_pull == known.allowable_pull == known.worst_allowable
    assert unknown.worst_allowable == pytest.approx((known.worst_allowable or 0) * 0.91 / 0.95)


@pytest.mark.parametrize(
    ("start", "done", "until", "late"),
    [
        # clocks of New York (IANA time-zone data): 8 March 2026 has no 02:00 to 03:00, 1 November 2026 has 01:00 twice
        ("2026-03-07T20:00", "2026-03-08T12:00-04:00", "2026-03-08T11:30", "0.5 h"),
        ("2026-10-31T20:00", "2026-11-01T10:00-05:00", "2026-11-01T00:30", "10.5 h"),
        ("2026-10-31T20:00-04:00", "2026-11-01T11:00-04:00", "2026-11-01T11:00-04:00", None),
        ("2026-07-01T20:00", "2026-07-02T11:00-04:00", "2026-07-02T11:00", None),
    ],
)
def test_a_run_is_done_when_its_hours_have_passed_whatever_the_clocks_do(
    start: str, done: str, until: str, late: str | None, card: Card, limits: SetLimits
) -> None:
    zone = ZoneInfo("America/New_York")
    begins, by = (datetime.fromisoformat(text) for text in (start, until))
    begins, by = (one if one.tzinfo else one.replace(tzinfo=zone) for one in (begins, by))
    setting = work_out(card, Wishes(out=300, speed=20 / 3600, start=begins, until=by), limits)
    assert setting.finish is not None
    assert setting.finish.isoformat(timespec="minutes") == done
    told = [one.text() for one in setting.warnings if one.code == "late"]
    assert told == ([] if late is None else [f"done {late} too late: start earlier, or travel faster and put on less"])


def test_the_computed_pressure_budget(row: Row, card: Card, limits: SetLimits) -> None:
    # H8-08, with all the hose on the ground
    wishes = Wishes(out=400, flow=43 / 3600, gun_pressure=4.5e5, drive_loss=0.5e5, rise=5)
    place = work_out(card, wishes, limits).at_pull_out
    told = row("H8-08")["expected"]
    assert place is not None
    assert place.hose_loss / 1e5 == pytest.approx(told["hose"]["value"], abs=1e-4)
    assert place.inlet / 1e5 == pytest.approx(told["inlet"]["value"], abs=2e-4)
    assert place.inlet == pytest.approx(place.gun + place.drive_loss + place.hose_loss + place.lift)


def test_from_the_inlet_to_the_gun_and_back(card: Card, limits: SetLimits) -> None:
    by_inlet = work_out(card, Wishes(out=380, inlet=6.9e5, drive_loss=0.5e5, rise=5), limits)
    assert by_inlet.at_pull_out is not None
    by_gun = work_out(
        card, Wishes(out=380, nozzle=0.0233, gun_pressure=by_inlet.at_pull_out.gun, drive_loss=0.5e5, rise=5), limits
    )
    assert by_gun.at_pull_out is not None
    assert by_gun.at_pull_out.inlet == pytest.approx(6.9e5, rel=1e-9)
    assert by_gun.flow == pytest.approx(by_inlet.flow, rel=1e-9)


def test_on_the_way_home_the_rise_shrinks_and_the_coils_grow(card: Card, limits: SetLimits) -> None:
    setting = work_out(card, replace(GOOD, rise=10), limits)
    out, half, home = setting.pressures
    assert (out.where, half.where, home.where) == ("pull-out", "half-way", "home")
    assert out.inlet == half.inlet == home.inlet
    assert half.lift == pytest.approx(out.lift / 2)
    assert home.lift == 0
    assert out.coil_loss < half.coil_loss < home.coil_loss
    for place in setting.pressures:
        assert place.inlet == pytest.approx(place.gun + place.drive_loss + place.hose_loss + place.lift, rel=1e-9)
        low, high = place.coils_span
        assert low <= place.coil_loss <= high


def test_the_pull_is_that_of_the_computed_row(row: Row, card: Card, limits: SetLimits) -> None:
    # H4-17 flat, H4-19 on a slope of 5 %
    flat = work_out(card, Wishes(out=400), limits)
    steep = work_out(card, Wishes(out=400, rise=20), limits)
    assert flat.drag == pytest.approx(row("H4-17")["expected"]["F"]["value"], rel=1e-4)
    assert steep.drag == pytest.approx(row("H4-19")["expected"]["F"]["value"], rel=1e-4)
    # the hose is pulled out one way and home the other: one of them is uphill
    assert work_out(card, Wishes(out=400, rise=-20), limits).drag == steep.drag
    assert flat.cart_pull == pytest.approx(600 * 9.80665 * 0.1)


WARNED: list[tuple[str, dict[str, Any], Callable[[Card], Card]]] = [
    ("pull-out", {"out": 420}, lambda card: card),
    ("coils", {"out": 395}, lambda card: card),
    ("drum", {}, lambda card: replace(card, drum=card.drum._replace(layers=4))),
    ("gun-low", {"gun_pressure": 3e5}, lambda card: card),
    ("gun-high", {"gun_pressure": 8e5, "nozzle": 0.02, "flow": None}, lambda card: card),
    ("not-fed", {"inlet": 5e5}, lambda card: card),
    ("nozzle", {}, lambda card: replace(card, cart=card.cart._replace(nozzle=0.018))),
    ("drive-loss", {"drive_loss": 0.9e5}, lambda card: card),
    ("drag", {"ground_friction": 1.0}, lambda card: card),
    ("hose-pressure", {"temperature": 40.0, "gun_pressure": 7e5, "flow": 53 / 3600}, lambda card: card),
    ("spacing", {"wind": 6.0}, lambda card: card),
    ("runoff", {"intake": 5e-3 / 3600}, lambda card: card),
    ("late", {"until": START + timedelta(hours=11)}, lambda card: card),
    ("wall", {"gun_pressure": 6.8e5}, lambda card: card),
    ("wind", {"wind": 6.0, "wind_limit": 5.0}, lambda card: card),
    ("wind-rows", {"wind": 60 / 3.6, "spacing": 55}, lambda card: card),
    ("slope", {"rise": 61}, lambda card: card),
    ("bend-tight", {"bends": (Bend(100, 0.5, 80),)}, lambda card: card),
    ("speed-spread", {}, lambda card: replace(card, compensation=card.compensation._replace(kind="none"))),
    ("bend-early", {"bends": (Bend(50, 100, 40),)}, lambda card: card),
    ("bend-much", {"bends": (Bend(100, 200, 100),)}, lambda card: card),
]


@pytest.mark.parametrize(("code", "wish", "change"), WARNED, ids=[one[0] for one in WARNED])
def test_every_warning_comes_with_a_figure_and_a_cure(
    code: str, wish: dict[str, Any], change: Callable[[Card], Card], card: Card, limits: SetLimits
) -> None:
    assert code not in codes(work_out(card, GOOD, limits))
    setting = work_out(change(card), replace(GOOD, **wish), limits)
    assert code in codes(setting)
    (one,) = [warned for warned in setting.warnings if warned.code == code]
    for system in ("metric", "us"):
        text = one.text(system)
        assert "{" not in text
        assert any(sign.isdigit() for sign in text)


def test_every_code_is_tried() -> None:
    assert {one[0] for one in WARNED} == set(CODES)


def test_a_timing_check_pulls_all_of_it_out(card: Card, limits: SetLimits) -> None:
    assert "coils" in codes(work_out(card, Wishes(out=400), limits))
    assert "coils" not in codes(work_out(card, Wishes(out=400, timing_check=True), limits))


@pytest.mark.parametrize("first", range(900, 1400, 100))
def test_a_whole_hose_is_whole_in_feet_and_in_metres(first: int, card: Card, limits: SetLimits) -> None:
    # a foot is 0.3048 m exactly (NIST SP 811): the same length written both ways differs by a hair of floating point
    for feet in range(first, first + 100):
        machine = replace(card, hose=card.hose._replace(length=units.read(f"{feet} ft", "length")))
        out = units.read(f"{Decimal(feet) * Decimal('0.3048')} m", "length")
        setting = work_out(machine, Wishes(out=out, timing_check=True), limits)
        assert "pull-out" not in codes(setting)
        assert setting.layers_left == 0
        assert setting.coils_left == pytest.approx(0)


def test_two_coils_is_where_the_warning_begins(card: Card, limits: SetLimits) -> None:
    # common practice, no source: two coils at least
    setting = work_out(card, Wishes(out=300), limits)
    assert setting.wind is not None
    most = 400 - setting.wind.metres(2)
    assert "coils" in codes(work_out(card, Wishes(out=most + 0.01), limits))
    assert "coils" not in codes(work_out(card, Wishes(out=most - 0.01), limits))


def test_ten_psi_is_where_the_drive_takes_too_much(card: Card, limits: SetLimits) -> None:
    # common practice, no source: 10 psi (69 kPa), also where the card is silent
    silent = replace(card, drive=card.drive._replace(most_loss=None))
    for machine in (card, silent):
        assert "drive-loss" not in codes(work_out(machine, replace(GOOD, drive_loss=68_900.0), limits))
        assert "drive-loss" in codes(work_out(machine, replace(GOOD, drive_loss=69_100.0), limits))


@pytest.mark.parametrize(("loss", "fine"), [("10 psi", True), ("0.69 bar", True), ("69 kPa", True), ("0.7 bar", False)])
def test_ten_psi_are_sixty_nine_kilopascals(loss: str, fine: bool, card: Card, limits: SetLimits) -> None:
    # common practice has 10 psi (69 kPa): 68.9 kPa as they are rounded; a walk-round takes 69 kPa as well
    setting = work_out(card, replace(GOOD, drive_loss=units.read(loss, "pressure")), limits)
    assert ("drive-loss" not in codes(setting)) is fine


def figures_in(text: str) -> list[float]:
    return [float(one) for one in re.findall(r"\d+(?:\.\d+)?(?= )", text)]


@given(
    case=st.sampled_from([
        ("coils", "out", 385.0, 395.0), ("drive-loss", "drive_loss", 69_100.0, 75_000.0),
        ("pull-out", "out", 400.1, 401.0), ("gun-low", "gun_pressure", 4.0e5, 4.095e5),
        ("spacing", "spacing", 77.0, 78.5),
    ]),
    part=st.floats(0, 1),
    system=st.sampled_from(["metric", "us"]),
)  # fmt: skip
def test_a_figure_that_is_past_its_limit_does_not_read_as_the_limit(
    case: tuple[str, str, float, float], part: float, system: units.System, card: Card, limits: SetLimits
) -> None:
    code, name, least, most = case
    wish: dict[str, Any] = {name: least + part * (most - least)}
    setting = work_out(card, replace(GOOD, **wish), limits)
    for one in setting.warnings:
        if one.code == code:
            figure, limit, *_ = figures_in(one.text(system))
            assert figure != limit, one.text(system)


def test_the_pull_out_that_is_named_at_most_leaves_the_coils(card: Card, limits: SetLimits) -> None:
    for system, unit in (("metric", 1.0), ("us", 0.3048)):
        (one,) = (one for one in work_out(card, replace(GOOD, out=395), limits).warnings if one.code == "coils")
        named = figures_in(one.text(system))[-1] * unit  # type: ignore[arg-type]
        assert "coils" not in codes(work_out(card, replace(GOOD, out=named), limits))
        assert "coils" in codes(work_out(card, replace(GOOD, out=named + unit), limits))


@pytest.mark.parametrize(
    ("wished", "over"),
    [
        ({"gun_pressure": 12e5}, True), ({"gun_pressure": 9.5e5}, True), ({"gun_pressure": 8.7e5}, False),
        ({"gun_pressure": None, "nozzle": 0.0165}, True), ({"gun_pressure": None, "nozzle": 0.0233}, False),
    ],
)  # fmt: skip
def test_more_at_the_gun_than_the_hose_may_hold_cannot_be_whatever_the_drive_takes(
    wished: dict[str, Any], over: bool, card: Card, limits: SetLimits
) -> None:
    # 2 s e / (D - e) of PE80 at 110 x 8.1 mm is 10.0 bar (ISO 12162); row H8-08: the hose takes 1.04 bar of it there,
    # and 16.5 mm let 43 m3/h through at 15.6 bar if the jet lost nothing
    silent = replace(card, drive=Drive(), cart=card.cart._replace(nozzle=None))
    setting = work_out(silent, replace(Wishes(spacing=68, out=300, depth=0.025, flow=43 / 3600), **wished), limits)
    assert setting.standing is None
    assert ("hose-pressure" in codes(setting)) is over
    assert (setting.cannot_be is not None) is over
    assert over or "hose-pressure" not in {one.code for one in setting.limits}  # unknown is not ok


def test_what_the_card_does_not_say_is_named(limits: SetLimits) -> None:
    setting = work_out(Card("R9"), Wishes(spacing=70, out=300), limits)
    told = {one.what: one.needs for one in setting.unknown}
    assert "hose.length" in told["metres left"]
    assert "hose.inside" in told["loss of the hose"]
    assert "flow" in told["flow"]
    assert "depth or speed" in told["travel speed"]
    assert "hose.outside" in told["pull on the hose"]
    values = {one.name: getattr(setting, one.name) for one in dataclasses.fields(setting)}
    assert values["flow"] is values["speed"] is values["coils_left"] is values["drag"] is None


def test_what_is_taken_is_said(card: Card, limits: SetLimits) -> None:
    bare = replace(card, drum=card.drum._replace(packing=None))
    setting = work_out(bare, replace(GOOD, drive_loss=None), limits)
    taken = {one.what for one in setting.taken}
    assert {"packing", "temperature", "friction of hose on ground", "drive loss, the most on the card"} <= taken
    engine = work_out(replace(card, drive=Drive("engine")), replace(GOOD, drive_loss=None), limits)
    assert engine.at_pull_out is not None
    assert engine.at_pull_out.drive_loss == 0


def test_a_layer_that_stays_full_is_one_layer_to_the_centimetre(card: Card, limits: SetLimits) -> None:
    # 11 coils of 5.0580 m (row H5-13: 55.6376 m in the first layer)
    for left, layers in ((55.6376, 1), (55.64, 1), (55.66, 2)):
        assert work_out(card, Wishes(out=400 - left), limits).layers_left == layers


def test_coils_left_do_not_hang_on_a_packing_that_nobody_knows(card: Card, limits: SetLimits) -> None:
    # in the first layer, where it matters, packing plays no part
    one, other = (
        work_out(replace(card, drum=card.drum._replace(packing=packing)), Wishes(out=380), limits)
        for packing in (0.866, 1.0)
    )
    assert one.coils_left == pytest.approx(other.coils_left)
    assert one.layers_left == other.layers_left == 1


@pytest.mark.parametrize("name", sorted(SPANS))
@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf, -1e9, 1e9])
def test_a_wish_that_cannot_be_is_named(name: str, wrong: float, card: Card, limits: SetLimits) -> None:
    wish: dict[str, Any] = {name: wrong}
    with pytest.raises(WishError) as told:
        work_out(card, Wishes(**wish), limits)
    assert "cannot be right; it must be between" in str(told.value)


@pytest.mark.parametrize("rise", [50.1, -60.0])
def test_a_gun_that_stands_higher_than_its_hose_is_long_is_named(rise: float, card: Card, limits: SetLimits) -> None:
    with pytest.raises(
        WishError, match=r"^rise: .* m on a pull-out of 50 m cannot be right; .* at most 50 m, up or down$"
    ):
        work_out(card, Wishes(out=50, rise=rise), limits)
    assert work_out(card, Wishes(out=50, rise=math.copysign(50, rise)), limits).drag


def test_depth_and_speed_together_are_refused_where_one_says_another(card: Card, limits: SetLimits) -> None:
    with pytest.raises(WishError, match="leave out the speed or the depth"):
        work_out(card, replace(GOOD, speed=0.009), limits)
    with pytest.raises(WishError, match="leave out the speed or the depth"):
        work_out(card, Wishes(out=380, spacing=68, depth=0.025, speed=0.012, inlet=7e5, drive_loss=5e4), limits)
    # without a flow they say it
    setting = work_out(card, Wishes(spacing=68, out=300, depth=0.025, speed=25.2941 / 3600), limits)
    assert setting.flow is not None
    assert setting.flow * 3600 == pytest.approx(43, abs=1e-4)


def test_a_curve_outside_of_the_pull_out_is_named(card: Card, limits: SetLimits) -> None:
    with pytest.raises(WishError, match="curve: bend 1: ends at 400 m; only 300 m"):
        work_out(card, Wishes(out=300, bends=(Bend(200, 200, 45),)), limits)


def test_a_gun_that_the_inlet_cannot_feed_is_told_with_the_cure(card: Card, limits: SetLimits) -> None:
    by_flow = work_out(card, Wishes(out=380, flow=80 / 3600, inlet=3e5, drive_loss=0.5e5, rise=10), limits)
    by_nozzle = work_out(card, Wishes(out=380, inlet=1.2e5, drive_loss=0.5e5, rise=10), limits)
    for setting in (by_flow, by_nozzle):
        assert codes(setting)[0] == "not-fed"
        assert setting.pressures == ()


def test_a_gun_that_only_the_fall_of_the_ground_feeds_gets_nothing_at_home(limits: SetLimits) -> None:
    """0.5 bar at the inlet, and the drive takes 0.69: 100 m of fall feed the gun far out, nothing near by."""
    long = read_card({
        "tag": "R1", "drum": {"core_diameter": "2 m", "coils_per_layer": 14, "layers": 6},
        "hose": {"outside": "110 mm", "inside": "90 mm", "length": "620 m", "material": "PE100"},
        "drive": {"kind": "turbine"}, "cart": {"kind": "gun", "nozzle": "16 mm"},
    })  # fmt: skip
    wishes = Wishes(spacing=40, out=600, depth=0.025, inlet=0.5e5, drive_loss=0.69e5, rise=-100, ground_friction=0.1)
    setting = work_out(long, wishes, limits)
    assert [place.gun for place in (setting.likely[2], setting.worst[2])] == [0, 0]
    half_way = setting.likely[1].gun
    assert half_way is not None
    assert half_way > limits.gun_least
    (told,) = (one.text() for one in setting.warnings if one.code == "gun-low")
    assert told.startswith("0.0 bar at the gun, home; ")
    assert setting.holds is False


@pytest.mark.parametrize("takes", [5.4e5, 5.9e5, 6.5e5])
def test_a_neighbour_who_leaves_too_little_is_told_as_a_gun_without_water(
    takes: float, card: Card, limits: SetLimits
) -> None:
    wishes = Wishes(spacing=68, out=300, depth=0.025, nozzle=0.024, inlet=6e5, drive_loss=0.69e5)
    setting = work_out(card, replace(wishes, neighbour_loss=takes), limits)
    assert setting.likely == work_out(card, wishes, limits).likely, "without the neighbour it stays as it is"
    assert [(one.gun, one.depth) for one in setting.worst] == [(0.0, 0.0)] * 3
    worst = next(one for one in setting.limits if one.code == "gun-low")
    assert worst.at_worst == 0
    assert "gun pressure, least 100 % short" in verdict(setting)


maybe = st.none()
cards = st.builds(
    Card,
    tag=st.just("R1"),
    drum=st.builds(
        Drum,
        maybe | st.floats(0.3, 4),
        maybe | st.floats(1, 40),
        maybe | st.integers(1, 9),
        maybe | st.floats(0.82, 1.05),
    ),
    hose=st.builds(
        Hose,
        maybe | st.floats(0.05, 0.2),
        maybe | st.floats(0.02, 0.049),
        maybe | st.floats(10, 900),
        maybe | st.sampled_from(["PE80", "PE100", "rubber"]),
    ),
    drive=st.builds(Drive, maybe | st.sampled_from(["turbine", "engine", "bellows"]), maybe | st.floats(1e4, 1e5)),
    cart=st.builds(
        Cart,
        maybe | st.sampled_from(["gun", "boom"]),
        maybe | st.floats(0.004, 0.04),
        maybe | st.floats(90, 360),
        maybe | st.floats(50, 2000),
        maybe | st.floats(1e4, 3e6),
        maybe | st.floats(1e4, 3e6),
    ),
)
wishes = st.builds(
    Wishes,
    **{
        name: (
            st.floats(least, most) if name in ("rise", "dwell_start", "dwell_end") else maybe | st.floats(least, most)
        )
        for name, (least, most, _) in SPANS.items()
    },
)


@given(cards, wishes)
def test_whatever_is_known_and_wanted_every_figure_is_a_number(card: Card, wishes: Wishes) -> None:
    limits = LIMITS
    try:
        setting = work_out(card, wishes, limits)
    except WishError:
        return
    for one in dataclasses.fields(setting):
        value = getattr(setting, one.name)
        if isinstance(value, float):
            assert math.isfinite(value), one.name
    for place in setting.pressures:
        assert all(math.isfinite(value) for value in (place.flow, place.gun, place.inlet, place.coil_loss))
        assert place.gun >= 0
    for warned in setting.warnings:
        warned.text("metric"), warned.text("us")


def shipped() -> SetLimits:
    import tomllib
    from pathlib import Path

    return read_set_limits(tomllib.loads(Path("checklists/set-limits.toml").read_text("utf-8")))


LIMITS = shipped()


def test_a_table_of_limits_that_cannot_be_is_named_with_its_key() -> None:
    with pytest.raises(SetLimitsError) as told:
        read_set_limits(
            {"limits": {"least_coils": "two", "drive_loss": 10, "gun_least": "9 bar", "colour": 1}, "paint": {}}
        )
    text = "; ".join(told.value.problems)
    for piece in (
        "worst.hot: missing",
        "limits.least_coils: 'two'",
        "limits.drive_loss: 10",
        "limits.colour: not known",
        "paint: not known",
        "taken.packing: missing",
    ):
        assert piece in text
    for odd in (5, "two", ["two"]):
        with pytest.raises(SetLimitsError, match=r"^taken: must be a section \[taken\]$"):
            read_set_limits({"taken": odd})


def test_a_cards_own_range_of_gun_pressure_goes_first(card: Card, limits: SetLimits) -> None:
    low = read_card({"tag": "R1", "cart": {"kind": "gun", "least_pressure": "2 bar", "most_pressure": "3 bar"}})
    machine = replace(
        card, cart=card.cart._replace(least_pressure=low.cart.least_pressure, most_pressure=low.cart.most_pressure)
    )
    assert "gun-high" in codes(work_out(machine, GOOD, limits))
    assert "gun-low" not in codes(work_out(machine, replace(GOOD, gun_pressure=2.5e5), limits))


def test_shipped_limits_and_unsafe_ends_are_the_published_figures(row: Row, limits: SetLimits) -> None:
    # H9-18: a note on gun travellers; H4-15: friction of hose on ground that an abstract of 2025 reckons with
    assert 100 * limits.most_slope == row("H9-18")["expected"]["slope"]["value"]
    assert limits.worst.ground_friction == row("H4-15")["inputs"]["mu"]["value"]
    assert limits.ground_friction < limits.worst.ground_friction
    # H4-23: turbines take roughly 0.3 to 1.0 bar
    least, most = (float(one) for one in re.findall(r"[\d.]+", row("H4-23")["expected"]["turbine"]["value"]))
    assert limits.worst.drive_loss_least == least * 1e5
    assert limits.worst.drive_loss_least < limits.drive_loss < most * 1e5


def test_at_the_friction_up_to_which_the_wall_bears_it_bears_just_that(card: Card, limits: SetLimits) -> None:
    for rise in (-5.0, 0.0, 30.0):
        wishes = replace(GOOD, rise=rise)
        setting = work_out(card, wishes, limits)
        assert setting.friction_to is not None
        there = work_out(card, replace(wishes, ground_friction=setting.friction_to), limits)
        assert there.likely[0].wall == pytest.approx(there.allowable_pull, rel=1e-9)


def test_what_is_kept_of_a_set_has_its_pull_out_to_a_tenth_of_a_metre(card: Card, limits: SetLimits) -> None:
    assert plan_of_the_day(work_out(card, replace(GOOD, out=287.3), limits), limits)["pull_out"] == "287.3 m"


def test_where_nobody_sets_it_anew_the_cart_is_faster_by_the_layer_that_it_has_come_to(limits: SetLimits) -> None:
    """Without compensation the drum turns evenly, so the speed goes by the diameter of the layer that winds."""
    drum = Drum(core_diameter=1.5, coils_per_layer=12, layers=5)
    card = Card("R1", drum=drum, hose=Hose(outside=0.11, inside=0.0968, length=400), compensation=Compensation("none"))
    setting = work_out(card, Wishes(out=350, speed=20 / 3600), limits)
    assert setting.speed is not None
    assert len(setting.layers) >= 4
    for place, part in zip(setting.worst, (1.0, 0.5, 0.0), strict=True):
        here = next(one for one in setting.layers if one.ends <= 350 * part <= one.begins)
        assert place.speed == pytest.approx(setting.speed * here.faster, rel=1e-9)


def test_flow_nozzle_and_pressure_that_agree_are_taken_together(card: Card, limits: SetLimits) -> None:
    lets = work_out(card, Wishes(out=300, nozzle=0.024, gun_pressure=4.6e5), limits).flow
    assert lets is not None
    both = work_out(card, Wishes(out=300, nozzle=0.024, gun_pressure=4.6e5, flow=lets), limits)
    assert both.flow == pytest.approx(lets)


def test_only_who_says_so_checks_the_timing() -> None:
    # without coils on the drum the hose can be torn off: the one full pull-out is asked for by name
    assert not read_wishes({"spacing": "70 m"}, UTC).timing_check
    assert read_wishes({"spacing": "70 m"}, UTC, timing_check=True).timing_check

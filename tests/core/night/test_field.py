"""A field as its file says it, what is wrong with one, and what a lane takes with a machine."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from reelcare.core.machine.card import read_card
from reelcare.core.night.field import Hours, Lane, LaneFileError, read_field
from reelcare.core.night.field_words import too_long
from reelcare.core.night.hours import first_fit, first_free, spans_of
from reelcare.core.night.lane_sets import LaneSets
from reelcare.core.night.rounds import done_in_round, lane_of_hydrant
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.setting import work_out

LANE: dict[str, Any] = {"number": 1, "hydrant": 7, "length": "320 m", "spacing": "68 m", "rise": "2 m"}
"""One lane as a file says it."""


def lane(**changed: Any) -> dict[str, Any]:
    return {key: value for key, value in {**LANE, **changed}.items() if value is not None}


def test_a_field_is_read_with_all_that_it_can_say() -> None:
    field = read_field({
        "id": "north", "place": "North Field",
        "lanes": [LANE, lane(number="2a", hydrant="7", shared_with=[1, "mill"], flow="40 m3/h", inlet="6 bar")],
        "licence": {"m3_day": 900, "m3_season": "20000 m3", "hours": "18:00-08:00"},
        "tariff": {"hours": ["22:00", "06:00"]}, "dark": {"from": "21:30", "until": "05:00"},
        "moves": {"same_hydrant": "30 min"},
    })  # fmt: skip
    first, second = field.lanes
    assert (first.number, first.hydrant, first.length, first.spacing, first.rise) == (1, 7, 320, 68, 2)
    assert (second.number, second.hydrant, second.shared_with) == ("2a", 7, (1, "mill"))
    assert second.flow == pytest.approx(40 / 3600)
    assert (field.licence.day, field.licence.season, field.licence.hours) == (900, 20000, Hours(1080, 480))
    assert field.tariff == Hours(1320, 360)
    assert field.dark is not None
    assert field.dark.texts == ["21:30", "05:00"]
    assert field.move(first, second) == 1800
    assert field.is_at("north field")
    assert not field.is_at("")


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"lanes": [lane(hydrant=None)]}, "lanes[1].hydrant: missing: without a hydrant the lane has no flow"),
        ({"lanes": [lane(flow="0 m3/h")]}, "lanes[1].flow: 0 m3/h cannot be"),
        ({"lanes": [lane(length=320)]}, "lanes[1].length: 320 without a unit"),
        ({"lanes": [LANE, LANE]}, "lanes[2].number: lane 1 is there twice"),
        ({"lanes": [lane(lenght="3 m")]}, "lanes[1].lenght: not known; did you mean length?"),
        ({"lanes": []}, "lanes: missing"),
        ({"id": ""}, "id: missing"),
        ({"tariff": {"hours": "22 to 6"}}, "tariff.hours: '22': must be a time of the day such as"),
        ({"licence": {"hours": "06:00-06:00"}}, "licence.hours: from and until are the same"),
        ({"licence": {"m3_day": -3}}, "licence.m3_day: -3 cannot be"),
        ({"dark": {"from": "21:00"}}, "dark: from and until go together"),
        ({"dark": {"from": "25:00", "until": "05:00"}}, "dark.from: '25:00'"),
        ({"drak": {}}, "drak: not known; did you mean dark?"),
    ],
)
def test_what_is_wrong_with_a_field_is_named_with_its_place(changed: dict[str, Any], told: str) -> None:
    with pytest.raises(LaneFileError) as caught:
        read_field({"id": "north", "lanes": [LANE], **changed})
    assert any(one.startswith(told) for one in caught.value.problems), caught.value.problems


def test_hours_over_midnight_follow_the_clock_also_when_it_is_put_back() -> None:
    zone = ZoneInfo("Europe/Vienna")
    first = datetime(2026, 10, 24, 12, tzinfo=zone)
    spans = spans_of(Hours(22 * 60, 6 * 60), first, first, zone)
    lengths = [(end - begin) / 3600 for begin, end in spans]
    assert lengths == [8, 9, 8], "the clock goes back in the night to 25 October 2026"
    assert (
        spans_of(Hours(60, 120), datetime(2026, 6, 1, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC), UTC)[1][0] % 86400
        == 3600
    )


def test_spans_give_the_first_moment_that_fits() -> None:
    assert first_fit(5, 10, [(0, 12), (20, 40)]) == 20
    assert first_fit(5, 7, [(0, 12)]) == 5
    assert first_fit(5, 8, [(0, 12)]) is None
    assert first_free(5, 10, [(12, 20), (25, 26)]) == 26
    assert first_free(5, 7, [(12, 20)]) == 5


def test_a_round_ends_with_its_last_lane_and_a_lane_run_again_begins_the_next() -> None:
    field = read_field({"id": "f", "lanes": [lane(number=one, hydrant=one // 3) for one in (1, 2, 3)]})
    assert done_in_round(field, [1, 2]) == {1, 2}
    assert done_in_round(field, [1, 2, 3]) == set()
    assert done_in_round(field, [1, 3, 1, 9]) == {1}
    assert lane_of_hydrant(field, "0", {1}) == field.lanes[1]
    assert lane_of_hydrant(field, "0", {1, 2}) == field.lanes[0]
    assert lane_of_hydrant(field, "8", set()) is None


CARD = read_card({
    "tag": "R1", "drum": {"core_diameter": "1.5 m", "coils_per_layer": 11, "layers": 6, "packing": 0.95},
    "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m", "material": "PE80"},
    "drive": {"kind": "turbine", "most_loss": "10 psi"}, "cart": {"kind": "gun", "nozzle": "23.3 mm", "arc": 320},
})  # fmt: skip
WISHES = Wishes(spacing=70, out=300, depth=0.025, inlet=6.9e5, drive_loss=0.5e5)


def sets(wishes: Wishes | None = WISHES) -> LaneSets:
    from reelcare.register.sheets import set_limits

    return LaneSets(CARD, wishes, set_limits())


def test_the_set_of_a_lane_is_the_kept_set_on_its_length_and_spacing() -> None:
    from reelcare.register.sheets import set_limits

    found = sets()(Lane(4, 7, 320, 68, 2))
    likewise = work_out(
        CARD, Wishes(spacing=68, out=320, depth=0.025, inlet=6.9e5, drive_loss=0.5e5, rise=2), set_limits()
    )
    assert (found.cannot, found.run) == ("", round(likewise.run_time or 0))
    assert (found.volume, found.energy) == (likewise.water_used, likewise.energy)


def test_lanes_that_cannot_be_say_why_and_what_would() -> None:
    assert "the hose of R1 is 400 m: at most 400 m" in sets()(Lane(4, 7, 420, 68)).cannot
    assert "no set was kept for R1" in sets(None)(Lane(4, 7, 320, 68)).cannot
    assert "has no flow for R1" in sets(Wishes(depth=0.025))(Lane(4, 7, 320, 68)).cannot
    assert "run time with R1 is not known" in sets(Wishes(flow=0.012))(Lane(4, 7, 320, 68)).cannot
    assert "with R1:" in sets()(Lane(4, 7, 399, 68)).cannot, "too few coils stay"


def test_what_the_hydrant_gives_is_the_lane_s() -> None:
    less = sets()(Lane(4, 7, 320, 68, inlet=5e5))
    assert less.run > sets()(Lane(4, 7, 320, 68)).run


def test_no_lane_is_too_long_where_no_hose_is_known() -> None:
    field = read_field({"id": "north", "lanes": [LANE]})
    assert too_long(field, None, "metric") == []
    assert too_long(field, 320.0, "metric") == []
    assert len(too_long(field, 319.0, "metric")) == 1

"""The licence of a night with a run at hand: what that is still to give is taken, before anything else is planned."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import pytest

from reelcare.cli.plan.night import as_json
from reelcare.core import entries as e
from reelcare.core.night.hours import moment
from reelcare.register.views import night as nights
from reelcare.register.views.night import PlannedNight
from reelcare.reports import night as reports
from tests.register.conftest import CARD
from tests.register.test_gates import signed_up_to

DRUM: dict[str, Any] = {
    "place": "Upper Field", "drum": {"core_diameter": "1.5 m", "coils_per_layer": 11, "layers": 6},
    "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m", "material": "PE80"},
    "cart": {"kind": "gun", "nozzle": "23.3 mm", "arc": 320},
}  # fmt: skip
WISHES = {"out": "300 m", "spacing": "68 m", "depth": "25 mm", "inlet": "6.9 bar"}
GIVES = 300 * 68 * 0.025
"""What each lane takes [m3]: its length, times its spacing, times the depth."""


def night(
    yard: Any, licence: Mapping[str, float], hydrant: str = "1", hours: int = 12, later: timedelta = timedelta()
) -> PlannedNight:
    """The night after a run was begun on the first of four equal lanes, each with a hydrant of its own; `later` than
    its set was kept for."""
    lanes = [{"number": one, "hydrant": one, "length": "300 m", "spacing": "68 m"} for one in (1, 2, 3, 4)]
    field = {"id": "upper", "place": "Upper Field", "lanes": lanes, "licence": licence}
    yard.register.add(e.Mapped(field=field), by="Mara", now=yard.now)
    yard.add(e.Carded(card=CARD | DRUM))
    begins = yard.now + timedelta(minutes=30)
    planned = {"finish": (begins + timedelta(hours=hours)).isoformat()}
    yard.add(e.SetPlanned(wishes=WISHES | {"start": begins.isoformat(), "hydrant": hydrant}, planned=planned))
    yard.now += later
    signed_up_to(yard, "water")
    found = nights.plan(yard.register, "R1", yard.now, ends=yard.now + timedelta(days=3))
    assert [one.tag for one in found.running] == ["R1"]
    assert all(one.volume == pytest.approx(GIVES) for one in found.sets)
    return found


@pytest.mark.parametrize("hydrant", ["1", ""])
def test_what_the_run_at_hand_is_to_give_is_of_the_season(yard: Any, hydrant: str) -> None:
    """Also where nobody said at which hydrant: then by the set that was kept for it."""
    found = night(yard, {"m3_season": 2.5 * GIVES}, hydrant)
    assert len(found.sets) == 1
    told = as_json(found)
    assert told["licence"]["used_m3"] == pytest.approx(2 * GIVES)
    assert [one["volume_m3"] for one in told["running"]] == [GIVES]


def test_what_the_run_at_hand_is_to_give_is_of_the_day_on_which_it_comes_home(yard: Any) -> None:
    found = night(yard, {"m3_day": 1.5 * GIVES}, hours=2)
    home = found.running[0].ends
    days = [home, *(one.ends for one in found.sets)]
    assert len(days) > 2
    assert len({moment(at).astimezone(found.zone).date() for at in days}) == len(days)


def test_a_run_on_a_set_of_another_day_is_at_hand_all_the_same(yard: Any) -> None:
    """Its lane was planned for it once more, at once, and nothing said that it ran."""
    found = night(yard, {"m3_season": 9 * GIVES}, hours=2, later=timedelta(days=2))
    assert 1 not in [one.lane.number for one in found.sets]
    assert "R1 runs, lane 1; when it is home is not known" in reports.words(found)
    [running] = as_json(found)["running"]
    assert (running["lane"], running["ends"]) == (1, None)

"""Which answers hold a machine, and whose each hold is: the stops of the trade, row by row (common practice, no source,
but for the figures that the sheets name). A row: the question, what was found, and its owner."""

from pathlib import Path

import pytest

from reelcare.core.checks.limits import judge
from reelcare.core.checks.sheet import Question
from reelcare.core.machine.card import Card
from reelcare.register import sheets

SHEETS = sheets.load(own=Path("no-such-folder")).by_id
STOPS = """
place       pre-start.overhead inside | pre-start.stream road living | pre-start.ground soft steep
place       pre-start.hydrant hurt | pre-start.reach some | goes-on.reach some | road.width wide | road.route low
passing     pre-start.wind strong dark thunder | pre-start.people some thunder | pre-start.reach thunder drift
passing     goes-on.people some thunder | goes-on.reach drift | rescue.line some | weekly-shop.clear not
passing     season-opening.clear not
adjustment  pre-start.hydrant other | pre-start.square off other | pre-start.heading road aside
adjustment  pre-start.pin part out | pre-start.level leans stroke | pre-start.feet none one crank
adjustment  pre-start.leg-oil coupled | pre-start.cart hangs hooked uneven | pre-start.supply on
adjustment  pre-start.drive-out in crank between | pre-start.pawl-up down free | pre-start.pawl-down rides up
adjustment  pre-start.coils-tight loose jerked crank | pre-start.hose-walk sharp | pre-start.supply-hose gasket kinked
adjustment  pre-start.guards off crank | pre-start.turbine turns other between | pre-start.stop-reset tripped
adjustment  pre-start.drive-in out | pre-start.flow spits | pre-start.feet-again none one | pre-start.reach wet
adjustment  road.supply on | road.coils loose trailing | road.pawl up | road.cart unchained down | road.legs part down
adjustment  road.heading lane between | road.pin out | road.jack down | road.guards off crank | road.lights day
machine     pre-start.pin jams | pre-start.feet missing | pre-start.leg-oil leak | pre-start.hitch missing worn
machine     pre-start.drive-out stuck | pre-start.pawl-up falls | pre-start.pawl-down stuck | pre-start.hose-walk hurt
machine     pre-start.stop-reset bent | pre-start.stop-test stays hangs | pre-start.drive-in refuses
machine     pre-start.flow leaks | pre-start.coil-lies piles still | pre-start.feet-again creeps
machine     after-run.tripped ran-on | after-run.hose-hurt cut | season-opening.hose-body hurt | road.pawl stuck
machine     road.tyres soft nut | road.drawbar missing worn | road.lights none one | weekly-shop.brake grabs
machine     weekly-shop.stop-link stiff | weekly-shop.pawl-spring slow worn | weekly-shop.tyre-look hurt
machine     season-opening.pawl slow | season-opening.legs sink | season-opening.first-water leaks
"""
ROWS = [
    (line.split()[0], *row.split(maxsplit=1))
    for line in STOPS.strip().splitlines()
    for row in line.split(maxsplit=1)[1].split("|")
]


def question(place: str) -> Question:
    sheet, id = place.split(".")
    return next(one for one in SHEETS[sheet].questions if one.id == id)


@pytest.mark.parametrize(("owner", "place", "found"), ROWS, ids=lambda one: str(one))
def test_what_is_found_holds_and_whose_it_is(owner: str, place: str, found: str) -> None:
    for seen in found.split():
        judged = judge(question(place), seen, card=Card("R1"), planned={})
        assert judged.holds, (place, seen, judged)
        assert judged.owner == owner, (place, seen)


def test_wind_stops_by_the_limit_of_a_person_and_by_drift_and_else_only_warns() -> None:
    """A wind over the published rows is a matter of evenness: the settings sheet warns of it, and so does the check."""
    found = {
        seen: judge(question("pre-start.wind"), seen, card=Card("R1"), planned={})
        for seen in ("light", "moderate", "fresh", "strong")
    }
    assert [one.judged for one in found.values()] == ["right", "right", "noted", "wrong"]
    assert [one.holds for one in found.values()] == [False, False, False, True]


def test_what_is_not_safe_to_work_on_is_put_right_by_who_finds_it() -> None:
    for sheet in ("weekly-shop", "season-opening", "lay-up"):
        asked = [one for one in SHEETS[sheet].questions if one.id.startswith("iso-")]
        assert asked
        assert {(one.if_not, one.owner) for one in asked} == {("stop", "adjustment")}


def test_what_must_move_to_be_tried_is_tried_before_it_is_made_safe() -> None:
    """With the drum blocked and the drive out neither stop, pawl, brake nor legs can be tried."""
    for sheet in ("weekly-shop", "season-opening"):
        asked = SHEETS[sheet].questions
        safe = [place for place, one in enumerate(asked) if one.id.startswith("iso-")]
        moved = {"end stop", "pawl", "brake", "legs"}
        tried = [place for place, one in enumerate(asked) if one.kind == "test" and one.part in moved]
        assert len(tried) >= 3
        assert asked[0].id == "clear"
        assert max(tried) < min(safe)

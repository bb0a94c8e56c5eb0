"""The machine in plan: its own equipment only, positions as they are, and a walk that can be walked."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from syrupy.assertion import SnapshotAssertion

from reelcare import languages
from reelcare.core.drawing import layouts
from reelcare.core.drawing.canvas import Picture
from reelcare.core.drawing.machine import (
    AHEAD,
    BEHIND,
    FOR_THE_ROAD,
    HERE,
    MARK,
    PART_OF,
    UNKNOWN,
    WalkRoute,
    _forms,
    draw,
)
from reelcare.core.drawing.path import ground, nearest, way
from reelcare.core.drawing.signs import ascii_form
from reelcare.core.drawing.words import NAMES, PLACES, STANDS, every_position, left_of, place_of, positions_of
from reelcare.core.drawing.words import part as part_name
from reelcare.core.machine.card import KINDS, Card, Cart, Compensation, Drum, Jack, Legs, Road
from reelcare.core.parts import PARTS
from reelcare.core.text import _
from tests.core.machine.test_model import MODEL
from tests.pictures import tags

SIZES = ((34, 14), (60, 24))
IRRIGATING: dict[str, str] = {
    "drum heading": "lane", "turntable pin": "in", "legs": "set", "cart": "out", "pawl": "down",
    "drive": "in", "turbine": "driving", "gear range": "chosen", "supply": "on", "supply hose": "coupled",
    "stop mechanism": "reset", "tractor": "away",
}  # fmt: skip
STATES = {
    "drum heading": ("road", "lane", "opposite", "between"),
    "turntable pin": ("in", "out"),
    "legs": ("up", "set"),
    "cart": ("stowed", "lowered", "out"),
    "pawl": ("down", "up"),
    "drive": ("out", "in", "wind"),
    "turbine": ("stopped", "idling", "driving"),
    "gear range": ("chosen", "between"),
    "supply": ("off", "on"),
    "supply hose": ("off", "coupled"),
    "stop mechanism": ("tripped", "reset"),
}
CARD = Card("R1")
THERE = st.sampled_from([None, True, False])
machines = st.builds(
    Card,
    tag=st.just("R1"),
    legs=st.builds(Legs, st.sampled_from([None, *KINDS["legs"]])),
    cart=st.builds(Cart, st.sampled_from([None, *KINDS["cart"]])),
    jack=st.builds(Jack, st.sampled_from([None, *KINDS["jack"]])),
    drum=st.builds(Drum, turntable=THERE, brake=THERE),
    compensation=st.builds(Compensation, st.sampled_from([None, *KINDS["compensation"]])),
    road=st.builds(Road, lights=THERE),
)
positions = st.fixed_dictionaries({}, optional={key: st.sampled_from(values) for key, values in STATES.items()})


OTHER = Card(
    "R1", legs=Legs("hydraulic"), cart=Cart("boom"), jack=Jack("hydraulic"), drum=Drum(turntable=False, brake=False),
    compensation=Compensation("none"), road=Road(lights=False),
)  # fmt: skip
CHANGING = {
    "turntable pin": "out", "legs": "set", "cart": "lowered", "pawl": "up", "gear range": "between",
    "stop mechanism": "tripped", "supply hose": "coupled", "tractor": "machine",
}  # fmt: skip
WINDING = {"drive": "wind", "turbine": "idling"}
"""Every form of a part is drawn of one of two machines that irrigates, is towed, changes its gear, or is wound home."""


def every_tag(picture: Picture) -> set[str]:
    return {tag for row in picture.tags for tag in row if tag}


@given(machines, positions, st.sampled_from(SIZES), st.lists(st.sampled_from(PARTS), max_size=12), st.data())
def test_every_machine_is_drawn_in_every_position(
    machine: Card, where: dict[str, str], size: tuple[int, int], parts: list[str], data: st.DataObject
) -> None:
    walk = WalkRoute.of(parts, data.draw(st.integers(0, max(0, len(parts)))))
    lit = data.draw(st.sampled_from(PARTS))
    picture = draw(machine, where, lit=lit, walk=walk, width=size[0], height=size[1])
    assert (picture.width, picture.height) == size
    assert all(len(row) == size[0] for row in picture.rows)
    assert all(sign.isprintable() for row in picture.rows for sign in row)
    assert ascii_form(picture.text()).isascii()


def test_every_position_of_the_model_is_drawn() -> None:
    """An engine that idles had no form: the app ended at the answer that says so, on each machine of unknown drive."""
    for name in PART_OF:
        assert set(MODEL.parts[name].positions) <= set(STATES[name]), name
        for where, size in itertools.product(STATES[name], SIZES):
            assert draw(CARD, {**IRRIGATING, name: where}, width=size[0], height=size[1]).rows


@pytest.mark.parametrize("size", SIZES, ids=["small", "large"])
@pytest.mark.parametrize("heading", ["lane", "road"])
def test_every_form_stands_where_somebody_has_seen_it_in_the_picture(
    size: tuple[int, int], heading: str, snapshot: SnapshotAssertion
) -> None:
    shown, drawn = [], set()
    for machine, where in itertools.product((CARD, OTHER), (IRRIGATING, FOR_THE_ROAD, CHANGING, WINDING)):
        positions = {**where, "drum heading": heading}
        walk = WalkRoute.of(PARTS, 5) if where is IRRIGATING else None
        picture = draw(machine, positions, walk=walk, width=size[0], height=size[1])
        shown.append("\n".join(line.rstrip() for line in picture.text().splitlines()))
        drawn |= {form for form, _part in _forms(machine, positions)}
    assert set(layout_of(size, heading).forms) == drawn
    assert "\n\n".join(shown) == snapshot


def layout_of(size: tuple[int, int], heading: str) -> layouts.Layout:
    small, large = (
        (layouts.SMALL_ROAD, layouts.LARGE_ROAD) if heading == "road" else (layouts.SMALL_LANE, layouts.LARGE_LANE)
    )
    return small if size == SIZES[0] else large


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("where", [FOR_THE_ROAD, IRRIGATING])
def test_every_part_of_a_full_machine_is_seen(size: tuple[int, int], where: dict[str, str]) -> None:
    tags = every_tag(draw(CARD, where, width=size[0], height=size[1]))
    assert set(PARTS) <= tags


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("where", [FOR_THE_ROAD, IRRIGATING])
@pytest.mark.parametrize("part", PARTS)
def test_the_lit_part_has_a_mark_beside_it(size: tuple[int, int], where: dict[str, str], part: str) -> None:
    picture = draw(CARD, where, lit=part, width=size[0], height=size[1])
    marks = [(x, y) for y, row in enumerate(picture.rows) for x, sign in enumerate(row) if sign == "◆"]
    assert len(marks) == 1
    x, y = marks[0]
    cells = [(a, b) for b, row in enumerate(picture.tags) for a, tag in enumerate(row) if tag == part]
    assert min(abs(a - x) + abs(b - y) for a, b in cells) <= 3
    assert part in picture.lit


@pytest.mark.parametrize(
    ("changed", "part"),
    [
        (Card("R1", drum=Drum(brake=False)), "brake"),
        (Card("R1", road=Road(lights=False)), "lights"),
        (Card("R1", compensation=Compensation("none")), "compensation"),
    ],
)
def test_a_part_that_is_not_there_is_not_drawn(changed: Card, part: str) -> None:
    for size, where in itertools.product(SIZES, (FOR_THE_ROAD, IRRIGATING)):
        assert part not in every_tag(draw(changed, where, width=size[0], height=size[1]))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", [key for key in STATES if key not in ("drum heading", "cart")])
def test_each_position_is_drawn_differently_in_ascii_as_well(size: tuple[int, int], name: str) -> None:
    seen = {
        ascii_form(draw(CARD, {**IRRIGATING, name: one}, width=size[0], height=size[1]).text()) for one in STATES[name]
    }
    assert len(seen) == len(STATES[name])


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("change", [{"legs": Legs("hydraulic")}, {"cart": Cart("boom")}, {"jack": Jack("hydraulic")}])
def test_each_kind_of_equipment_is_drawn_differently(size: tuple[int, int], change: dict[str, object]) -> None:
    for where in (FOR_THE_ROAD, IRRIGATING):
        plain = draw(CARD, where, width=size[0], height=size[1])
        other = draw(replace(CARD, **change), where, width=size[0], height=size[1])  # type: ignore[arg-type]
        assert plain.rows != other.rows


@pytest.mark.parametrize("size", SIZES)
def test_a_position_that_is_not_known_has_a_question_mark(size: tuple[int, int]) -> None:
    assert UNKNOWN not in tags(draw(CARD, IRRIGATING, width=size[0], height=size[1]))
    for name in PART_OF:
        some = {key: value for key, value in IRRIGATING.items() if key != name}
        assert UNKNOWN in tags(draw(CARD, some, width=size[0], height=size[1])), name


def test_water_is_drawn_only_with_the_supply_on() -> None:
    for size in SIZES:
        assert "water" in tags(draw(CARD, IRRIGATING, width=size[0], height=size[1]))
        shut = {**IRRIGATING, "supply": "off"}
        assert "water" not in tags(draw(CARD, shut, width=size[0], height=size[1]))


@pytest.mark.parametrize("layout", [layouts.SMALL_LANE, layouts.SMALL_ROAD, layouts.LARGE_LANE, layouts.LARGE_ROAD])
def test_the_ground_is_in_one_piece_and_in_the_picture(layout: layouts.Layout) -> None:
    cells = ground(layout.paths)
    assert all(0 <= x < layout.width and 0 <= y < layout.height for x, y in cells)
    start = min(cells)
    assert all(way(start, cell, cells) for cell in cells)


@pytest.mark.parametrize("layout", [layouts.SMALL_LANE, layouts.SMALL_ROAD, layouts.LARGE_LANE, layouts.LARGE_ROAD])
def test_no_stroke_falls_outside_its_picture(layout: layouts.Layout) -> None:
    for strokes in [*(one for _name, one in layout.fixed), *layout.forms.values()]:
        for x, y, signs in strokes:
            assert 0 <= y < layout.height
            assert x >= 0
            assert x + len(signs) <= layout.width


def test_the_shortest_way_is_as_long_as_a_flood_finds_it() -> None:
    cells = ground(layouts.LARGE_LANE.paths)
    start = (12, 22)
    reached, steps = {start: 0}, [start]
    while steps:  # the naive way: ring by ring
        steps = [
            (x + dx, y + dy)
            for x, y in steps
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            if (x + dx, y + dy) in cells
            and reached.setdefault((x + dx, y + dy), reached[(x, y)] + 1) == reached[(x, y)] + 1
            and (x + dx, y + dy) not in steps
        ]
        steps = [cell for cell in set(steps) if reached[cell] == max(reached.values())]
    for cell in cells:
        assert len(way(start, cell, cells)) == reached[cell] + 1


def test_there_is_no_way_to_a_place_that_is_cut_off() -> None:
    assert way((0, 0), (5, 0), frozenset({(0, 0), (5, 0)})) == ()
    assert nearest([(4, 0)], frozenset({(0, 0), (5, 0)})) == (5, 0)


def test_the_walk_shows_where_one_is_what_was_walked_and_what_is_left() -> None:
    walk = WalkRoute.of(["site", "turntable", "legs", "cart", "gun", "hose"], 2)
    picture = draw(CARD, IRRIGATING, lit="legs", walk=walk)
    text = "".join(picture.rows)
    assert text.count("◉") == 1
    assert HERE in tags(picture)
    assert BEHIND in tags(picture)
    assert AHEAD in tags(picture)


def test_at_the_last_place_nothing_lies_ahead() -> None:
    picture = draw(CARD, IRRIGATING, walk=WalkRoute.of(["site", "legs", "cart"], 2))
    assert AHEAD not in tags(picture)


@given(machine=machines, where=positions, lit=st.sampled_from(sorted(PARTS)), at=st.integers(0, 5))
def test_no_figure_stands_in_the_drawing_that_could_be_read_as_the_key_of_an_answer(
    machine: Card, where: dict[str, str], lit: str, at: int
) -> None:
    walk = WalkRoute.of(["site", "turntable", "legs", "cart", "gun", "hose"], at)
    for width, height in SIZES:
        picture = draw(machine, where, lit=lit, name=part_name(lit), walk=walk, width=width, height=height)
        assert not any(sign.isdigit() for row in picture.rows for sign in row)


def _marked(picture: Picture) -> str:
    """What stands in the cells of the mark, row by row."""
    return "".join(
        sign
        for row, tags in zip(picture.rows, picture.tags, strict=True)
        for sign, tag in zip(row, tags, strict=True)
        if tag == MARK
    )


@pytest.mark.parametrize("part", ["pawl", "legs"])
@pytest.mark.parametrize("language", languages.LANGUAGES)
def test_the_lit_part_has_its_name_beside_its_mark(part: str, language: str) -> None:
    languages.install(language)
    name = part_name(part)
    picture = draw(CARD, IRRIGATING, lit=part, name=name, width=60, height=24)
    assert name.replace(" ", "") in _marked(picture)
    plain = draw(CARD, IRRIGATING, lit=part, width=60, height=24)
    assert _marked(plain) == "◆"
    # the name takes nothing away from the machine
    for named_row, row in zip(picture.rows, plain.rows, strict=True):
        assert all(before in (after, " ") for after, before in zip(named_row, row, strict=True))


def test_the_same_part_twice_on_end_is_one_place() -> None:
    walk = WalkRoute.of(["legs", "legs", "cart", "cart", "legs"], 3)
    assert walk == WalkRoute(("legs", "cart", "legs"), 1)
    assert WalkRoute.of(["legs"], 1).at == 1
    assert left_of(WalkRoute.of(["legs"], 0)) == "this is the last place"
    assert left_of(WalkRoute.of(["legs"], 1)) == "", "before the signature there is no place to go"


@pytest.mark.parametrize("where", [FOR_THE_ROAD, IRRIGATING], ids=["road", "lane"])
def test_what_a_card_is_silent_about_is_drawn_as_is_usual(where: dict[str, str]) -> None:
    told = Card(
        "R1", legs=Legs("cranked"), cart=Cart("gun"), jack=Jack("screw"), drum=Drum(turntable=True, brake=True),
        compensation=Compensation("mechanical"), road=Road(lights=True),
    )  # fmt: skip
    for width, height in SIZES:
        silent = draw(CARD, where, width=width, height=height)
        assert silent == draw(told, where, width=width, height=height)
        assert silent != draw(OTHER, where, width=width, height=height)


@pytest.mark.parametrize("language", [one for one in languages.LANGUAGES if one != "en"])
def test_every_part_and_position_has_words_in_every_language(language: str) -> None:
    assert set(NAMES) <= set(PLACES) == set(PARTS)
    assert set(STANDS) == {(part, where) for part in STATES for where in (*STATES[part], "")}
    languages.install(language)
    names = {part: NAMES.get(part, part) for part in PARTS}
    assert all(_(words) != words for table in (names, PLACES, STANDS) for words in table.values())


@pytest.mark.parametrize("language", languages.LANGUAGES)
def test_the_words_say_place_position_and_what_is_left(language: str) -> None:
    languages.install(language)
    walk = WalkRoute(("pawl", "gearbox", "gun"), 0)
    for part in PARTS:
        assert part_name(part) == _(NAMES.get(part, part))
        assert place_of(part) == _(PLACES[part])
    assert positions_of("pawl", CARD, IRRIGATING) == [_(STANDS["pawl", IRRIGATING["pawl"]])]
    assert _("gearbox") in left_of(walk)


def test_what_is_not_known_is_told_in_words() -> None:
    told = every_position(Card("R1", drum=Drum(turntable=False)), {"pawl": "up"})
    assert ("pawl up", True) in told
    assert ("drive not known", False) in told
    assert not any("pin" in text for text, _known in told)

"""The names that limits go by: held against what a card and a set really say."""

import tomllib
from dataclasses import fields
from datetime import UTC
from pathlib import Path

import pytest

from reelcare.core import units
from reelcare.core.checks import limit_names
from reelcare.core.checks.sheet_table import read_sheet
from reelcare.core.machine.card import Card, CardError, read_card
from reelcare.core.settings import set_parser as asked
from reelcare.core.settings.set_limits import read_set_limits
from reelcare.core.settings.setting import work_out


def told_of(name: str) -> str:
    """What a card says of a force where `name` stands."""
    room, _, key = name.partition(".")
    with pytest.raises(CardError) as why:
        read_card({"tag": "R1", room: {key: "1 kN"}})
    return str(why.value)


def figures() -> list[str]:
    """Every name of a card that wants a figure: it refuses a text for not being one."""
    found = []
    for room in fields(Card("R1")):
        if room.name == "in_use":  # what was done before is no limit
            continue
        part = getattr(Card("R1"), room.name)
        for name in getattr(part, "_fields", ()):
            try:
                read_card({"tag": "R1", room.name: {name: "1 kN"}})
            except CardError as why:
                if "measures force" in str(why) or "must be a bare number" in str(why):
                    found.append(f"{room.name}.{name}")
    return found


def test_every_figure_of_a_card_is_known_with_what_it_measures() -> None:
    assert set(limit_names.OF_CARD) == set(figures())
    for name, measures in limit_names.OF_CARD.items():
        right = "must be a bare number" if measures == "count" else f"write it in {units.COMMON[measures]}"
        assert right in told_of(name)


def test_every_figure_of_a_set_is_known_with_what_it_measures() -> None:
    card = read_card({
        "tag": "R1", "drum": {"core_diameter": "1.5 m", "coils_per_layer": 11, "layers": 6},
        "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m", "material": "PE80"},
        "drive": {"kind": "turbine", "most_loss": "10 psi"}, "cart": {"kind": "gun", "nozzle": "23.3 mm"},
    })  # fmt: skip
    limits = read_set_limits(tomllib.loads(Path("checklists/set-limits.toml").read_text("utf-8")))
    texts = {
        "spacing": "70 m", "out": "300 m", "depth": "25 mm", "gun_pressure": "4.5 bar", "start": "2026-05-01T06:00",
        "rise": "-5 m",
    }  # fmt: skip
    planned = asked.plan_of_the_day(work_out(card, asked.read_wishes(texts, UTC), limits), limits)
    assert set(planned) - {"finish"} == set(limit_names.OF_SET)
    for name, measures in limit_names.OF_SET.items():
        units.read(planned[name], measures)


@pytest.mark.parametrize(
    ("way", "says"),
    [
        ("card.drive.most_los", "did you mean card.drive.most_loss?"),
        ("set.nope", "choose from card.drum.core_diameter"),
        ("card.hose.length", "measures length, and pressure is asked for"),
        ("set.planned_speed", "measures speed, and pressure is asked for"),
        ("card.cart.most_pressure", ""),
        ("set.gun_pressure", ""),
        ("4 bar", ""),
    ],
)
def test_a_name_that_cannot_be_a_limit_is_told(way: str, says: str) -> None:
    question = {
        "id": "q", "ask": "?", "kind": "reading", "part": "gun", "quantity": "pressure", "if_not": "note",
        "at_most": way,
    }  # fmt: skip
    stages = [{"id": "s", "title": "S", "questions": [question]}]
    told = list(limit_names.problems(read_sheet({"id": "x", "title": "X", "for": "shop", "stages": stages})))
    assert bool(told) == bool(says)
    assert says in "".join(told)

"""The shipped plan against the rows of the trade: what is done to a machine, how often, and what is past its grace no
more. Common practice, no source, but for the rows whose item names one."""

import tomllib
from pathlib import Path

import pytest

from reelcare.core.parts import PARTS
from reelcare.core.service.plan_table import read_plan, to_plain

SHIPPED = tomllib.loads(Path("checklists/plan-default.toml").read_text("utf-8"))
ITEMS = {one["id"]: one for one in to_plain(read_plan(SHIPPED))["items"]}
COMMON = "common practice, no source"
# item: every: the first time: equipment: how it is made safe (SAFE: all of it; part: water, drum and shaft): minutes.
# A stop has `!`: past its grace it holds the machine. `@` is the sheet that the item is done by.
ROWS = """
end-stop @pre-start !         : 1 runs               :         :                             :      : 2
walk-round @pre-start         : 1 runs               :         :                             :      : 5
grease                        : 50 hours             :         :                             : part : 30
chain                         : 50 hours 15000 metres : 20 hours :                           : SAFE : 20
drive-belt                    : 100 hours            : 20 hours : not drive.bellows          : SAFE : 15
gearbox-oil-level             : 100 hours            :         :                             : part : 10
gearbox-oil-change            : 500 hours 12 months  : 50 hours :                            : SAFE : 45
strainer                      : 250 hours            : 20 hours : drive.turbine or drive.bellows : : 20
turbine                       : 250 hours            :         : drive.turbine               : SAFE : 30
bellows                       : 250 hours            :         : drive.bellows               : SAFE : 30
pawl !                        : 100 runs 12 months   :         :                             : SAFE : 15
drum-brake                    : 100 runs 12 months   :         : brake                       :      : 20
level-wind-timing @timing-check : 50000 metres 12 months : 1 runs :                          :      : 60
guide-screw                   : 12 months            :         :                             : SAFE : 30
hose                          : 25000 metres 12 months :       :                             :      : 45
hose-ends !                   : 12 months            : 50 hours :                            : SAFE : 20
hub-seal                      : 12 months            :         :                             : SAFE : 60
inlet-valve !                 : 12 months            :         : shut_off                    :      : 15
gun                           : 250 hours 12 months  :         : cart.gun                    :      : 30
boom                          : 250 hours 12 months  : 50 hours : cart.boom                  :      : 60
gauges                        : 12 months            :         :                             : part : 20
speed                         : 12 months            :         :                             :      : 30
catch-can @cans               : 12 months            :         :                             :      : 120
road-gear                     : 3 months             :         :                             :      : 30
wheel-nuts                    : 3 months             : 1 runs  :                             :      : 15
wheel-bearings                : 12 months            :         :                             :      : 60
turntable-bolts !             : 12 months            : 50 hours : turntable                  :      : 30
legs !                        : 12 months            :         :                             :      : 30
jack                          : 12 months            :         :                             :      : 15
oil-hoses                     : 12 months            :         : legs.hydraulic or jack.hydraulic : : 15
oil-hoses-renewed             : 72 months            :         : legs.hydraulic or jack.hydraulic : : 60
pto-shaft                     : 12 months            :         : pto                         :      : 15
hand-crank                    : 12 months            :         : crank                       :      : 5
engine-start @pre-start       : 1 runs               :         : drive.engine                :      : 5
engine-oil                    : 250 hours 12 months  : 50 hours : drive.engine               :      : 45
engine-air-filter             : 100 hours            :         : drive.engine                :      : 20
engine-fuel-filter            : 500 hours            :         : drive.engine                :      : 30
engine-belts                  : 250 hours            :         : drive.engine                :      : 20
engine-coolant                : 24 months            :         : drive.engine                :      : 60
engine-battery                : 12 months            :         : drive.engine                :      : 30
engine-clutch !               : 100 hours            : 20 hours : drive.engine               :      : 20
pump                          : 250 hours 12 months  :         : pump                        :      : 30
control-volts @pre-start      : 1 runs               :         : compensation.electronic     :      : 2
control                       : 12 months            :         : compensation.electronic     :      : 30
compensation-bar              : 100 hours            :         : compensation.mechanical     : SAFE : 10
guards-signs                  : 12 months            :         :                             :      : 20
backflow-device !             : 12 months            :         : injection                   :      : 30
first-aid                     : 12 months            :         :                             :      : 10
season-opening @season-opening : 12 months           :         :                             :      : 150
lay-up @lay-up                : 12 months            :         :                             :      : 210
"""
TABLE = [[one.strip() for one in line.split(":")] for line in ROWS.strip().splitlines()]
SAFE = {"water", "hose tension", "drum", "pto"}
PART = {"water", "drum", "pto"}


def interval(text: str) -> dict[str, int]:
    words = text.split()
    return {by: int(count) for count, by in zip(words[::2], words[1::2], strict=True)}


def test_the_shipped_plan_has_every_row_of_the_trade_and_no_other() -> None:
    assert [row[0].split()[0] for row in TABLE if row[0].split()[0] not in ITEMS] == []
    assert set(ITEMS) == {row[0].split()[0] for row in TABLE}


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row[0].split()[0])
def test_an_item_is_done_as_often_and_on_what_the_trade_says(row: list[str]) -> None:
    (id, *marks), every, first, needs, made_safe, minutes = row[0].split(), *row[1:]
    item = ITEMS[id]
    assert item["every"] == interval(every)
    assert item.get("first", {}) == interval(first)
    assert item.get("needs", []) == ([needs] if needs else [])
    assert bool(item.get("stop")) == ("!" in marks)
    assert item.get("done_by", "") == next((one[1:] for one in marks if one[0] == "@"), "")
    assert {"SAFE": SAFE, "part": PART, "": set()}[made_safe] <= set(item.get("isolate", []))
    assert item["minutes"] == int(minutes)
    assert item["part"] in PARTS


# 29 CFR 1928.57, DGUV Regel 113-020, WAC 16-202, Pennsylvania Vehicle Code 4529 and others, named in the item
SOURCED = {
    "gun", "gauges", "catch-can", "road-gear", "oil-hoses", "oil-hoses-renewed", "pto-shaft", "guards-signs",
    "backflow-device",
}  # fmt: skip


def test_each_item_names_its_source_or_says_that_it_has_none() -> None:
    assert {id for id, one in ITEMS.items() if one["source"] != COMMON} == SOURCED
    assert all(one["source"] for one in ITEMS.values())


# items that were one before: the former id, and those that took its work over
SPLIT = {
    "strainer": {"turbine", "bellows"},
    "pawl-and-brake": {"pawl", "drum-brake"},
    "engine-fuel-filter": {"engine-belts", "engine-battery"},
}


def test_what_was_split_off_keeps_the_history_of_the_item_before() -> None:
    former: dict[str, set[str]] = {}
    for id, one in ITEMS.items():
        for was in one.get("was", []):
            former.setdefault(was, set()).add(id)
    assert former == SPLIT

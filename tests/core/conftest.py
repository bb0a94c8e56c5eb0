"""What the tests of the physics share: the published rows, the shipped limits, one card that is known whole."""

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reelcare.core.machine.card import Card, read_card
from reelcare.core.settings.set_limits import SetLimits, read_set_limits


@pytest.fixture(scope="session")
def row() -> Callable[[str], dict[str, Any]]:
    """A published case by its id (tests/references/water-and-drum.json has each one's source)."""
    rows = {one["id"]: one for one in json.loads(Path("tests/references/water-and-drum.json").read_text("utf-8"))}
    return lambda id: rows[id]


@pytest.fixture(scope="session")
def limits() -> SetLimits:
    """The shipped limits of a set."""
    return read_set_limits(tomllib.loads(Path("checklists/set-limits.toml").read_text("utf-8")))


@pytest.fixture(scope="session")
def card() -> Card:
    """A machine of which everything is known; invented."""
    return read_card({
        "tag": "R1", "name": "Reel 1",
        "drum": {"core_diameter": "1.5 m", "coils_per_layer": 11, "layers": 6, "packing": 0.95},
        "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m", "material": "PE80"},
        "drive": {"kind": "turbine", "most_loss": "10 psi"},
        "compensation": {"kind": "electronic"},
        "cart": {"kind": "gun", "nozzle": "23.3 mm", "arc": 320, "mass": 600},
    })  # fmt: skip

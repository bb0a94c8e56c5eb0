"""Ids, canonical text, chained digests and hashed PINs, against published vectors (`tests/references/upkeep.json`)."""

import hashlib
import json
import math
import uuid
from pathlib import Path

import pytest

from reelcare.core import canonical_json
from reelcare.register.integrity import pins
from reelcare.register.integrity.ids import Ids

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}


def test_an_id_is_the_example_of_rfc_9562_for_its_moment_and_chance() -> None:
    told = ROWS["H24"]["expected"]
    # appendix A.6: 12 bits of chance before the variant, 62 after it
    chance = ((0xCC3 << 62) | 0x18C4DC0C0C07398F).to_bytes(10, "big")
    made = uuid.UUID(Ids(lambda size: chance[:size]).next(told["ms"]))
    # the first bit of chance stays clear here, so that there is room to count up within a millisecond
    assert made.int | (1 << 75) == uuid.UUID(told["uuid"]).int
    assert made.version == told["version"]


@pytest.mark.parametrize(
    ("id", "pin", "salt", "way"),
    [
        ("H17", "", b"", "scrypt:16:1:1"),
        ("H18", "password", b"NaCl", "scrypt:1024:8:16"),
        ("H19", "pleaseletmein", b"SodiumChloride", "scrypt:16384:8:1"),
    ],
)
def test_a_pin_is_hashed_as_rfc_7914_has_it(id: str, pin: str, salt: bytes, way: str) -> None:
    # section 12, of whose 64 bytes the first 32 are kept
    assert pins.hashed(pin, salt, way) == ROWS[id]["expected"][:64]


def test_the_sample_document_of_rfc_8785_is_that_of_the_row() -> None:
    document = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 1e-27],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    assert canonical_json.canonical(document) == ROWS["H25"]["expected"]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 2**53 + 1])
def test_a_number_that_no_json_keeps_is_refused(value: float) -> None:
    # row H28; 2**53 itself is the text of a fraction that can be kept, so what is refused begins one further
    assert ROWS["H28"]["expected"] == "error"
    with pytest.raises(ValueError, match=r"exact|nan|inf|number"):
        canonical_json.canonical([value])


def test_digests_are_chained_as_the_row_has_them() -> None:
    before, found = "0" * 64, []
    for entry in ({"seq": 1, "machine": "R1", "hours": 12.5}, {"seq": 2, "machine": "R1", "hours": 20}):
        before = hashlib.sha256(canonical_json.canonical({"prev": before, "rec": entry}).encode()).hexdigest()
        found.append(before)
    assert found == ROWS["H29"]["expected"]

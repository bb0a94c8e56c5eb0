"""The canonical text and the digest, against the published vectors of RFC 8785 and FIPS 180-4."""

import hashlib
import json
import struct
from collections.abc import Mapping
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.canonical_json import canonical
from reelcare.register.integrity import chain

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}


@pytest.mark.parametrize("id", ["H13", "H14", "H15"])
def test_sha256_gives_the_examples_of_fips_180_4(id: str) -> None:
    said = {
        "H13": b"abc",
        "H14": b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "H15": b"a" * 1_000_000,
    }
    assert hashlib.sha256(said[id]).hexdigest() == ROWS[id]["expected"]


def test_the_sample_document_of_rfc_8785_comes_out_to_the_letter() -> None:
    document = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    assert canonical(document) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_keys_are_ordered_by_utf_16_units_as_rfc_8785_section_3_2_3_has_it() -> None:
    keys = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(canonical(keys)).values()) == ROWS["H26"]["expected"]


def test_numbers_are_written_as_rfc_8785_appendix_b_has_them() -> None:
    hexes = [part.strip() for part in str(ROWS["H27"]["inputs"]).split(",")]
    expected = ROWS["H27"]["expected"]
    assert len(hexes) == len(expected) == 10
    for text, wanted in zip(hexes, expected, strict=True):
        (number,) = struct.unpack(">d", bytes.fromhex(text))
        assert canonical(number) == wanted


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53 + 1, 10**21, {"a": b"x"}, {1, 2}])
def test_what_has_no_one_text_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match=r"number|exactly|no place"):
        canonical(value)


def test_every_part_of_an_entry_changes_its_digest() -> None:
    whole: tuple[Any, ...] = ("", 1, "id", "run", "machine", 1, 2, "terminal", "person", "{}")
    others = ("x", 2, "it", "fault", None, 2, 3, "other", "nobody", "[]")
    seals = {chain.digest(*whole)}
    for place, other in enumerate(others):
        seals.add(chain.digest(*(*whole[:place], other, *whole[place + 1 :])))
    assert len(seals) == len(whole) + 1


def test_two_fields_cannot_pass_text_to_each_other() -> None:
    one = chain.digest("", 1, "id", "run", "ab", 1, 2, "t", "c", "{}")
    two = chain.digest("", 1, "id", "run", "a", 1, 2, "t", "bc", "{}")
    assert one != two


def test_the_digest_is_over_the_canonical_list() -> None:
    values = ('be"fore', 3, "id", "run", None, 1, 2, "t", "Zoë \\", '{"a":1}')
    text = canonical(list(values)).encode()
    assert chain.digest(*values) == hashlib.sha256(b"reelcare entry 1\n" + text).hexdigest()


words = st.text(max_size=5)
plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
    | words,
    lambda parts: st.lists(parts, max_size=3) | st.dictionaries(words, parts, max_size=3),
    max_leaves=6,
)  # fmt: skip
FIELDS = {
    Mapping[str, Any]: st.dictionaries(words, plain, max_size=3),
    Mapping[str, str]: st.dictionaries(words, words, max_size=3),
    datetime: st.datetimes(timezones=st.just(UTC)),
    int: st.integers(-(10**9), 10**9),
    int | None: st.none() | st.integers(-(10**9), 10**9),
    str: words,
}


def of_kind(kind: type[e.Kind]) -> st.SearchStrategy[e.Kind]:
    """Entries of a kind, with anything in their fields that may stand there."""
    every = get_type_hints(kind)
    hints = {one.name: every[one.name] for one in fields(kind)}  # type: ignore[arg-type]  # every kind is a dataclass
    return st.builds(
        kind, **{name: FIELDS[hint] if hint in FIELDS else st.from_type(hint) for name, hint in hints.items()}
    )


@given(st.one_of([of_kind(kind) for kind in e.KINDS.values()]))
def test_what_is_kept_of_any_kind_can_be_read_again(what: e.Kind) -> None:
    body = canonical(e.to_body(what))
    assert canonical(e.to_body(e.from_body(what.kind, json.loads(body)))) == body


@given(st.dictionaries(words, plain, max_size=5))
def test_a_table_has_the_same_text_whether_it_is_written_whole_or_part_by_part(table: dict[str, Any]) -> None:
    """A mapping that is no dict is always written part by part."""
    assert canonical(table) == canonical(MappingProxyType(table))
    assert canonical([*table.values()]) == canonical(tuple(table.values()))


@given(st.dictionaries(words, plain, max_size=5))
def test_the_text_says_what_was_written(table: dict[str, Any]) -> None:
    # a number of JSON is read as a double (RFC 8785, section 3.2.2.3)
    assert json.loads(canonical(table), parse_int=float) == table


@pytest.mark.parametrize("value", [float("nan"), 2**53 + 1, b"x"])
@pytest.mark.parametrize(
    "around", [lambda one: {"a": one}, lambda one: [one], lambda one: {"a": "x", "b": [{"c": one}]}]
)
def test_what_has_no_one_text_is_refused_wherever_it_stands(value: Any, around: Any) -> None:
    with pytest.raises(ValueError, match=r"not a number|exactly|no place"):
        canonical(around(value))

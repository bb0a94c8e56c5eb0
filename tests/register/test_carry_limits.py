"""A carry file is a stranger's file: what cannot be ends in one line that names file and place, before all else."""

import gzip
import hashlib
import json
import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import Damaged, RegisterError
from reelcare.register.exchange import carry_files, carry_format
from reelcare.register.integrity import chain
from reelcare.register.opening import open_writer
from reelcare.register.reading import foreign
from tests.core.entries.test_kinds import EXAMPLES

START = datetime(2026, 5, 1, 6, tzinfo=UTC)
AT = 1_777_615_200_000
MOST = 2**53 - 1
Made = tuple[str, str | None, dict[str, Any]]
"""Kind, machine, body."""


def forged(
    path: Path, made: Sequence[Made], *, ids: Callable[[int], str] = lambda at: f"id-{at:08}", person: str = "Bo",
    terminal: str = "forger", head: dict[str, Any] | None = None, ascii_only: bool = False,
) -> Path:  # fmt: skip
    """A carry file with a chain that is sealed as it must be, whatever it says."""
    return packed(path, chained(terminal, made, ids, person=person, ascii_only=ascii_only), terminal, head)


def chained(
    terminal: str, made: Sequence[Made], ids: Callable[[int], str], *, person: str = "Bo", ascii_only: bool = False
) -> list[list[Any]]:
    """A chain that is sealed as it must be; `ids` draws an id for each place."""
    rows, before = [], chain.GENESIS
    for place, (kind, machine, body) in enumerate(made, 1):
        text = json.dumps(body, ensure_ascii=ascii_only, sort_keys=True, separators=(",", ":"))
        sealed = (ids(place), kind, machine, AT, AT, terminal, person, text)
        before = chain.digest(before, place, *sealed)
        rows.append([*sealed, place, before])
    return rows


def packed(
    path: Path, rows: Sequence[Sequence[Any]], terminal: str = "forger", head: dict[str, Any] | None = None
) -> Path:
    """Rows as a carry file."""
    first = {"reelcare carry": 1, "schema": 1, "terminal": terminal, "made": AT, "entries": len(rows)} | (head or {})
    lines = b"".join(json.dumps(one).encode() + b"\n" for one in (first, *rows))
    end = json.dumps({"end": hashlib.sha256(lines).hexdigest()}).encode() + b"\n"
    path.write_bytes(gzip.compress(lines + end))
    return path


def refusal(path: Path) -> str:
    with pytest.raises(RegisterError) as told:
        carry_format.read(path)
    line = str(told.value)
    assert "\n" not in line
    assert "x.carry" in line
    assert line.isprintable()
    return line


def fault(says: str = "slips") -> Made:
    return ("fault", "m", {"part": "pawl", "says": says})


def test_a_forged_file_that_says_nothing_impossible_is_read(tmp_path: Path) -> None:
    assert len(carry_format.read(forged(tmp_path / "x.carry", [fault(), fault("a note\n\tof two lines")])).entries) == 2


def test_no_more_is_read_than_is_announced(tmp_path: Path) -> None:
    path = forged(tmp_path / "x.carry", [fault()] * 5, head={"entries": 3})
    assert "line 5: more than was announced" in refusal(path)
    path = forged(tmp_path / "x.carry", [fault()] * 50, head={"bytes": 3000})
    assert "line 18: more than was announced" in refusal(path)
    path = forged(tmp_path / "x.carry", [fault()] * 5, head={"entries": 9})
    assert "line 7: changed since it was written" in refusal(path)


@pytest.mark.long
def test_a_small_file_cannot_announce_a_large_content(tmp_path: Path) -> None:
    path = forged(tmp_path / "x.carry", [fault()], head={"bytes": 1 << 32})
    assert "line 1: larger than any carry file can be" in refusal(path)
    line = b'{"reelcare carry":1,"schema":1,"terminal":"a","made":0,"entries":5}\n'
    path.write_bytes(gzip.compress(line + b" " * (200 << 20)))
    assert "line 2: larger than any carry file can be" in refusal(path)


def test_what_is_announced_is_what_a_register_writes(tmp_path: Path) -> None:
    with open_writer(tmp_path / "r.db") as register:
        people.enrol(register, "Ánn", "supervisor", by="Ánn", now=START)
        carry_files.carry_out(register, tmp_path / "x.carry", now=START)
    lines = gzip.decompress((tmp_path / "x.carry").read_bytes()).splitlines(keepends=True)
    assert json.loads(lines[0])["bytes"] == sum(map(len, lines[1:-1]))
    assert (
        carry_format.read(tmp_path / "x.carry").digest
        == hashlib.sha256((tmp_path / "x.carry").read_bytes()).hexdigest()
    )


@pytest.mark.parametrize("number", [2**53, -(2**53), 10**400])
def test_a_number_that_is_not_exact_everywhere_is_refused(tmp_path: Path, number: int) -> None:
    for made in (("reading", "m", {"counter": "hours", "value": number}), ("card", "id-00000001", {"card": {
        "tag": "R1", "drum": {"layers": number}}})):  # fmt: skip
        assert "number beyond" in refusal(forged_raw(tmp_path / "x.carry", made[0], made[1], made[2]))


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_number_is_refused(tmp_path: Path, number: float) -> None:
    made = ("sheet", None, {"sheet": {"id": number}}), ("measured", "m", {"about": "x", "figures": {"a": number}})
    for one in made:
        assert "number beyond" in refusal(forged(tmp_path / "x.carry", [one]))


def test_a_fraction_beyond_all_bounds_is_refused(tmp_path: Path) -> None:
    body = '{"about":"x","figures":{"a":1e999}}'
    sealed = ("id-1", "measured", "m", AT, AT, "forger", "Bo", body)
    row = [*sealed, 1, chain.digest(chain.GENESIS, 1, *sealed)]
    assert "number beyond" in refusal(packed(tmp_path / "x.carry", [row]))


def forged_raw(path: Path, kind: str, machine: str | None, body: dict[str, Any]) -> Path:
    import sys

    before = sys.get_int_max_str_digits()
    sys.set_int_max_str_digits(0)
    try:
        return forged(path, [(kind, machine, body)])
    finally:
        sys.set_int_max_str_digits(before)


def test_counters_that_add_up_beyond_all_bounds_are_refused(tmp_path: Path) -> None:
    run = {"started": "2026-05-01T06:00:00.000Z", "ended": "2026-05-01T16:00:00.000Z", "metres": MOST}
    path = forged(tmp_path / "x.carry", [("run", "m", run)] * 1025)
    assert "the counters add up to more than is possible" in refusal(path)
    reading = {"counter": "hours", "value": MOST, "change": "rolled over", "rolls_at": MOST}
    path = forged(tmp_path / "x.carry", [("reading", "m", reading)] * 600)
    assert "513 of forger: the counters add up" in refusal(path)


def test_two_entries_of_one_id_are_refused(tmp_path: Path) -> None:
    path = forged(tmp_path / "x.carry", [fault(), fault("bent")], ids=lambda _: "the-same-id")
    assert "two entries with one id" in refusal(path)


def test_an_entry_of_an_id_that_is_here_already_is_refused(tmp_path: Path) -> None:
    with open_writer(tmp_path / "r.db") as register:
        ann = people.enrol(register, "Ann", "supervisor", by="Ann", now=START)
        bundle = carry_format.read(forged(tmp_path / "x.carry", [fault()], ids=lambda _: ann.id))
        with pytest.raises(Damaged, match=r"x\.carry: entry .* is here already, and says something else"):
            carry_files.carry_in(register, bundle, by="Ann", now=START + timedelta(hours=1))


@pytest.mark.parametrize("circle", [1, 2, 3])
def test_corrections_in_a_circle_are_refused(tmp_path: Path, circle: int) -> None:
    made = [("correction", None, {"entry": f"id-{at % circle + 1:08}", "why": "a slip"}) for at in range(1, circle + 1)]
    assert re.search(r"entry \S{8}: corrections in a circle", refusal(forged(tmp_path / "x.carry", made)))


@pytest.mark.parametrize("circle", [2, 3])
def test_a_circle_that_another_file_closes_is_refused(tmp_path: Path, circle: int) -> None:
    """What came in so could be carried out to nobody any more."""
    now = START + timedelta(hours=1)
    with open_writer(tmp_path / "r.db") as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=START)
        for at in range(circle):
            made = [("correction", None, {"entry": f"entry {(at + 1) % circle}", "why": "a slip"})]
            path = forged(tmp_path / "x.carry", made, ids=lambda _, at=at: f"entry {at}", terminal=f"t{at}")  # type: ignore[misc]
            bundle = carry_format.read(path)
            if at < circle - 1:
                carry_files.carry_in(register, bundle, by="Ann", now=now)
        with pytest.raises(Damaged, match="corrections in a circle"):
            carry_files.carry_in(register, bundle, by="Ann", now=now)


def test_entries_of_any_number_of_terminals_come_in_and_more_after_them(tmp_path: Path) -> None:
    now = START + timedelta(hours=1)
    with open_writer(tmp_path / "r.db") as register:
        people.enrol(register, "Ann", "supervisor", by="Ann", now=START)
        for first in (0, 70):
            names = [f"t{at}" for at in range(first, first + 70)]
            rows = [row for name in names for row in chained(name, [fault()], lambda _, name=name: name)]  # type: ignore[misc]
            bundle = carry_format.read(packed(tmp_path / "x.carry", rows))
            carry_files.carry_in(register, bundle, by="Ann", now=now)
        assert len(foreign.carried_in(register)) == 140
        assert [one.what.kind for one in foreign.own_entries(register)] == ["person"]


@pytest.mark.parametrize("name", ["é", "", "a b", "a~b", "a/b", "x" * 65, "a\x1b[2J", "a\u202eb"])
def test_an_odd_name_of_a_terminal_is_refused(tmp_path: Path, name: str) -> None:
    line = refusal(forged(tmp_path / "x.carry", [fault()], terminal=name, head={"terminal": "forger"}))
    assert "line 2" in line
    assert "line 1" in refusal(forged(tmp_path / "x.carry", [fault()], head={"terminal": name}))


@pytest.mark.parametrize("sign", ["\x1b", "\x07", "\x00", "\x9b", "\u202e", "\u2066", "\u200b", "\ufeff", "\x7f"])
@pytest.mark.parametrize("ascii_only", [True, False])
def test_a_character_that_steers_or_hides_is_refused_wherever_it_stands(
    tmp_path: Path, sign: str, *, ascii_only: bool
) -> None:
    path = tmp_path / "x.carry"
    bad = f"a{sign}b"
    cases: list[dict[str, Any]] = [
        {"made": [fault(bad)]},
        {"made": [("card", "id-00000001", {"card": {"tag": "R1", "name": bad}})]},
        {"made": [("set-up", "m", {"wishes": {bad: "1"}, "planned": {}})]},
        {"made": [fault()], "person": bad},
        {"made": [("fault", bad, {"part": "pawl", "says": "x"})]},
        {"made": [fault()], "ids": lambda _: bad},
    ]
    for case in cases:
        line = refusal(forged(path, case.pop("made"), ascii_only=ascii_only, **case))
        assert f"a character that steers a terminal or hides (U+{ord(sign):04X})" in line


def test_a_sign_that_only_a_newer_unicode_knows_comes_in_as_it_is(tmp_path: Path) -> None:
    """A tablet with a newer Python let it in; each Python knows the signs of its year, and one note stops no depot."""
    [one] = carry_format.read(forged(tmp_path / "x.carry", [fault("a\u0378b")])).entries
    assert "a\u0378b" in one.body
    assert "U+FFFF" in refusal(forged(tmp_path / "x.carry", [fault("a\uffffb")]))


ODD: tuple[Any, ...] = (None, -1, 1.5, True, "", "x" * 9000, [], {}, [[[1]]], {"a": {"b": [None]}}, "2026-13-45T99:00")


def test_an_odd_value_in_any_field_of_any_kind_is_read_or_ends_in_one_short_line(tmp_path: Path) -> None:
    bodies = {kind: e.to_body(one) for kind, one in EXAMPLES.items()}
    odd = [(kind, {**body, name: value}) for kind, body in bodies.items() for name in body for value in ODD]
    refused = 0
    for kind, body in Random(1).sample(odd, 150):
        path = forged(tmp_path / "x.carry", [(kind, "m", body)])
        try:
            carry_format.read(path)
        except RegisterError:
            refused += 1
            assert len(refusal(path)) < len(str(path)) + 300
    assert refused > 75


def test_every_kind_can_be_carried() -> None:
    """What a kind waits for is said by itself."""
    assert {cls.kind for cls in e.KINDS.values() if cls.by_person} == {
        "service", "measured", "set-up", "answer", "check ended", "gate signed", "repair",
        "note read", "near miss read", "instruction", "check begun", "field", "given", "lane order", "moved",
    }  # fmt: skip

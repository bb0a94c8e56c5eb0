"""Mutants change one place each, and are the same for the same seed; results that are there are gone on from."""

import ast
import json
import tomllib
from dataclasses import asdict
from pathlib import Path

import pytest

from tests import mutation
from tests.mutants import ROOT, chosen, mutants_of, parses
from tests.mutation import EQUIVALENT, MOST, Traced, asked_of, equivalent, lines_of, play

SOURCE = b'''
"""A text is left as it is."""
@dataclass(frozen=True)
class One:
    value: Literal[1] = 2

def half(a: int, b: float) -> bool:
    match a:
        case 3:
            raise ValueError(f"\xc3\xa4{a + 4}")
    if not a or b < 0.5:
        print("so")
        return a // b
    return True
'''


def test_each_kind_of_change_is_made_once_in_its_place() -> None:
    found = [one for one in mutants_of(SOURCE, "one.py") if parses(one, SOURCE)]
    assert [(one.line, one.becomes) for one in found] == [
        (5, "(2 + 1)"), (10, "pass"), (11, "(a)"), (11, "(not a and b < 0.5)"), (11, "(b <= 0.5)"), (11, "(0.5 + 1)"),
        (12, "pass"), (13, "return None"), (13, "(a * b)"), (14, "False"),
    ]  # fmt: skip
    for one in found:
        changed = one.applied(SOURCE).decode().splitlines()
        different = [number for number, line in enumerate(SOURCE.decode().splitlines()) if changed[number] != line]
        assert different == [one.line - 1]
        assert ast.dump(ast.parse(one.applied(SOURCE))) != ast.dump(ast.parse(SOURCE))
        assert one.becomes in one.difference(SOURCE)


def test_the_same_seed_chooses_the_same_and_another_one_others(tmp_path: Path) -> None:
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "one.py").write_bytes(SOURCE)
    first, again, other = (chosen(["room"], seed, 6, tmp_path) for seed in (1, 1, 2))
    assert first == again != other
    assert len(set(first)) == 6
    assert len(chosen(["room/one.py"], 1, 1000, tmp_path)) == 10


def test_the_lines_of_a_mutant_begin_with_its_statement() -> None:
    source = b"x = (\n    1\n    + 2\n)\nif x > (\n        3\n):\n    y = 4\n"
    found = {one.becomes: list(lines_of(one, source)) for one in mutants_of(source, "one.py")}
    assert found == {
        "(1 + 1)": [1, 2], "(1 - 2)": [1, 2, 3], "(2 + 1)": [1, 2, 3], "(x >= 3)": [5, 6, 7], "(3 + 1)": [5, 6],
        "(4 + 1)": [8],
    }  # fmt: skip


def traced(test: str, seconds: float, *lines: int, file: str = "reelcare/core/one.py") -> Traced:
    return Traced(test, seconds, frozenset([file]), frozenset((file, line) for line in lines))


def test_a_mutant_is_tried_by_the_tests_that_run_its_line_the_nearest_and_quickest_first() -> None:
    file = "reelcare/core/one.py"
    [mutant] = [one for one in mutants_of(SOURCE, file) if one.becomes == "(a * b)"]
    far, quick, near = (
        traced(f"t/test_{name}::x", time, 13) for name, time in (("a.py", 2), ("b.py", 1), ("one.py", 3))
    )
    elsewhere = traced("t/test_one.py::w", 0.1, 5)
    assert asked_of(mutant, SOURCE, [far, elsewhere, quick, near]) == [near, quick, far]
    slow = traced("t/test_a.py::v", MOST, 13)
    assert asked_of(mutant, SOURCE, [slow, quick]) == [quick]
    assert asked_of(mutant, SOURCE, [elsewhere]) == [elsewhere]
    assert asked_of(mutant, SOURCE, [traced("t/test_b.py::u", 1, 13, file="reelcare/core/two.py")]) == []


@pytest.mark.long
def test_a_mutant_that_a_doctest_sees_is_killed_by_it_and_survives_where_nobody_looks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mutation, "ROOMS", (("reelcare/core/hydraulics/drum.py",),))
    every = chosen(["reelcare/core/hydraulics/drum.py"], 1, 1000)
    seen = next(one for one in every if one.becomes == "return None")
    found = play([seen], tmp_path / "results.jsonl")
    assert found[seen].startswith("killed by reelcare/core/hydraulics/drum.py::")
    monkeypatch.setattr(mutation, "ROOMS", (("reelcare/core/text.py",),))
    assert play([seen], tmp_path / "others.jsonl") == {seen: "survived"}


def test_what_was_tried_is_not_tried_again(tmp_path: Path) -> None:
    mutants = chosen(["reelcare/core/units.py"], 1, 3)
    results = tmp_path / "results.jsonl"
    lines = [json.dumps({"mutant": asdict(one), "result": f"result {number}"}) for number, one in enumerate(mutants)]
    results.write_text("\n".join(lines), "utf-8")
    assert play(mutants[:2], results) == {mutants[0]: "result 0", mutants[1]: "result 1"}
    assert results.read_text("utf-8").splitlines() == lines


def test_every_known_equivalent_still_stands_where_it_is_said() -> None:
    for one in tomllib.loads(EQUIVALENT.read_text("utf-8")).get("mutant", []):
        source = (ROOT / one["file"]).read_bytes()
        places = [mutant for mutant in mutants_of(source, one["file"]) if equivalent(mutant)]
        assert len(one["because"]) > 10
        assert any(mutant.becomes == one["becomes"] for mutant in places), one

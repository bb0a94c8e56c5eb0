"""Mutants change one place each, and are the same for the same seed; results that are there are gone on from."""

import ast
import json
import tomllib
from dataclasses import asdict
from pathlib import Path

import pytest

from tests.mutants import ROOT, chosen, mutants_of, parses
from tests.mutation import EQUIVALENT, equivalent, play, stages

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


@pytest.mark.parametrize("file", ["reelcare/core/units.py", "reelcare/register/__init__.py"])
def test_the_nearest_tests_are_asked_first_and_each_place_is_there(file: str) -> None:
    asked = stages(file)
    assert asked[0][0] == file
    assert all((ROOT / word.removeprefix("--ignore=")).exists() for stage in asked for word in stage)
    assert asked[-1][-1] == "tests/cli"


def test_what_was_tried_is_not_tried_again(tmp_path: Path) -> None:
    mutants = chosen(["reelcare/core/units.py"], 1, 3)
    results = tmp_path / "results.jsonl"
    lines = [json.dumps({"mutant": asdict(one), "result": f"result {number}"}) for number, one in enumerate(mutants)]
    results.write_text("\n".join(lines), "utf-8")
    assert play(mutants[:2], results, 1) == {mutants[0]: "result 0", mutants[1]: "result 1"}
    assert results.read_text("utf-8").splitlines() == lines


def test_every_known_equivalent_still_stands_where_it_is_said() -> None:
    for one in tomllib.loads(EQUIVALENT.read_text("utf-8")).get("mutant", []):
        source = (ROOT / one["file"]).read_bytes()
        places = [mutant for mutant in mutants_of(source, one["file"]) if equivalent(mutant)]
        assert len(one["because"]) > 10
        assert any(mutant.becomes == one["becomes"] for mutant in places), one

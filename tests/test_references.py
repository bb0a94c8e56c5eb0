"""Every published row is named beside a check, or told as untried with the reason; none is both or forgotten.

A row counts as tried where a test names it: by its id, in the code or in the comment beside the figures, or by a list
of ids that is made by counting.
"""

import ast
import contextlib
import json
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

TESTS = Path(__file__).parent
FOLDER = TESTS / "references"
FILES = {path.stem: json.loads(path.read_text("utf-8")) for path in sorted(FOLDER.glob("*.json"))}
UNTRIED = tomllib.loads((FOLDER / "untried.toml").read_text("utf-8"))
OF_PHYSICS, OF_UPKEEP = r"\bH\d-\d{2,3}\b", r"\b[VIFCSROQH]\d\d\b"
FORMS = {"water-and-drum": OF_PHYSICS, "upkeep": OF_UPKEEP}


def named_in(source: str, form: str) -> Iterator[str]:
    """The ids that a test names, also those that it counts up."""
    yield from re.findall(form, source)
    if not re.search(r"\[\s*f[\"']", source):
        return  # no list of texts that are put together
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ListComp) and isinstance(node.elt, ast.JoinedStr):
            loop = node.generators[0]
            if (
                len(node.generators) == 1
                and isinstance(loop.iter, ast.Call)
                and getattr(loop.iter.func, "id", "") == "range"
            ):
                code = compile(ast.Expression(ast.fix_missing_locations(node)), "ids", "eval")
                with contextlib.suppress(NameError):  # a list of more than what is counted
                    made: list[Any] = eval(code, {"__builtins__": {"range": range}})
                    yield from (one for one in made if re.fullmatch(form, str(one)))


def tried(name: str) -> set[str]:
    """The ids of one file that some test names."""
    found: set[str] = set()
    for path in TESTS.rglob("test_*.py"):
        if path != Path(__file__):
            found.update(named_in(path.read_text("utf-8"), FORMS[name]))
    return found


@pytest.mark.parametrize("name", FILES)
def test_every_row_has_an_id_of_its_own_a_source_and_a_status(name: str) -> None:
    ids = Counter(row["id"] for row in FILES[name])
    assert [one for one, times in ids.items() if times > 1] == []
    assert {row["status"] for row in FILES[name]} == {"published", "computed", "from memory"}
    for row in FILES[name]:
        assert re.fullmatch(FORMS[name], row["id"])
        assert row["source"]


@pytest.mark.parametrize("name", FILES)
def test_every_row_is_tried_or_told_as_untried(name: str) -> None:
    ids = {row["id"] for row in FILES[name]}
    untried = [one for group in UNTRIED[name] for one in group["rows"]]
    here = tried(name) & ids
    assert sorted(untried) == sorted(ids - here)
    assert len(here) + len(untried) == len(FILES[name])
    assert all(len(group["because"]) > 20 for group in UNTRIED[name])


def test_ids_are_found_as_they_are_written_and_as_they_are_counted() -> None:
    source = 'A = [f"H3-{number:02}" for number in range(1, 6, 2)]\n# H4-12: by hand\nB = "H5-01"\nC = "H12-1"\n'
    assert sorted(named_in(source, OF_PHYSICS)) == ["H3-01", "H3-03", "H3-05", "H4-12", "H5-01"]

"""Every list on the demo estate as a person sees it: fitted to a narrow, a usual and a wide terminal.

The quick suite looks at the narrow one alone, where least fits.
"""

import re
import sys
from pathlib import Path
from typing import Any

import pytest

from reelcare.core.wording import cells, said
from reelcare.register import sheets
from tests.cli.conftest import ESTATE_AT, Cli, Said
from tests.cli.terminals import in_a_pipe, in_a_terminal

LISTS = (
    ("yard",), ("due",), ("plan",), ("may", "T02"), ("workload",), ("book", "T01"), ("people",), ("signals",),
    ("signals", "T09"), ("failures",), ("marks",), ("corrections",), ("due", "--all"), ("may", "T02", "--all"),
    ("workload", "--all"), ("machine",), ("may", "T02", "--to", "road"),
)  # fmt: skip
ASKED = [(*words, *ESTATE_AT) for words in LISTS]
SET_APART = re.compile(r"(?<=[0-9]) (?=[0-9]{3}\b)")
"""The blank that sets thousands apart."""
LARGE = re.compile(r"(?<![\w.-])[0-9]{4,}(?: (?:m|h|runs)\b|\.[0-9])")
"""An amount of thousands that are not set apart."""
PROGRESS = re.compile(r"\r[^\n]*\n?")
pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="pseudo-terminals of Linux")


@pytest.fixture(scope="module")
def environment(estate: Path) -> dict[str, str]:
    return {"REELCARE_REGISTER": str(estate), "TZ": "UTC", "TERM": "xterm"}


@pytest.fixture(scope="module")
def in_pipe(environment: dict[str, str]) -> dict[tuple[str, ...], str]:
    return dict(zip(LISTS, in_a_pipe(ASKED, environment), strict=True))


@pytest.fixture(scope="module", params=[40, *(pytest.param(wide, marks=pytest.mark.long) for wide in (80, 120))])
def shown(request: Any, environment: dict[str, str]) -> tuple[int, dict[tuple[str, ...], str]]:
    told = in_a_terminal(ASKED, request.param, environment)
    return request.param, dict(zip(LISTS, told, strict=True))


def lines(text: str) -> list[str]:
    """Line by line, with what a progress line says before it is written over."""
    return re.split("[\n\r]", text)


def words_of(text: str) -> set[str]:
    """The words, without progress, the blanks within figures, and what stands behind a word in a heading."""
    return {word.rstrip(",:;") for word in SET_APART.sub("", PROGRESS.sub("", text)).split()}


def short_words() -> set[str]:
    """The words of the short titles, which stand where there is no room for whole ones."""
    plan, _table = sheets.default_plan()
    titles = ["pre-start checks"] + [said(one.short) for one in sheets.machine_model().activities.values()]
    return words_of(" ".join([*titles, *(item.title("en").short for item in plan.items)]))


@pytest.mark.long
def test_no_line_is_longer_than_the_terminal(shown: Any) -> None:
    columns, told = shown
    for asked, text in told.items():
        assert max(map(cells, lines(text))) <= columns, asked


@pytest.mark.long
def test_no_word_is_broken(shown: Any, in_pipe: Any) -> None:
    columns, told = shown
    short = short_words() | {"Not", "shown", "in", str(columns), "columns", "…"}
    for asked, text in told.items():
        assert words_of(text) - words_of(in_pipe[asked]) <= short, asked


@pytest.mark.long
def test_thousands_are_set_apart_for_people_and_never_for_programs(shown: Any, in_pipe: Any) -> None:
    columns, told = shown
    for asked, text in told.items():
        assert not SET_APART.search(in_pipe[asked]), asked
        assert not LARGE.search(PROGRESS.sub("", text)), asked
    assert columns < 120 or all(SET_APART.search(told[asked,]) for asked in ("yard", "plan", "failures"))
    assert columns < 120 or all(LARGE.search(in_pipe[asked,]) for asked in ("yard", "plan", "failures"))


@pytest.mark.long
def test_nothing_sticks_out_of_the_narrowest_terminal_that_can_show_little(environment: dict[str, str]) -> None:
    poor = {**environment, "TERM": "dumb", "LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    for asked, text in zip(LISTS, in_a_terminal(ASKED, 20, poor), strict=True):
        assert text.isascii(), asked
        assert "\x1b" not in text, asked
        assert max(map(len, lines(text))) <= 20, asked


@pytest.fixture
def yard(cli: Cli, estate: Path) -> Cli:
    return lambda *words: cli(*words, *ESTATE_AT, "--register", str(estate))


def rows(told: Said) -> int:
    return len(told.out.splitlines()) - 1


def test_a_book_shows_the_newest_and_counts_the_rest(yard: Cli) -> None:
    whole = yard("book", "T01", "--json").json
    first, everything = yard("book", "T01"), yard("book", "T01", "--all")
    assert rows(first) == 50 < rows(everything) == len(whole)
    assert first.err == f"{len(whole) - 50} older entries: --all shows them\n"
    assert everything.out.splitlines()[50].split() == first.out.splitlines()[50].split()
    few = yard("book", "T01", "--most", "3", "--all")
    assert (rows(few), few.err, everything.err) == (3, "", "")
    runs = [one for one in whole if one["kind"] == "run"]
    some = yard("book", "T01", "--kind", "run")
    left_out = int(some.err.split()[0]) if some.err else 0
    assert rows(some) + left_out == len(runs)


def test_a_plan_leaves_out_what_each_check_does_anyway_and_counts_it(yard: Cli) -> None:
    items = yard("plan", "--json").json["items"]
    shown, everything = yard("plan"), yard("plan", "--all")
    each_time = {one["id"] for one in items if one.get("done_by") and one["every"] == {"runs": 1}}
    assert each_time == {"end-stop", "walk-round", "engine-start", "control-volts"}
    listed = {line.split()[-1] for line in shown.out.splitlines()[1:]}
    assert listed == {one["id"] for one in items} - each_time
    assert shown.err == "4 more are done at each check: --all shows them\n"
    assert (rows(everything), everything.err) == (len(items), "")

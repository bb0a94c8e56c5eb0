"""Every text of every report for people goes through the catalogues: in the pseudo language nothing else stands on its
pages than names, figures, and what the register, sheets, plans and tables say themselves.

Pages are read as HTML; a PDF is laid out from the same document. The columns of CSV are for programs, and English.
The page of a night is looked at in `test_night.py`.
"""

import csv
from pathlib import Path

import pytest

from reelcare.cli.plan.commands import REPORT
from reelcare.register.opening import open_reader
from tests.cli.conftest import ESTATE_AT, Cli
from tests.pseudo import OPENS, Pseudo
from tests.words import of_tables, of_the_register, read_on, untranslated

SPAN = ("--from", "2026-04-01", "--until", "2026-07-01")
NOW: tuple[str, ...] = ()
PAGES = {
    ("machine", "T02"): ESTATE_AT, ("machine", "T01"): ESTATE_AT, ("due",): ESTATE_AT, ("due", "--all"): ESTATE_AT,
    ("workload",): ESTATE_AT, ("list",): ESTATE_AT, ("season",): SPAN, ("water",): SPAN, ("check", "T02"): NOW,
    ("blank", "T01"): NOW,
}  # fmt: skip
TABLES = {"due": ESTATE_AT, "workload": ESTATE_AT, "list": ESTATE_AT, "water": SPAN}
ELSEWHERE = {"night", "tag"}
"""Reports that are tried in another file, or have no sentence."""
pytestmark = pytest.mark.long


@pytest.mark.parametrize("words", PAGES, ids=" ".join)
def test_nothing_on_a_page_is_outside_the_catalogues(
    words: tuple[str, ...], cli: Cli, estate: Path, tmp_path: Path, pseudo: Pseudo
) -> None:
    path, (kind, *rest) = tmp_path / "out.html", words
    where = [*rest, str(path)] if rest != ["--all"] else [str(path), *rest]
    told = cli("report", kind, *where, *PAGES[words], "--register", str(estate))
    assert told.code == 0, told.err
    text = read_on(path.read_text("utf-8"))
    with open_reader(estate) as register:
        known = of_tables() | {*of_the_register(register)}
    found = untranslated(text, known)
    assert found == [], [line for line in text.splitlines() if any(word in line for word in found)]
    assert OPENS in text


def test_every_report_is_looked_at() -> None:
    assert {one.name for one in REPORT} == {words[0] for words in PAGES} | ELSEWHERE


@pytest.mark.parametrize("kind", TABLES)
def test_columns_for_programs_are_english_in_every_language(
    kind: str, cli: Cli, estate: Path, tmp_path: Path, pseudo: Pseudo
) -> None:
    path = tmp_path / f"{kind}.csv"
    assert cli("report", kind, str(path), *TABLES[kind], "--register", str(estate)).code == 0
    heads = next(csv.reader(path.read_text("utf-8-sig").splitlines()))
    assert "machine" in heads
    assert not any(OPENS in head for head in heads)

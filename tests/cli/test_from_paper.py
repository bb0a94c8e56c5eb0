"""A check on paper: printed on the sides of one sheet, and entered as one form."""

import io
import re
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pypdf
import pytest

from reelcare.core.checks.sheet import for_machine, left_out
from reelcare.core.checks.verdict import Walk
from reelcare.core.machine.card import Card, read_card
from reelcare.core.wording import said
from reelcare.register import sheets
from reelcare.reports import pdf
from reelcare.reports.blank import BOX, blank
from reelcare.reports.blocks import Document, Table, table

AT = datetime(2026, 5, 1, 6, 30, tzinfo=UTC)
KINDS = [
    (drive, legs, cart, compensation)
    for drive in ("turbine", "engine")
    for legs, cart in (("hydraulic", "gun"), ("cranked", "boom"))
    for compensation in ("electronic",)
]


def card_of(drive: str, legs: str, cart: str, compensation: str) -> Card:
    return read_card(
        tomllib.loads(f"""
        tag = "R1"
        name = "Long Reach"
        [hose]
        length = "400 m"
        [legs]
        kind = "{legs}"
        [drive]
        kind = "{drive}"
        [cart]
        kind = "{cart}"
        [compensation]
        kind = "{compensation}"
        [equipment]
        injection = true
    """)
    )


def form(
    card: Card, language: str = "en", sheet: str = "pre-start", held: tuple[str, ...] = ()
) -> tuple[Walk, Document]:
    walk = Walk(for_machine(sheets.load().by_id[sheet], card), AT, (), card, {}, language)
    return walk, blank(walk, "0" * 36, (), "metric", "made 2026-05-01 06:30", held)


@pytest.mark.parametrize("kinds", KINDS)
def test_a_blank_has_every_question_of_the_machine_with_its_boxes_caution_and_gate(kinds: Any) -> None:
    walk, found = form(card_of(*kinds))
    (rows,) = [one.rows for one in found.blocks if isinstance(one, Table)]
    asked = [row for row in rows if len(row) == 3 and row[0]]
    assert len(asked) == len(walk.sheet.questions)
    for row, question in zip(asked, walk.sheet.questions, strict=True):
        assert said(question.ask) in row[1]
        assert row[0].endswith("!") == question.can_hold
        assert not question.caution or said(question.caution) in row[1]
        assert row[2].count(BOX) == len(question.choices) + question.cannot_read
    titles = [row[0] for row in rows if len(row) == 1]
    assert titles == ["MAY PULL OUT", "MAY OPEN THE WATER", "MAY BE LEFT RUNNING"]
    assert sum(row[2].startswith("name ") for row in rows if len(row) == 3) == 3


@pytest.mark.long
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_a_blank_stays_on_one_sheet(language: str, sheet: Any) -> None:
    card = card_of("engine", "hydraulic", "gun", "electronic")
    data = pdf.lay_out(form(card, language)[1], AT, sheet)
    assert data.count(b"/Type /Page\n") <= 2, "the sides of one sheet"
    wide = {"a4": b"595.28", "letter": b"612"}[sheet]
    assert wide in data.split(b"/MediaBox", 1)[1][:60]


def right_lines(farm: Any) -> list[str]:
    """What is typed to answer the pre-start of the farm's machine right, and to sign each gate."""
    from tests.cli.conftest import CARD
    from tests.cli.test_cli import line_for

    sheet = for_machine(sheets.load().by_id["pre-start"], read_card(tomllib.loads(CARD)))
    times = iter(["done", "done 00:25", "DONE 00:50"])
    found = []
    for gate in sheet.gates:
        found += [line_for(one) for one in sheet.questions if sheet.gate_of(one.id) == gate]
        found.append(next(times))
    return found


def test_a_paper_is_entered_as_one_form_and_marked_in_the_book(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(right_lines(farm))
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    day = (datetime.now(UTC) - timedelta(days=2)).replace(hour=23, minute=50, second=0, microsecond=0)
    told = farm("check", "R1", "--from-paper", "--at", day.isoformat(), "--by", "Olav")
    assert told.code == 0
    assert told.out.endswith("Complete.\n")
    assert "CAUTION" not in told.out, "what stands on the paper is not told again"
    book = farm("book", "R1", "--json").json
    marked = {one["kind"] for one in book if one["body"].get("from_paper")}
    assert marked == {"answer", "gate signed", "check ended"}
    ended = next(one for one in book if one["kind"] == "check ended")
    assert datetime.fromisoformat(ended["happened"]) == day + timedelta(hours=1)
    assert "from paper" in ended["says"]


def test_the_record_of_a_check_tells_who_signed_which_gate_and_on_which_day(
    farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = iter(right_lines(farm)[:-1])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed, ""))
    day = (datetime.now(UTC) - timedelta(days=2)).replace(hour=23, minute=50, second=0, microsecond=0)
    assert farm("check", "R1", "--from-paper", "--at", day.isoformat(), "--by", "Olav").code == 0
    path = tmp_path / "check.html"
    assert farm("report", "check", "R1", str(path)).code == 0
    rows = [re.sub(r"<[^>]*>", "|", row) for row in path.read_text("utf-8").split("<tr>")]
    told = {cells[1]: cells[5:10:2] for cells in (row.split("|") for row in rows) if cells[1].startswith("may ")}
    assert told == {
        "may pull out": ["signed", "Olav", "23:50:00"],
        "may open the water": ["signed", "Olav", f"{day + timedelta(days=1):%Y-%m-%d} 00:25:00"],
        "may be left running": ["not signed", "", ""],
    }


def test_a_blank_and_what_is_asked_for_it_name_the_sheet_whose_figures_they_mean(
    farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builtins.input", lambda _="": "")
    path = tmp_path / "blank.html"
    assert farm("report", "blank", "R1", str(path)).code == 0
    (named,) = re.findall(r"sheet (pre-start [0-9a-f]{4});", path.read_text("utf-8"))
    day = (datetime.now(UTC) - timedelta(days=2)).isoformat()
    assert f"Sheet {named}." in farm("check", "R1", "--from-paper", "--at", day, "--by", "Olav").out
    sheet = sheets.load().by_id["pre-start"]
    stage = sheet.stages[0]
    first = stage.questions[0]._replace(choices=stage.questions[0].choices[::-1])
    turned = replace(sheet, stages=(stage._replace(questions=(first, *stage.questions[1:])), *sheet.stages[1:]))
    assert turned.on_paper != sheet.on_paper, "the same figure is another answer"


def test_a_hold_that_came_after_a_paper_is_told_with_it(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(right_lines(farm))
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    day = (datetime.now(UTC) - timedelta(days=2)).replace(hour=23, minute=50, second=0, microsecond=0)
    later = (day + timedelta(hours=5)).isoformat()
    fault = ("log", "fault", "R1", "hose", "--says", "bulge at the coupling", "--hold", "--at", later, "--by", "Olav")
    assert farm(*fault).code == 0
    told = farm("check", "R1", "--from-paper", "--at", day.isoformat(), "--by", "Olav")
    assert told.code == 1
    assert told.out.endswith("Complete.\nHELD (machine): hose: bulge at the coupling (to be repaired)\n")


def road_lines(*, lights: str) -> list[str]:
    """What is typed to answer the road check of the farm's machine right, but for its lights, and to end the paper."""
    from tests.cli.conftest import CARD

    sheet = sheets.load().by_id["road"]
    found: list[str] = []
    for one in sheet.questions:
        if one.id in left_out(sheet, read_card(tomllib.loads(CARD))):
            continue
        right = next(choice.id for choice in one.choices if choice.right)
        seen = lights if one.id == "lights" else right
        found.append(str([choice.id for choice in one.choices].index(seen) + 1))
        if one.id == "lights" and lights == "none":
            return [*found, "HOLD"]
    return [*found, "done"]


@pytest.mark.parametrize(("lights", "later"), [("none", False), ("work", True), ("work", False)])
def test_a_paper_of_the_road_tells_what_holds_for_the_road(
    farm: Any, monkeypatch: pytest.MonkeyPatch, lights: str, later: bool
) -> None:
    typed = iter(road_lines(lights=lights))
    monkeypatch.setattr("builtins.input", lambda _="": next(typed, ""))
    day = (datetime.now(UTC) - timedelta(days=2)).replace(microsecond=0)
    if later:
        fault = ("log", "fault", "R1", "lights", "--says", "dark", "--hold", "road", "--by", "Olav")
        assert farm(*fault).code == 0
    told = farm("check", "R1", "road", "--from-paper", "--at", day.isoformat(), "--by", "Olav")
    assert told.code == (1 if later or lights == "none" else 0), told.out
    assert told.out.endswith("HELD (machine): lights: dark (to be repaired)\n") is later


def test_a_paper_takes_the_time_at_which_it_was_filled_in(farm: Any) -> None:
    told = farm("check", "R1", "--from-paper", "--by", "Olav")
    assert told.code == 2
    assert "--at" in told.err


def test_a_paper_of_which_nothing_is_entered_writes_nothing(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("builtins.input", lambda _="": "")
    before = farm("book", "R1", "--json").json
    now = datetime.now(UTC).isoformat()
    assert farm("check", "R1", "--from-paper", "--at", now, "--by", "Olav").code == 0
    assert farm("book", "R1", "--json").json == before


def test_a_signature_in_the_future_is_told_at_once_and_loses_nothing_of_the_paper(
    farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = right_lines(farm)
    first = lines.index("done")
    typed = iter([*lines[:first], f"done {datetime.now(UTC) + timedelta(minutes=20):%H:%M}"])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    at = datetime.now(UTC) - timedelta(minutes=10)
    told = farm("check", "R1", "--from-paper", "--at", at.isoformat(), "--by", "Olav")
    assert "lies in the future" in told.out
    assert "Nothing is written" not in told.out
    kept = [one["kind"] for one in farm("book", "R1", "--json").json]
    assert kept.count("answer") == first
    assert "gate signed" not in kept


def test_answers_in_lines_happen_when_the_command_says(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["1", "1", ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    at = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
    farm("check", "R1", "--at", at.isoformat(), "--by", "Olav")
    answers = [one for one in farm("book", "R1", "--json").json if one["kind"] == "answer"]
    assert len(answers) == 2
    assert {datetime.fromisoformat(one["happened"]) for one in answers} == {at}


@pytest.mark.parametrize("more", [(), ("--from-paper",)])
def test_a_check_at_a_time_that_cannot_be_is_refused_before_the_first_question(
    farm: Any, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...]
) -> None:
    monkeypatch.setattr("builtins.input", lambda _="": pytest.fail("nothing is asked"))
    before = farm("book", "R1", "--json").json
    for at, why in (((datetime.now(UTC) + timedelta(days=2)).isoformat(), "lies in the future"),
                    ("1990-01-01", "is before the machine's beginning")):  # fmt: skip
        told = farm("check", "R1", "--at", at, "--by", "Olav", *more)
        assert (told.code, told.out) == (2, "")
        assert why in told.err
    assert farm("book", "R1", "--json").json == before


def test_going_on_with_a_check_at_a_time_that_cannot_be_is_refused(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["1", ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    farm("check", "R1", "--by", "Olav")
    told = farm("check", "R1", "--at", (datetime.now(UTC) + timedelta(days=2)).isoformat(), "--by", "Olav")
    assert told.code == 2
    assert "lies in the future" in told.err


def test_a_blank_is_written_for_a_machine_and_for_no_sheet_that_it_has_not(farm: Any, tmp_path: Path) -> None:
    assert farm("report", "blank", "R1", str(tmp_path / "r1.html")).code == 0
    page = (tmp_path / "r1.html").read_text("utf-8")
    assert "MAY PULL OUT" in page
    assert "<svg class=code" in page
    refused = farm("report", "blank", "R1", str(tmp_path / "x.pdf"), "--sheet", "rod")
    assert refused.code == 2
    assert "road" in refused.err


def test_a_blank_says_what_holds_the_machine_and_what_is_to_be_known(farm: Any, tmp_path: Path) -> None:
    farm("log", "note", "R1", "--says", "gate at the ford is shut", "--by", "Tove")
    farm("log", "fault", "R1", "hose", "--says", "bulge at the coupling", "--hold", "run", "--by", "Olav")
    told = {}
    for sheet in ("pre-start", "road", "weekly-shop"):
        path = tmp_path / f"{sheet}.html"
        assert farm("report", "blank", "R1", str(path), "--sheet", sheet).code == 0
        told[sheet] = path.read_text("utf-8")
    assert "HELD (machine): hose: bulge at the coupling (to be repaired)." in told["pre-start"]
    assert "no gate can be signed while this holds" in told["pre-start"]
    assert "gate at the ford is shut" in told["pre-start"]
    assert not any("HELD" in told[sheet] for sheet in ("road", "weekly-shop")), "it holds for a run"


def test_a_blank_says_in_which_unit_the_counter_of_metres_is_written_down(farm: Any, tmp_path: Path) -> None:
    for units, counter in (("us", "metre counter ............ ft"), ("metric", "metre counter ............ m;")):
        path = tmp_path / f"{units}.html"
        assert farm("report", "blank", "R1", str(path), "--units", units).code == 0
        assert counter in path.read_text("utf-8")


@pytest.mark.long
@pytest.mark.parametrize("sheet", ["pre-start", "road"])
def test_a_blank_is_written_as_a_pdf(farm: Any, tmp_path: Path, sheet: str) -> None:
    assert farm("report", "blank", "R1", str(tmp_path / "r1.pdf"), "--sheet", sheet).code == 0
    assert (tmp_path / "r1.pdf").read_bytes().startswith(b"%PDF-")


def sizes_of(data: bytes) -> list[set[float]]:
    """How large the letters of each page are [points]."""
    pages = []
    for one in pypdf.PdfReader(io.BytesIO(data)).pages:
        found: set[float] = set()

        def keep(text: str, _page: Any, _line: Any, _font: Any, size: float, found: set[float] = found) -> None:
            found |= {size} if text.strip() else set()

        one.extract_text(visitor_text=keep)
        pages.append(found)
    return pages


@pytest.mark.long
def test_the_letters_of_a_blank_are_as_large_as_its_sides_bear(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the machine with the most questions, held and with a long note: it is read in rain and by a lamp."""
    tried: dict[float, int] = {}
    lay = pdf._laid_out

    def noted(report: Document, made: datetime, sheet: Any, scale: float) -> Any:
        paper = lay(report, made, sheet, scale)
        tried[scale] = paper.page_no()
        return paper

    monkeypatch.setattr(pdf, "_laid_out", noted)
    held = ("HELD (machine): " + "the spring of the pawl is gone " * 9, "note, Mara: " + "the valve weeps\n" * 9)
    data = pdf.lay_out(form(card_of("engine", "hydraulic", "gun", "electronic"), held=held)[1], AT)
    one, other = sizes_of(data)
    assert min(one | other) >= pdf.SMALL
    larger = max(one) / 15
    assert [pages for scale, pages in sorted(tried.items()) if scale > larger][:1] in ([], [3])
    assert larger > 1


def test_a_form_of_few_questions_is_one_side_in_large_letters() -> None:
    (sizes,) = sizes_of(pdf.lay_out(form(card_of("turbine", "hydraulic", "gun", "electronic"), sheet="road")[1], AT))
    assert min(sizes - {pdf.SMALL}) >= pdf.FORM * 1.1


def test_a_question_that_is_taller_than_a_column_goes_on_in_the_next_one() -> None:
    """It ran over the foot of the paper, and what stood there was lost."""
    words = [f"word{number}" for number in range(1500)]
    rows = [("1", "Short.", "seen"), ("2 !", " ".join(words[:900]), " ".join(words[900:])), ("3", "Last.", "seen")]
    told = Document(
        "R1", "", (replace(table(("no.", "q", "seen"), rows), to_fill_in=True),), close=True, code=((True,),)
    )
    lowest, found = [], list[str]()
    for one in pypdf.PdfReader(io.BytesIO(pdf._laid_out(told, AT, "a4", 1.0).output())).pages:
        heights = list[float]()

        def keep(text: str, _page: Any, line: Any, _font: Any, size: float, heights: list[float] = heights) -> None:
            if text.strip() and size >= pdf.FORM:  # the foot is set smaller
                heights.append(line[5])

        found += re.findall(r"word\d+", one.extract_text(visitor_text=keep))
        lowest.append(min(heights))
    assert found == words
    assert len(lowest) > 1
    assert min(lowest) > 9 / 25.4 * 72, "nothing stands in the foot"


def test_nobody_is_asked_a_question_who_may_not_answer_it(farm: Any) -> None:
    told = farm("check", "R1", "--by", "Nemo")
    assert (told.code, told.out) == (6, "")
    assert "not enrolled here" in told.err


def test_a_check_is_not_gone_on_with_as_of_before_its_last_answer(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing would count that is answered then, and each question would be asked for ever."""
    at, lines = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1), right_lines(farm)[:3]
    typed = iter([*lines, "", lines[2], ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    farm("check", "R1", "--at", at.isoformat(), "--by", "Olav")
    farm("check", "R1", "--at", (at + timedelta(minutes=9)).isoformat(), "--by", "Olav")
    monkeypatch.setattr("builtins.input", lambda _="": pytest.fail("nothing is asked"))
    told = farm("check", "R1", "--at", (at + timedelta(minutes=4)).isoformat(), "--by", "Olav")
    assert (told.code, told.out) == (2, "")
    assert f"has an answer of {at + timedelta(minutes=9):%Y-%m-%d %H:%M:%S}" in told.err

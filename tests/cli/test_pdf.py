"""Reports as PDF, read back with pypdf, a library that did not write them."""

import io
import re
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pypdf
import pytest

from reelcare import installation
from reelcare.core.clean import clean
from reelcare.reports import day_list, page, pdf
from reelcare.reports.blocks import Bars, Columns, Document, Heading, Paragraph, Signatures, pairs, stamp, table

ROOT = Path(__file__).parent.parent.parent
MADE = datetime(2026, 7, 1, 9, tzinfo=UTC)
SIGNS = "é ł ñ ß Ž ő ▲ ► ■ ✓ ✗ ≥ − × µ Ω → …"
HOSTILE = ["**bold** __x__ --y--", "[link](http://x)", "<b>x</b> & </td>", "\x1b[2J\u202ex", "(a) \\ Tj", "=1+1"]


def pages_of(data: bytes) -> list[str]:
    return [one.extract_text() for one in pypdf.PdfReader(io.BytesIO(data)).pages]


def text_of(data: bytes) -> str:
    return " ".join(pages_of(data))


def bare(text: str) -> str:
    """A text without blanks and line ends: where it was wrapped is the page's affair."""
    return re.sub(r"\s", "", text)


def full() -> Document:
    long = "a long remark about the hose, which wraps over several lines of its cell " * 6
    book = [("2026-05-01", "run", text) for text in [*HOSTILE, long] * 12]
    weeks = tuple((f"w{week}", float(week)) for week in range(30))
    return Document(
        "Record of R1", "Long Reach",
        (
            Paragraph(SIGNS), Paragraph("held", "bad"), Paragraph("", "small"), Heading("Particulars"),
            pairs([("name", "Łódź ✓"), ("note", long)]),
            table(("when", "what", "says"), book, numbers=(1,)),
            table(("empty",), []), Bars((("R1", 12.0, "12 h"), ("R2", 0.0, "0 h"))), Bars(()),
            Columns(weeks), Columns(()), Signatures(("Olav", "seen by")),
        ),
    )  # fmt: skip


@pytest.mark.long
def test_everything_on_the_page_is_in_the_pdf() -> None:
    told = bare(text_of(pdf.lay_out(full(), MADE)))
    for sign in SIGNS.split():
        assert sign in told
    for text in [*HOSTILE, "Łódź ✓", "Record of R1", "Long Reach", "12 h", "seen by", "none"]:
        assert bare(clean(text, lines=True)) in told
    reader = pypdf.PdfReader(io.BytesIO(pdf.lay_out(full(), MADE)))
    assert len(reader.pages) > 2
    assert f"{len(reader.pages)}/{len(reader.pages)}" in bare(reader.pages[-1].extract_text())
    assert reader.metadata is not None
    assert reader.metadata.title == "Record of R1"


def test_each_page_says_which_report_of_when_it_is() -> None:
    told = stamp(MADE, MADE - timedelta(days=30), demo=True)
    title = "Record of R1, " + "of the long reach " * 6
    report = Document(title, "Long Reach", (Paragraph("\n".join(["book"] * 80)),), stamp=told)
    pages = pages_of(pdf.lay_out(report, MADE))
    assert len(pages) == 2
    for number, text in enumerate(pages, 1):
        foot = text.splitlines()[-1]
        assert foot.startswith("Record of R1")
        assert foot.endswith(f"{told}   {number} / 2")
    assert told == "DEMO: machines and people are invented; as it stood at 2026-06-01 09:00; made 2026-07-01 09:00"


def test_a_heading_is_not_parted_from_the_first_row_under_it() -> None:
    rows = [
        ("2026-05-01", "hose", "a remark on a fault that takes several lines of its cell, as people write them " * 3)
    ]
    for lines in (49, 50):  # what is above leaves room for the heading, and not for the row
        above = Paragraph("\n".join(["book"] * lines))
        report = Document("x", "", (above, Heading("Faults"), table(("since", "part", "what is wrong"), rows)))
        (there,) = [text for text in pages_of(pdf.lay_out(report, MADE)) if "Faults" in text]
        assert "2026-05-01" in there


def test_the_fonts_are_in_it_and_nothing_in_it_acts() -> None:
    reader = pypdf.PdfReader(io.BytesIO(pdf.lay_out(full(), MADE)))
    for one in reader.pages:
        assert "/Annots" not in one
        resources: Any = one["/Resources"]
        for font in resources["/Font"].values():
            descendant = font.get_object()["/DescendantFonts"][0].get_object()
            assert "/FontFile2" in descendant["/FontDescriptor"].get_object()
    assert "/JavaScript" not in str(reader.root_object)


def test_a_sign_that_the_font_has_not_is_written_in_another_way() -> None:
    data = pdf.lay_out(Document("水", "", (Paragraph("a水b, 12 ㎥, ﬃ"), table(("x",), [("水",)]))), MADE)
    told = bare(text_of(data))
    assert "\N{REPLACEMENT CHARACTER}" not in told
    assert "a[U+6C34]b,12m3,ffi" in told  # the number is the one of the Unicode standard


def test_the_font_has_every_sign_of_the_languages() -> None:
    import fpdf

    paper = fpdf.FPDF()
    has = pdf._furnish(paper, "x", "en", MADE)
    used = {sign for file in ROOT.glob("reelcare/locale/*/*/*.po") for sign in file.read_text("utf-8")}
    used |= {sign for file in ROOT.glob("checklists/*.toml") for sign in file.read_text("utf-8")}
    # a line end, and the key of a keyboard, which stands on no paper
    missing = {sign for sign in used if not has(sign)}
    font: Any
    for font in paper.fonts.values():
        font.ttfont.close()
    assert missing <= {"\u21b5"}


def test_a_word_that_is_longer_than_the_page_is_broken() -> None:
    word = "w" * 400
    data = pdf.lay_out(Document("x", "", (Paragraph(word), table(("a", "b"), [(word, "end")]))), MADE)
    assert bare(text_of(data)).count("w") == 800
    edges: list[float] = []
    for one in pypdf.PdfReader(io.BytesIO(data)).pages:
        one.extract_text(visitor_text=lambda text, page, line, *_: edges.append(len(text)))
    assert max(edges) < 200


def test_long_words_in_several_columns_leave_room_for_the_box_to_tick() -> None:
    word = "W" * 40
    rows = [(day_list.BOX, "held", word, word, word, word, word)]
    heads = ("", "state", "machine", "place", "what", "due at", "left")
    told = text_of(pdf.lay_out(Document("Work list", "", (table(heads, rows),)), MADE))
    assert "[  ]" in told.replace("\N{NO-BREAK SPACE}", " ")
    assert bare(told).count("W") == 202  # those of the title, too


@pytest.mark.long
def test_the_same_report_has_the_same_pages() -> None:
    one, two = (text_of(pdf.lay_out(full(), MADE)) for _ in range(2))
    assert one == two


def test_a_record_is_the_same_on_the_page_and_in_the_pdf(farm: Any, tmp_path: Path) -> None:
    farm("log", "fault", "R1", "pawl", "--says", "spring gone — ž ✓", "--hold", "run", "--by", "Olav")
    for ending in (".html", ".pdf"):
        assert farm("report", "machine", "R1", str(tmp_path / f"r{ending}")).code == 0
    told = bare(text_of((tmp_path / "r.pdf").read_bytes()))
    html = (tmp_path / "r.html").read_text("utf-8")
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", html)
    assert len(cells) > 60
    for cell in cells:
        assert bare(cell.replace("&amp;", "&").replace("&#x27;", "'").replace("&quot;", '"')) in told
    digest = farm("prove", "--json").json["heads"][0]["digest"]
    assert digest in told


@pytest.mark.parametrize(("units", "wide"), [("metric", 595), ("us", 612)])
def test_a_report_has_the_size_of_paper_that_goes_with_the_units(
    farm: Any, tmp_path: Path, units: str, wide: int
) -> None:
    for words in (("due",), ("water",), ("machine", "R1")):
        path = tmp_path / f"{words[0]}.pdf"
        assert farm("report", *words, str(path), "--units", units).code == 0
        assert wide in map(int, pypdf.PdfReader(path).pages[0].mediabox[2:])


@pytest.mark.parametrize("language", ["es", "fr"])
def test_no_date_and_no_word_of_what_is_due_is_cut(farm: Any, tmp_path: Path, language: str) -> None:
    path, place = tmp_path / "due.pdf", "Extrémité-de-la-parcelle"
    assert farm("machine", "move", "R1", place, "--by", "Olav").code == 0
    says = "Entraînement embrayé, palpeur poussé: débraye tard"
    assert farm("log", "fault", "R1", "gearbox", "--says", says, "--hold", "run", "--by", "Olav").code == 0
    assert farm("give", "R1", "gearbox", "--to", "Tove", "--day", "2026-12-24", "--by", "Mara").code == 0
    assert farm("report", "due", str(path), "--all", "--language", language).code == 0
    told = text_of(path.read_bytes())
    assert all(word in told for word in (*says.split(), place, "2026-12-24"))
    page_html = tmp_path / "due.html"
    assert farm("report", "due", str(page_html), "--all", "--language", language).code == 0
    for day in re.findall(r"\d{4}-\d\d-\d\d", page_html.read_text("utf-8")):
        assert day in told
    assert "size: landscape" in page_html.read_text("utf-8")


def test_without_the_library_the_cure_is_named_and_no_file_is_left(
    farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "fpdf", None)
    told = farm("report", "machine", "R1", str(tmp_path / "r.pdf"))
    assert told.code == 2
    assert installation.adds("pdf") in told.err
    assert list(tmp_path.glob("*r.pdf*")) == []


def test_a_page_lays_out_the_same_blocks() -> None:
    html = page.lay_out(full()).decode()
    assert html.count("<svg") == 3
    assert "<b>" not in html


def test_the_name_of_a_bar_stays_on_the_paper() -> None:
    name = "M" * 24  # the longest tag there is, in the widest letter
    data = pdf.lay_out(Document("x", "", (Bars(((name, 5.0, "5 h"), ("R2", 1.0, "1 h"))),)), MADE)
    starts: dict[str, float] = {}

    def keep_start(text: str, page: Any, line: Any, *_: Any) -> None:
        starts.setdefault(text.strip(), page[4] + line[4])

    for one in pypdf.PdfReader(io.BytesIO(data)).pages:
        one.extract_text(visitor_text=keep_start)
    assert starts[name] >= starts["x"] - 0.1  # the title begins at the margin


def test_a_text_higher_than_a_page_goes_on_on_the_next_with_nothing_lost() -> None:
    told = " ".join(f"w{number}" for number in range(900))
    rows = [("1", "short", told), ("2", "水" * 900, "last")]
    found = bare(text_of(pdf.lay_out(Document("Due", "", (table(("no", "what", "says"), rows),)), MADE)))
    for number in range(900):
        assert f"w{number}" in found
    assert found.count("6C34") == 900
    assert "last" in found


def test_a_row_that_goes_on_is_not_taken_for_another_one() -> None:
    rows = [(day_list.BOX, "T02", " ".join(["worn"] * 900)), (day_list.BOX, "T03", "oil")]
    found = bare(text_of(pdf.lay_out(Document("Work list", "", (table(("", "machine", "what"), rows),)), MADE)))
    assert found.count("[]") == 2
    assert found.count("…worn") >= 1
    short = bare(text_of(pdf.lay_out(Document("Work list", "", (table(("", "machine", "what"), rows[1:]),)), MADE)))
    assert "…" not in short


def test_a_short_text_of_many_lines_goes_on_on_the_next_page_too() -> None:
    """The notes of a run keep their lines; a hundred short ones are higher than a page."""
    rows = [("1", "\n".join(f"{number:02}" for number in range(95)))]
    found = text_of(pdf.lay_out(Document("Book", "", (table(("no", "says"), rows),)), MADE))
    assert all(f"{number:02}" in found for number in range(95))


def test_a_short_list_has_letters_that_are_read_in_a_shed() -> None:
    def of(many: int) -> Document:
        return Document("Work list", "", (table(("what",), [("grease",)] * many),), close=True)

    assert "class=close" not in page.lay_out(of(10)).decode()
    assert "class=close" in page.lay_out(of(60)).decode()
    sizes: list[float] = []
    for many in (10, 60, 120):  # a long one stays on its page, where its letters can still be read
        one, *more = pypdf.PdfReader(io.BytesIO(pdf.lay_out(of(many), MADE))).pages
        assert bool(more) == (many == 120)
        found: list[float] = []

        def keep(text: str, _page: Any, _line: Any, _font: Any, size: float, found: list[float] = found) -> None:
            if "grease" in text:
                found.append(size)

        one.extract_text(visitor_text=keep)
        sizes.append(min(found))
    assert 7 <= sizes[1] < 8 <= sizes[0] == sizes[2]

"""A machine's label, read by a reader that did not draw it (zxing-cpp): it stands for the tag wherever one is taken."""

import io
import re
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFont

from reelcare.core.machine.tag import machine_of, text_of
from reelcare.reports import tag as labels
from reelcare.reports.pdf import FONTS

ID = "0191e7a4-0000-7000-8000-000000000001"


def read(picture: Image.Image) -> str:
    found = zxingcpp.read_barcodes(picture.convert("L"))
    assert [one.format for one in found] == [zxingcpp.BarcodeFormat.QRCode]
    return str(found[0].text)


def drawn(svg: str) -> Image.Image:
    """A label's drawing as points: its path has one square for each dark module."""
    wide, high = (int(one) for one in re.search(r'viewBox="0 0 (\d+) (\d+)"', svg).groups())  # type: ignore[union-attr]
    picture = Image.new("L", (wide, high), 255)
    for x, y, side in re.findall(r"M(\d+) (\d+)h(\d+)", svg):
        picture.paste(0, (int(x), int(y), int(x) + int(side), int(y) + int(side)))
    return picture


def test_a_machine_without_name_and_place_has_a_label_too(tmp_path: Path) -> None:
    assert read(drawn(labels.svg(ID, "R7", "").decode())) == text_of(ID, "R7")


def test_picture_drawing_and_terminal_say_which_machine_it_is() -> None:
    assert read(Image.open(io.BytesIO(labels.png(ID, "R7")))) == text_of(ID, "R7")
    assert read(drawn(labels.svg(ID, "R7", "Long Reach, North").decode())) == text_of(ID, "R7")
    shown = labels.shown(ID, "R7", "Long Reach, North").splitlines()
    assert shown[-1] == "R7  Long Reach, North"
    picture = Image.new("L", (8 * len(shown[0]), 16 * len(shown[:-1])), 0)
    for y, line in enumerate(shown[:-1]):
        for x, sign in enumerate(line):
            for half, signs in enumerate(("▀█", "▄█")):
                if sign in signs:
                    picture.paste(255, (8 * x, 16 * y + 8 * half, 8 * x + 8, 16 * y + 8 * half + 8))
    assert read(picture) == text_of(ID, "R7")


def test_the_pdf_says_it_too(tmp_path: Path) -> None:
    import shutil
    import subprocess
    from datetime import UTC, datetime

    import pypdf

    data = labels.pdf(ID, "R7", "Łąka, North", datetime(2026, 7, 1, tzinfo=UTC))
    assert "R7" in pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()
    if shutil.which("pdftoppm"):
        (tmp_path / "l.pdf").write_bytes(data)
        subprocess.run(["pdftoppm", "-r", "100", "-png", tmp_path / "l.pdf", tmp_path / "l"], check=True)
        assert read(Image.open(next(tmp_path.glob("l*.png")))) == text_of(ID, "R7")


@given(st.text(max_size=40))
def test_whatever_the_tag_is_the_id_comes_back(tag: str) -> None:
    assert machine_of(text_of(ID, tag)) == ID


def test_a_long_name_and_place_stay_large_enough_to_read() -> None:
    name, place = "The " + "very " * 10 + "long name", "the " + "far " * 12 + "meadow"
    svg = labels.svg(ID, "R7", f"{name}, {place}").decode()
    told = re.findall(r'<text x="[\d.]+" y="(\d+)" font-size="(\d+)">([^<]*)</text>', svg)
    assert " ".join(text for _, _, text in told) == f"{name}, {place}"
    assert all(int(size) >= 18 for _, size, _ in told)
    wide, high = (int(one) for one in re.search(r'viewBox="0 0 (\d+) (\d+)"', svg).groups())  # type: ignore[union-attr]
    assert all(int(y) <= high - 5 for y, _, _ in told)
    assert all(int(size) * 0.55 * len(text) <= wide for _, size, text in told)
    assert read(drawn(svg)) == text_of(ID, "R7")


@pytest.mark.parametrize("tag", ["T01", "MOWER-WM", "TRAVELLER-12", "W" * 24, "nw-reel_4.b", "機械" * 12])
@pytest.mark.parametrize("under", ["", "Heron, North Field", "WOMMELMEIER, MOUNTAIN MEADOW WEST", "W" * 60])
def test_no_letter_of_a_label_stands_beyond_its_edge(tag: str, under: str) -> None:
    svg = labels.svg(ID, tag, under).decode()
    wide = int(re.search(r'viewBox="0 0 (\d+)', svg)[1])  # type: ignore[index]
    for size, bold, text in re.findall(r'font-size="(\d+)"( font-weight="700")?>([^<]*)</text>', svg):
        font = ImageFont.truetype(FONTS / f"DejaVuSans{'-Bold' if bold else ''}.ttf", int(size))
        # the font has no wide signs; they are as wide as high
        told = int(size) * len(text) if "機" in text else font.getlength(text)
        assert told <= wide


def test_a_long_name_and_place_stay_large_enough_to_read_in_the_pdf() -> None:
    from datetime import UTC, datetime

    import pypdf

    long = "The " + "very " * 10 + "long name, the " + "far " * 12 + "meadow"
    sizes: list[float] = []

    def seen(text: str, _: Any, matrix: Any, font: Any, size: float) -> None:
        if text.strip():
            sizes.append(size)

    page = pypdf.PdfReader(io.BytesIO(labels.pdf(ID, "R7", long, datetime(2026, 7, 1, tzinfo=UTC)))).pages[0]
    assert " ".join(page.extract_text(visitor_text=seen).split()) == f"R7 {long}"
    assert min(sizes) >= 8


def test_hostile_tags_are_text_in_the_drawing() -> None:
    svg = labels.svg(ID, "</text><script>x</script>", "a & b").decode()
    assert "<script>" not in svg
    assert "a &amp; b" in svg


def test_a_scanned_code_is_taken_wherever_a_tag_is(farm: Any, tmp_path: Path) -> None:
    assert farm("report", "tag", "R1", str(tmp_path / "r.png")).code == 0
    scanned = read(Image.open(tmp_path / "r.png"))
    fault = ("log", "fault", scanned, "hose", "--says", "scuffed", "--by", "Olav")
    assert farm(*fault).code == 0
    assert "scuffed" in farm("book", scanned.upper()).out
    told = farm("book", text_of(ID, "R1"))
    assert (told.code, "not in this register" in told.err) == (2, True)


@pytest.mark.parametrize(
    ("name", "code", "says"), [("x.txt", 2, "must end in .svg, .png, .pdf"), ("no/x.svg", 2, "no: no such folder")]
)
def test_bad_files_are_one_line(
    farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, code: int, says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    told = farm("report", "tag", "R1", name)
    assert (told.code, says in told.err) == (code, True)
    assert farm("report", "tag", "R1", "-").out.endswith("R1  Long Reach, North\n")

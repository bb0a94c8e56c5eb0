"""What people read in Spanish and French is said in that language: parts, kinds, titles, keys, counts and examples."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from reelcare import languages
from reelcare.cli import main
from reelcare.core import entries as e
from reelcare.core import text
from reelcare.core.machine.card import Card, Drive, Jack, Legs
from reelcare.core.machine.particulars import particulars
from reelcare.core.state import fix_by
from reelcare.core.state.counters import Totals
from reelcare.core.text import _
from reelcare.core.wording import count_text
from reelcare.register.opening import open_writer
from reelcare.register.views.book import BookLine, book
from reelcare.register.views.entry_details import details
from reelcare.tui.keys import shown
from reelcare.tui.screens.machine.book import FILTERS
from reelcare.tui.screens.work.plan_item import LIMBS
from tests import estates

AT = datetime(2026, 6, 30, 16, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def spanish() -> Iterator[None]:
    """All texts in Spanish."""
    languages.install("es")
    yield
    text.install()


@pytest.fixture(scope="module")
def estate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return estates.estate(tmp_path_factory)


def test_a_card_says_the_kinds_of_its_parts() -> None:
    card = Card("R1", drive=Drive("turbine"), legs=Legs("hydraulic"), jack=Jack("screw"))
    told = dict(particulars(card, "metric"))
    assert (told["transmisión"], told["patas"], told["gato de la lanza"]) == ("turbina", "de cilindro", "de tornillo")


def test_the_scales_of_a_plan_and_the_keys_of_a_keyboard_are_words_of_the_language() -> None:
    assert [_(one) for one in LIMBS] == ["horas", "metros", "pasadas", "meses"]
    assert [shown(key) for key in ("space", "home", "pageup")] == ["Espacio", "Inicio", "PgUp"]


def test_one_is_counted_as_one_and_more_as_more() -> None:
    assert [count_text(state, n) for state, n in (("held", 1), ("held", 2), ("due", 1), ("due", 0))] == [
        "1 retenida", "2 retenidas", "1 toca", "0 tocan",
    ]  # fmt: skip


@pytest.mark.parametrize("language", languages.LANGUAGES)
def test_a_limit_is_read_as_its_examples_are_shown(language: str) -> None:
    languages.install(language)
    for example in _(fix_by.EXAMPLES).split(", "):
        assert fix_by.read(example, Totals(runs=40), date(2026, 5, 1))
    assert fix_by.read("3 pasadas", Totals(runs=40), date(2026, 5, 1)) == {"fix_by_runs": 43}
    assert fix_by.read("14 jours", Totals(), date(2026, 5, 1)) == {"fix_by_day": "2026-05-15"}


def test_a_book_says_what_a_service_was_and_what_a_correction_cancels(estate: Path) -> None:
    with open_writer(estate) as register:
        told = book(register, register.machine_id("T10"), kinds=("service", "correction"))
    says = [one.says() for one in told]
    assert any(one.startswith("anula: pasada del 2026-06-30 16:30: ") for one in says)
    assert "Tuercas de rueda: par de apriete" in says
    assert not any("Wheel nuts" in one for one in says)


def test_what_is_kept_with_an_entry_is_told_in_words() -> None:
    run = e.Run(started=AT.replace(hour=7), ended=AT, metres=320_000, inlet=650_000, planned_speed=32_000)
    assert list(details(run, UTC)) == [
        ("empezó", "2026-06-30 07:30"), ("terminó", "2026-06-30 16:30"), ("velocidad prevista", "32,0 m/h"),
        ("presión de entrada", "6,5 bar"),
    ]  # fmt: skip
    done = e.Service(item="oil", steps=("vaciar", "llenar"), isolated=("water", "pto"), minutes=45)
    assert list(details(done, UTC)) == [
        ("asegurado", "agua, toma"), ("paso", "vaciar"), ("paso", "llenar"), ("tiempo", "45 min"),
    ]  # fmt: skip


def test_a_correction_of_an_entry_that_is_not_here_names_it_by_its_id() -> None:
    one = e.Entry("0" * 36, "m", AT, AT, "t", "Ines", e.Correction(entry="1" * 36, why="error"))
    line = BookLine(one)
    assert line.says() == "anula 11111111: error"
    assert replace(line, cancels=("run", AT)).says() == "anula: pasada del 2026-06-30 16:30: error"


def test_lists_on_paper_and_in_a_terminal_say_everybody_parts_and_items(
    estate: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["marks", "--register", str(estate), "--as-of", "2026-07-01T09:00", "--language", "es"])
    assert "todos" in capsys.readouterr().out
    page = tmp_path / "t10.html"
    main(["report", "machine", "T10", str(page), "--register", str(estate), "--language", "es"])
    said = page.read_text("utf-8")
    assert "Paro de fin de carrera: accionarlo a mano: 1" in said
    assert [word for word in ("End-of-run", "turbine", "hydraulic", "screw") if word in said] == []


def test_a_check_on_paper_says_its_questions_in_the_language_of_who_reads_it(estate: Path, tmp_path: Path) -> None:
    page = tmp_path / "check.html"
    main(["report", "check", "T02", str(page), "--register", str(estate), "--language", "es"])
    said = page.read_text("utf-8")
    assert "Antes de arrancar: T02" in said
    assert "preguntada en English" in said
    assert "<td>puesto, con su seguro</td>" in said
    assert "in, with its clip" not in said
    main(["report", "check", "T02", str(page), "--register", str(estate), "--language", "en", "--replace"])
    assert "in, with its clip" in page.read_text("utf-8")
    assert "asked in" not in page.read_text("utf-8")


@pytest.mark.parametrize(
    "words", [("due", "--all", "--part", "tambor"), ("failures", "Manguera"), ("failures", "tyre")]
)
def test_a_part_is_meant_by_its_usual_word_in_any_language(
    words: tuple[str, ...], estate: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--register", str(estate), "--as-of", "2026-07-01T09:00", "--language", "es"]) == 0
    assert "no existe esa parte" not in capsys.readouterr().err


def test_a_card_and_a_correction_are_told_in_words(estate: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = ("--register", str(estate), "--as-of", "2026-07-01T09:00", "--language", "es")
    main(["machine", "T01", *where])
    card = capsys.readouterr().out
    assert "corona " in card
    assert "hidr" not in card
    assert [word for word in ("drum.turntable", "True", "hydraulic") if word in card] == []
    main(["corrections", *where])
    assert "pasada: 32 m" in capsys.readouterr().out
    main(["may", "T01", "pull out", *where])
    assert "Patas: sin mirar, hace falta: clavadas" in capsys.readouterr().out


def test_a_list_of_somebody_without_work_says_how_work_is_given(
    estate: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["report", "list", str(tmp_path / "list.html"), "--for", "Tomas", "--day", "2027-01-04"]
    main([*words, "--register", str(estate), "--as-of", "2026-07-01T09:00", "--language", "es"])
    assert "no se ha dado nada a Tomas" in capsys.readouterr().err


def test_days_of_which_no_water_is_known_are_one_row_and_no_volume_of_nothing(estate: Path, tmp_path: Path) -> None:
    page = tmp_path / "water.html"
    span = ("--from", "2026-01-01", "--until", "2026-07-01")
    main(["report", "water", str(page), *span, "--register", str(estate), "--language", "es"])
    said = page.read_text("utf-8")
    assert said.count("sin saber</td>") == 12, "one row for each machine"
    assert ": sin saber" in said
    assert ": 0 m3" not in said


def test_the_book_says_plainly_that_answers_are_hidden() -> None:
    text.install()
    assert _(FILTERS[0][0]) == "answers hidden"
    languages.install("fr")
    assert _(FILTERS[0][0]) == "réponses cachées"

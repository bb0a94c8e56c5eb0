"""Words that no person means, but scripts and other keyboards give: each ends in one line, with nothing written."""

from typing import Any

import pytest

GUN = ("measure", "gun", "R1", "43 m3/h @ 4.5 bar")
CANS = ("measure", "cans", "R1", "--step", "12 m", "--left", "9.4 8 5.9", "--right", "9 8.2 5.5", "--spacing")
RUN = ("log", "run", "R1", "--started", "2026-05-01T06:30", "--ended", "2026-05-01T16:30", "--metres", "250 m")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("yard", "--as-of=--"), "--as-of: expected one argument"),
        (("due", "--within=--"), "--within: expected one argument"),
        (("--register=--",), "--register: expected one argument"),
        (("log", "note", "R1", "--by", "Olav", "--says=--"), "--says: expected one argument"),
        ((*RUN, "--by", "Olav", "--place=--"), "--place: expected one argument"),
        ((*RUN, "--by", "Olav", "--at", "nonsense"), "'nonsense' is not a time"),
        ((*GUN, "--at", "nonsense"), "'nonsense' is not a time"),
        (("carry", "in", "none.zip", "--by", "Mara", "--at", "nonsense"), "'nonsense' is not a time"),
        ((*GUN, "--nozzle", "0 mm"), "its bore must be more than nothing"),
        ((*CANS, "1e30 m"), "what these cans caught reaches 42 m"),
    ],
)
def test_it_is_refused_in_one_line(farm: Any, words: tuple[str, ...], says: str) -> None:
    before = farm("book", "R1", "--json").json
    told = farm(*words)
    assert (told.code, told.out) == (2, "")
    assert says in told.err
    assert farm("book", "R1", "--json").json == before


@pytest.mark.parametrize("name", ["check", "paper"])
def test_a_raised_figure_is_no_number_of_an_answer(farm: Any, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """The key left of the 1 on French keyboards gives one."""
    lines = iter(["²"])
    monkeypatch.setattr("builtins.input", lambda _prompt="": next(lines, ""))
    more = ("--from-paper", "--at", "2026-05-01T06:30") if name == "paper" else ()
    told = farm("check", "R1", "--by", "Olav", *more)
    assert "type a number from 1 to 3" in told.out


def test_a_check_of_a_machine_that_has_left_is_refused_before_a_question(farm: Any) -> None:
    assert farm("machine", "retire", "R1", "--why", "sold", "--by", "Mara").code == 0
    for sheet in ((), ("road",)):
        told = farm("check", "R1", *sheet, "--by", "Olav")
        assert (told.code, told.out) == (2, "")
        assert "the machine left the yard on" in told.err


def test_what_is_given_to_somebody_who_has_left_is_found_by_their_name(farm: Any, tmp_path: Any) -> None:
    assert farm("give", "R1", "chain", "--to", "Tove", "--day", "2999-01-01", "--by", "Mara").code == 0
    assert farm("people", "left", "Tove", "--by", "Mara").code == 0
    assert [one["item"] for one in farm("due", "--person", "tove", "--json").json["items"]] == ["chain"]
    page = tmp_path / "tove.csv"
    assert farm("report", "list", "--for", "Tove", str(page)).code == 0
    assert "chain" in page.read_text("utf-8-sig")
    assert farm("give", "R1", "grease", "--to", "Tove", "--day", "2999-01-01", "--by", "Mara").code == 2


def test_instruction_on_a_machine_that_has_left_or_renewed_on_all_runs_out_no_more(farm: Any) -> None:
    def running_out() -> list[tuple[str, str]]:
        found = farm("due", "--json").json["instructions"]
        return [(one["person"], one["machine"]) for one in found]

    for name in ("Olav", "Tove"):
        once = ("--valid", "1", "--at", "2026-04-01")
        assert farm("log", "instruction", name, "R1", *once, "--by", "Mara").code == 0
    assert running_out() == [("Olav", "R1"), ("Tove", "R1")]
    assert farm("log", "instruction", "Olav", "all", "--by", "Mara").code == 0
    assert running_out() == [("Tove", "R1")]
    assert farm("machine", "retire", "R1", "--why", "sold", "--by", "Mara").code == 0
    assert running_out() == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("plan", "", "--use", "plan.toml", "--by", "Mara"), "an argument is empty"),
        (("plan", "R1", "--use", "", "--by", "Mara"), "--use: empty"),
        (("may", "R1", ""), "an argument is empty"),
        (("may", "R1", "--to", " "), "--to: empty"),
        (("log", "release", "R1", "", "--by", "Mara"), "an argument is empty"),
        (("check", "R1", "", "--by", "Olav"), "an argument is empty"),
        (("log", "reading", "R1", "hours", "12", "--rolls-at", "", "--by", "Olav"), "--rolls-at: empty"),
        (("due", "--machine", ""), "--machine: empty"),
        (("due", "--place", ""), "--place: empty"),
        (("workload", "--part", ""), "--part: empty"),
        (("failures", ""), "an argument is empty"),
        (("log", "correct", "0f3a9c21", "", "--why", "wrong", "--by", "Mara"), "ENTRY: empty"),
        (("log", "correct", "0f3a9c21", "--why", "wrong", "--move-to", "", "--by", "Mara"), "--move-to: empty"),
    ],
)
def test_an_empty_word_is_refused_and_never_means_all(farm: Any, words: tuple[str, ...], says: str) -> None:
    """A script has left its variable empty: `plan "$TAG" --use FILE` put a plan in force for all machines."""
    told = farm(*words)
    assert (told.code, told.out) == (2, "")
    assert says in told.err


def test_what_is_written_is_never_as_of_a_time(farm: Any) -> None:
    """`machine retire --as-of 2026-05-01` took the machine out of the yard as of now."""
    for words in (
        ("machine", "retire", "R1", "--why", "sold"),
        ("machine", "move", "R1", "Hill"),
        ("people", "add", "Zoe", "--role", "operator"),
        ("set-up", "R1", "--spacing", "60 m", "--out", "200 m", "--keep"),
        ("plan", "R1", "--general"),
    ):
        told = farm(*words, "--by", "Mara", "--as-of", "2026-05-01")
        assert (told.code, told.out) == (2, "")
        assert "when you write, --at says when it happened" in told.err
    assert farm("set-up", "R1", "--spacing", "60 m", "--out", "200 m", "--as-of", "2026-05-01").code == 0


def test_a_revised_card_says_yes_and_no_as_the_file_does(farm: Any, tmp_path: Any) -> None:
    card = tmp_path / "card.toml"
    card.write_text(card.read_text("utf-8") + "[equipment]\ninjection = true\n", "utf-8")
    assert (
        "equipment.injection: true in place of nothing"
        in farm("machine", "revise", "R1", str(card), "--by", "Mara").err
    )
    card.write_text(card.read_text("utf-8").replace("= true", "= false"), "utf-8")
    told = farm("machine", "revise", "R1", str(card), "--by", "Mara").err
    assert "equipment.injection: false in place of true" in told


def test_items_in_one_line_are_told_apart_where_a_title_has_a_comma(farm: Any, tmp_path: Any) -> None:
    card = tmp_path / "bare.toml"
    card.write_text('tag = "B1"\n', "utf-8")
    assert farm("machine", "add", str(card), "--by", "Mara").code == 0
    assert "; Inlet, shut-off; Legs, pins; Pawl, spring;" in farm("due", "--machine", "B1").out


def test_a_fault_that_is_to_be_fixed_today_says_that_it_holds(farm: Any) -> None:
    today = farm("due", "--json").json["as_of"][:10]  # the register is in UTC
    told = farm("log", "fault", "R1", "hose", "--says", "scuffed", "--fix-by", today, "--by", "Olav")
    assert "its limit is reached, so the machine is held" in told.err
    assert farm("yard", "--json").json[0]["standing"]["run"] == "held"
    assert "held" not in farm("log", "fault", "R1", "gun", "--says", "x", "--fix-by", "3 runs", "--by", "Olav").err


def test_units_of_the_environment_that_are_none_are_refused(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REELCARE_UNITS", "metrc")
    told = farm("yard")
    assert (told.code, told.out) == (2, "")
    assert "REELCARE_UNITS: metrc: no such units; choose from metric, us" in told.err
    assert farm("yard", "--units", "us").code == 0


def test_an_argument_too_many_is_named_as_it_was_typed(farm: Any) -> None:
    assert "unrecognized arguments: extra;" in farm("yard", "extra").err


def test_a_folder_that_is_watched_for_a_place_where_no_machine_is_tells_so(farm: Any, tmp_path: Any) -> None:
    told = farm("report", "due", str(tmp_path), "--watch", "--once", "--place", "Nroth")
    assert "no machine is at Nroth; did you mean North?" in told.err
    told = farm("report", "due", str(tmp_path / "due.csv"), "--once")
    assert (told.code, "--once: goes with --watch" in told.err) == (2, True)


def test_what_is_taken_back_is_told_in_words_that_fit_every_kind(farm: Any) -> None:
    """It said *moved of 2026-05-01 is taken back*."""
    entry = farm("machine", "move", "R1", "Hill", "--by", "Mara", "--at", "2026-05-01", "--json").json["entry"]
    assert "taken back: moved, 2026-05-01" in farm("log", "correct", entry, "--why", "slip", "--by", "Mara").err


def test_a_check_of_one_question_speaks_of_one(farm: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    own = tmp_path / "config" / "reelcare" / "sheets"
    own.mkdir(parents=True)
    (own / "mine.toml").write_text(
        'id = "mine"\ntitle = "Mine"\nfor = "shop"\n[[stages]]\nid = "a"\ntitle = "A"\n[[stages.questions]]\nid = "q"\n'
        'ask = "hose?"\nkind = "seen"\npart = "hose"\nif_not = "note"\n'
        'choices = [{ id = "n", says = "cut" }, { id = "y", says = "whole", right = true }]\n',
        "utf-8",
    )
    lines = iter(["2", "DONE"])
    monkeypatch.setattr("builtins.input", lambda _prompt="": next(lines, ""))
    told = farm("check", "R1", "mine", "--by", "Olav")
    assert "1 question is answered." in told.out, told.err


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("set-limits.toml", "[limits]\nwind_most = 3\n", "limits.wind_most: not known"),
        ("plan-default.toml", 'id = "own"\nitems = 3\n', "items"),
    ],
)
def test_what_is_wrong_with_a_table_of_ones_own_is_told_beside_the_sheets(
    cli: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Any, name: str, text: str, says: str
) -> None:
    """It was told once a run was logged, or a register made, and `sheets` had nothing to say."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    own = tmp_path / "config" / "reelcare" / "sheets"
    own.mkdir(parents=True)
    (own / name).write_text(text, "utf-8")
    told = cli("sheets")
    assert told.code == 1
    assert f"{own / name}: {says}" in told.err
    assert says in " ".join(cli("sheets", "--json").json["problems"])

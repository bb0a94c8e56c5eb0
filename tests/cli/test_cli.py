"""The command line as CONTRACTS has it: data on one stream, words on the other, and exit codes."""

import json
import os
import tomllib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core.checks.sheet import Question, for_machine
from reelcare.core.machine.card import read_card
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.opening import open_writer

CARD = """
tag = "R1"
[legs]
kind = "hydraulic"
[drive]
kind = "turbine"
[cart]
kind = "gun"
"""
RUN = ("log", "run", "R1", "--started", "2026-05-01T06:00", "--ended", "2026-05-01T16:00", "--metres", "320 m")


def item(farm: Any, id: str, *more: str) -> dict[str, Any]:
    return next(one for one in farm("due", "--json", *more).json["items"] if one["item"] == id)


def test_the_yard_of_one_place_counts_what_is_out_of_the_ordinary_as_the_screen_does(farm: Any) -> None:
    farm("log", "fault", "R1", "wheels", "--says", "tube shows", "--fix-by", "2036-12-30", "--by", "Olav")
    said = farm("yard")
    assert "1 to be fixed by a limit" in said.err
    place = farm("yard", "--json").json[0]["place"]
    assert farm("yard", "--place", place.upper()).err == said.err
    other = farm("yard", "--place", "nowhere")
    assert (other.code, other.out) == (0, "")
    assert "no machine is at nowhere" in other.err


def test_the_yard_answers_as_in_the_contract(farm: Any) -> None:
    farm(*RUN, "--by", "Olav")
    (one,) = farm("yard", "--json").json
    assert set(one) == {
        "machine", "name", "place", "standing", "because", "hours", "metres", "runs", "known", "last_check",
        "next", "faults", "given_to", "note", "home_by",
    }  # fmt: skip
    assert one["machine"] == "R1"
    assert one["standing"] == {"run": "check due", "road": "check due", "gate": None, "held_as": None}
    assert (one["hours"], one["metres"], one["runs"]) == (10.0, 320.0, 1)
    assert one["known"] == ["hours", "metres", "runs"]
    assert all(isinstance(text, str) for text in one["because"])
    assert set(one["next"]) == {"item", "kind", "by", "left", "likely"}
    assert (one["faults"], one["given_to"], one["note"], one["home_by"]) == ([], None, None, None)


def test_due_answers_as_in_the_contract(farm: Any) -> None:
    farm(*RUN, "--by", "Olav")
    farm("log", "service", "R1", "gearbox-oil-level", "--by", "Tove", "--at", "2026-05-03")
    told = farm("due", "--json", "--as-of", "2026-06-01T12:00").json
    assert told["as_of"] == "2026-06-01T12:00:00.000Z"
    known = [one for one in told["items"] if one["state"] != "unknown"]
    lives = [one["life"] for one in known]
    assert lives == sorted(lives, reverse=True)
    assert {one["state"] for one in told["items"]} >= {"unknown", "ok"}
    for one in told["items"]:
        assert {
            "machine", "kind", "item", "part", "state", "by", "used", "interval", "left", "life", "grace_left",
            "due_at", "last_done", "given_to", "for_day", "minutes", "held", "waits_for", "forecast",
        } <= set(one)  # fmt: skip
        assert one["state"] in ("overdue", "due", "soon", "ok", "unknown")
        if one["state"] == "unknown":
            assert {one[key] for key in ("used", "left", "life", "grace_left", "last_done", "forecast")} == {None}
            assert one["forecast_reason"]
            continue
        assert one["by"] in ("hours", "metres", "runs", "date")
        if one["forecast"]:
            assert set(one["forecast"]) == {"early", "likely", "late"}
            days = [date.fromisoformat(day) for day in one["forecast"].values() if day]
            assert days == sorted(days)
        else:
            assert one["forecast_reason"]


def test_the_mechanics_job_moves_the_next_due(farm: Any) -> None:
    farm(*RUN, "--by", "Olav")
    farm("log", "reading", "R1", "hours", "480", "--by", "Olav", "--at", "2026-05-20")
    before = item(farm, "gearbox-oil-change")
    assert (before["state"], before["left"]) == ("unknown", None)  # 480 h, and never done as far as anybody knows
    said = farm("log", "service", "R1", "gearbox-oil-change", "--hours", "482", "--by", "Tove", "--at", "2026-05-21")
    assert said.code == 0
    after = item(farm, "gearbox-oil-change", "--as-of", "2026-05-22")
    assert (after["state"], after["by"], after["left"], after["last_done"]) == ("ok", "date", 364, "2026-05-21")
    run = ("log", "run", "R1", "--started", "2026-05-21T12:00", "--ended", "2026-05-22T12:00", "--metres", "320 m")
    farm(*run, "--by", "Olav")
    later = item(farm, "gearbox-oil-change", "--as-of", "2026-05-22")
    assert (later["by"], later["used"], later["left"], later["interval"]) == ("hours", 24, 476, 500)
    told = farm("log", "service", "R1", "gearbox-oil-change", "--by", "Tove", "--at", "2026-05-23", "--language", "es")
    assert "Aceite de la caja: cambio" in told.err
    # the bigger service covers the smaller one
    assert item(farm, "gearbox-oil-level", "--as-of", "2026-05-22")["last_done"] == "2026-05-21"


def test_a_hold_ends_only_by_repair_retest_and_release(farm: Any) -> None:
    def standing() -> str:
        return str(farm("yard", "--json").json[0]["standing"]["run"])

    farm(
        "log", "fault", "R1", "end stop", "--says", "bar [/] bent", "--hold", "--retest", "three times", "--by", "Olav"
    )
    assert standing() == "held"
    assert farm("yard", "--exit-code").code == 1
    assert farm("log", "release", "R1", "--by", "Tove").code == 2
    assert farm("log", "repair", "R1", "--says", "straightened", "--by", "Tove").code == 0
    assert farm("log", "release", "R1", "--by", "Tove").code == 2
    assert farm("log", "retest", "R1", "--failed", "--says", "hangs", "--by", "Tove").code == 0
    assert farm("log", "release", "R1", "--by", "Tove").code == 2
    assert farm("log", "repair", "R1", "--says", "new bar", "--by", "Tove").code == 0
    assert farm("log", "retest", "R1", "--says", "trips", "--by", "Tove").code == 0
    assert standing() == "held"
    assert farm("log", "release", "R1", "--by", "Olav").code == 6
    assert farm("log", "release", "R1", "--by", "Tove").code == 0
    assert standing() == "check due"
    assert farm("yard", "--exit-code").code == 0


def test_a_fix_by_that_lapses_holds_by_itself(farm: Any) -> None:
    farm("log", "fault", "R1", "hose", "--says", "scuff", "--fix-by", "5 h", "--by", "Olav", "--at", "2026-04-30")
    assert farm("yard", "--json").json[0]["standing"]["run"] == "check due"
    farm(*RUN, "--by", "Olav")
    assert farm("yard", "--json").json[0]["standing"] == {
        "run": "held",
        "road": "held",
        "gate": None,
        "held_as": "machine",
    }


def test_a_fix_by_of_a_fault_that_is_dated_back_counts_from_there(farm: Any) -> None:
    farm(*RUN, "--by", "Olav")  # of ten hours, on 1 May
    fault = ("log", "fault", "R1", "hose", "--says", "scuff", "--by", "Olav", "--at")
    assert farm(*fault, "2026-04-30", "--fix-by", "12 h").code == 0
    assert farm("yard", "--json").json[0]["standing"]["run"] == "check due"
    assert farm(*fault, "2026-04-30T12:00", "--fix-by", "5 h").code == 0
    assert farm("yard", "--json").json[0]["standing"]["run"] == "held"
    assert farm(*fault, "2026-02-01", "--fix-by", "5 h").code == 2


@pytest.mark.parametrize("when", ["20 h", "5000 m", "3 runs", "14 days", "2099-05-31"])
def test_a_fix_by_takes_every_kind_of_limit(farm: Any, when: str) -> None:
    assert farm("log", "fault", "R1", "hose", "--says", "scuff", "--fix-by", when, "--by", "Olav").code == 0


def test_a_correction_takes_back_and_stays_visible(farm: Any) -> None:
    entry = farm(*RUN, "--by", "Olav", "--json").json["entry"]
    assert farm("log", "correct", entry, "--why", "wrong machine", "--by", "Tove").code == 6
    assert farm("log", "correct", entry[-8:], "--why", "wrong machine", "--by", "Mara").code == 0
    assert farm("yard", "--json").json[0]["runs"] == 0
    lines = farm("book", "R1", "--json").json
    taken = next(one for one in lines if one["entry"] == entry)
    assert taken["taken_back"]["why"] == "wrong machine"


def test_the_past_is_as_it_stood(farm: Any) -> None:
    farm(*RUN, "--by", "Olav")
    farm("log", "reading", "R1", "hours", "480", "--by", "Olav", "--at", "2026-06-01T08:00")
    assert farm("yard", "--json", "--as-of", "2026-05-15").json[0]["hours"] == 10
    assert farm("yard", "--json", "--as-of", "2026-06-01").json[0]["hours"] == 480
    assert farm("yard", "--json", "--as-of", "2025-01-01").json == []
    assert item(farm, "grease", "--as-of", "2026-05-15")["state"] == "ok"


def test_due_can_be_narrowed(farm: Any) -> None:
    farm("log", "reading", "R1", "hours", "60", "--by", "Olav", "--at", "2026-05-20")
    at = ("--as-of", "2026-05-21", "--json")
    farm("log", "service", "R1", "grease", "--by", "Tove", "--at", "2026-03-02")
    assert {one["state"] for one in farm("due", "--overdue", *at).json["items"]} == {"overdue", "unknown"}
    assert {one["item"] for one in farm("due", "--part", "gun", *at).json["items"]} == {"gun", "catch-can"}
    assert farm("due", "--place", "nowhere", *at).json["items"] == []
    assert farm("due", "--machine", "r1", *at).json["items"] == farm("due", *at).json["items"]
    soon = farm("due", "--within", "15", *at).json["items"]
    always = ("overdue", "due", "unknown")
    assert all(one["state"] in always or one["forecast"]["likely"] <= "2026-06-05" for one in soon)
    assert farm("due", "--overdue", "--exit-code", *at).code == 1
    assert farm("due", "--overdue", "--exit-code", "--as-of", "2026-03-02").code == 0


def test_a_plan_can_be_put_in_force(farm: Any, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text('id = "mine"\n[[items]]\nid = "oil"\nwhat = "Oil"\nevery = { hours = 5 }\n', "utf-8")
    assert farm("plan", "R1", "--use", str(plan), "--by", "Olav").code == 6
    stops = ("end-stop", "pawl", "hose-ends", "inlet-valve", "turntable-bolts", "legs", "engine-clutch",
             "backflow-device")  # fmt: skip
    drop = [word for one in stops for word in ("--drop", one)]
    assert farm("plan", "R1", "--use", str(plan), "--by", "Mara").code == 2
    assert farm("plan", "R1", "--use", str(plan), *drop, "--by", "Mara").code == 0
    assert farm("plan", "R1", "--json").json["id"] == "mine"
    assert farm("plan", "--json").json["id"] == "default"
    assert [one["item"] for one in farm("due", "--json").json["items"]] == ["oil"]


def test_a_plan_with_a_text_that_has_no_english_is_refused(farm: Any, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(
        'id = "mine"\ntitle = { fr = "Le nôtre" }\n[[items]]\nid = "oil"\nwhat = { es = "Aceite" }\n'
        'every = { hours = 5 }\ncautions = ["hot", { fr = "chaud" }]\nsupplies = [{ en = "oil", fr = "huile" }]\n',
        "utf-8",
    )
    told = farm("plan", "R1", "--use", str(plan), "--by", "Mara")
    assert (told.code, told.out) == (2, "")
    for where in ("title", "items[0] (oil).what", "items[0] (oil).cautions[1]"):
        assert f"{where}: no English text; `en` is always there" in told.err
    assert told.err.count("no English") == 3


def test_a_plan_is_shown_in_the_units_asked_for_with_what_holds_past_its_grace(farm: Any) -> None:
    metric, us = (farm("plan", "--all", "--units", system).out for system in ("metric", "us"))
    assert "15000 m" in metric
    assert "49213 ft" in us  # 15000 m / 0.3048 m, the international foot of 1959
    assert "15000 m" not in us
    holding = {one["id"] for one in farm("plan", "--json").json["items"] if one.get("stop")}
    assert holding
    assert {line.split()[-1] for line in metric.splitlines() if "  holds  " in line} == holding


def test_data_for_programs_are_english_whatever_language_is_asked_for(farm: Any) -> None:
    for asked in (("may", "R1"), ("may", "R1", "--to", "road"), ("workload",), ("plan",)):
        assert (
            farm(*asked, "--as-of", "2026-06-01", "--json", "--language", "es").out
            == farm(*asked, "--as-of", "2026-06-01", "--json").out
        ), asked


def test_a_register_without_machines_says_how_to_add_one(cli: Any) -> None:
    assert cli("people", "add", "Mara", "--role", "supervisor").code == 0
    for asked in ("yard", "due"):
        assert "`reelcare machine add CARD.toml --by NAME` adds one" in cli(asked).err


def test_a_card_can_be_revised(farm: Any, tmp_path: Path) -> None:
    card = tmp_path / "new.toml"
    card.write_text('tag = "R1"\nname = "Longer Reach"\n', "utf-8")
    assert farm("machine", "revise", "R1", str(card), "--by", "Mara").code == 0
    assert farm("machine", "R1", "--json").json["name"] == "Longer Reach"
    assert "Long Reach" in farm("machine", "R1", "--as-of", "2026-03-02", "--json").out


READINGS = {"volts": "12.6 V", "coils": "3", "inlet": "6 bar", "drive-loss": "0.4 bar", "speed": "22 m/h"}


def line_for(question: Question) -> str:
    """What is typed to answer a question right."""
    rights = (str(place) for place, one in enumerate(question.choices, 1) if one.right)
    return READINGS.get(question.id) or next(rights)


def test_a_gate_is_asked_alone_and_only_where_it_comes_next(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = for_machine(sheets.load().by_id["pre-start"], read_card(tomllib.loads(CARD)))
    first = [line_for(one) for one in sheet.questions if sheet.gate_of(one.id) == "pull-out"]
    typed = iter([*first, "done"])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    refused = farm("check", "R1", "--gate", "water", "--by", "Olav")
    assert refused.code == 2
    assert "not the next gate (pull-out)" in refused.err
    assert not any(one["kind"] == "check begun" for one in farm("book", "R1", "--json").json)
    said = farm("check", "R1", "--gate", "pull-out", "--by", "Olav")
    assert said.code == 0
    assert said.out.endswith("Signed: may pull out.\n")
    (line,) = farm("yard", "--json").json
    assert line["standing"] == {"run": "check due", "road": "check due", "gate": "pull-out", "held_as": None}
    assert line["because"][0].startswith("may pull out")


def test_a_walk_round_in_lines_clears_the_machine(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    card = read_card(tomllib.loads(CARD))
    sheet = for_machine(sheets.load().by_id["pre-start"], card)
    lines = {gate: [line_for(one) for one in sheet.questions if sheet.gate_of(one.id) == gate]
             for gate in sheet.gates}  # fmt: skip
    typed = iter([line for gate in sheet.gates for line in (*lines[gate], "done")])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    said = farm("check", "R1", "--by", "Olav")
    assert said.code == 0
    assert said.out.endswith("Complete.\n")
    assert farm("yard", "--json").json[0]["standing"]["run"] == "clear"
    # the run uses it up
    now = datetime.now(UTC)
    times = ("--started", (now - timedelta(hours=1)).isoformat(), "--ended", (now + timedelta(minutes=1)).isoformat())
    assert farm("log", "run", "R1", *times, "--metres", "20 m", "--by", "Olav").code == 0
    assert farm("yard", "--json").json[0]["standing"]["run"] == "check due"


@pytest.mark.parametrize("told", ["this check has ended already", "a check on this sheet is open since"])
def test_a_walk_round_in_lines_ends_where_another_program_ended_or_began_it(
    farm: Any, monkeypatch: pytest.MonkeyPatch, told: str
) -> None:
    asked: list[str] = []

    def typed(_prompt: str = "") -> str:
        asked.append("1")
        if len(asked) == (2 if "ended" in told else 1):
            with open_writer(os.environ["REELCARE_REGISTER"]) as other:
                machine, now = other.machine_id("R1"), datetime.now(UTC)
                for one in other.state(machine).open_checks:
                    walk_rounds.leave(other, one.id, "rain", by="Tove", now=now)
                if len(asked) == 1:
                    walk_rounds.begin(other, machine, sheets.load().by_id["pre-start"], by="Tove", now=now)
        return "1" if len(asked) < 6 else ""

    monkeypatch.setattr("builtins.input", typed)
    said = farm("check", "R1", "--by", "Olav")
    assert said.code == 1
    assert told in said.out
    assert len(asked) < 3, "and asks nothing more"


def test_a_walk_round_in_lines_goes_on_where_it_was_left(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["1", "1", "", "1", ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    first = farm("check", "R1", "--by", "Olav")
    assert "\n3/" in first.out
    second = farm("check", "R1", "--by", "Tove")
    assert "Going on with the check begun" in second.out
    # the last answered question is asked again
    assert "\n2/" in second.out
    assert "\n1/" not in second.out


def test_a_part_without_a_fault_is_told_the_parts_that_have_one(farm: Any) -> None:
    farm("log", "fault", "R1", "hose", "--says", "scuffed", "--fix-by", "10 h", "--by", "Olav")
    told = farm("log", "repair", "R1", "gearbox", "--says", "sealed", "--by", "Tove")
    assert (told.code, told.err) == (2, "reelcare: R1: no open fault on the gearbox; there are some on: hose\n")


def test_no_answer_is_dated_before_its_check_was_begun(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["1"])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed, ""))
    farm("check", "R1", "--by", "Olav")
    told = farm("check", "R1", "--by", "Olav", "--at", "2026-05-01T06:30")
    assert (told.code, told.out) == (2, "")
    assert "--at: the open check was begun" in told.err


def test_a_walk_round_that_nobody_answers_writes_nothing(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("builtins.input", lambda _="": "")
    before = farm("book", "R1", "--json").json
    assert farm("check", "R1", "--by", "Olav").code == 0
    assert farm("book", "R1", "--json").json == before


def test_a_wrong_answer_to_a_stop_question_is_confirmed_and_holds(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["3", "", "3", "HOLD"])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed, ""))
    held = farm("check", "R1", "--by", "Olav")
    assert held.code == 1
    assert "HELD" in held.out
    assert farm("yard", "--json").json[0]["standing"]["run"] == "held"


# what goes wrong


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ((*RUN[:-1], "320", "--by", "Olav"), 2, "say the unit"),
        (("log", "run", "R9", *RUN[3:], "--by", "Olav"), 2, "no such machine"),
        ((*RUN[:3], "--started", "yesterday", *RUN[5:], "--by", "Olav"), 2, "not a time"),
        (("log", "reading", "R1", "hours", "12 m", "--by", "Olav"), 2, "measures length"),
        (("log", "reading", "R1", "hours", "7,5", "--by", "Olav"), 2, "comma"),
        (("log", "reading", "R1", "hours", "nan", "--by", "Olav"), 2, "no number"),
        (("log", "service", "R1", "oil", "--by", "Tove"), 2, "not an item"),
        (("log", "service", "R1", "grease", "--by", "Tove", "--at", "2001-01-01"), 2, "before the machine's beginning"),
        (("log", "service", "R1", "grease", "--by", "Tove", "--at", "2999-01-01"), 2, "future"),
        (("log", "service", "R1", "grease"), 2, "say who"),
        (("log", "service", "R1", "grease", "--by", "Nobody"), 6, "not enrolled"),
        (("log", "fault", "R1", "wing", "--says", "x", "--by", "Olav"), 2, "not a part"),
        (("log", "fault", "R1", "hose", "--says", "x", "--fix-by", "soon", "--by", "Olav"), 2, "fix-by"),
        (("log", "correct", "zzzzzzzz", "--why", "because", "--by", "Mara"), 2, "no such entry"),
        (("log", "repair", "R1", "--says", "x", "--by", "Tove"), 2, "no open fault"),
        (("machine", "add", "nowhere.toml", "--by", "Mara"), 2, "no such file"),
        (("plan", "--use", "nowhere.toml", "--by", "Mara"), 2, "no such file"),
        (("people", "add", "X"), 2, "--role"),
        (("people", "add", "X", "--role", "pilot"), 2, "invalid choice"),
        (("yard", "--as-of", "then"), 2, "not a time"),
        (("due", "--within", "-3"), 2, "0 to 3660"),
        (("check", "R1", "no-sheet", "--by", "Olav"), 2, "no such sheet"),
        (("nonsense",), 2, "no such command"),
        (("--register", "no/such.db", "prove"), 3, "no such register"),
        (("--register", "postgresql://x:y@127.0.0.1:1/z", "yard"), 3, "no server answers there"),
        (("demo", "--no-app"), 2, "--at"),
    ],
)  # fmt: skip
def test_bad_input_is_one_line_and_a_code(farm: Any, words: tuple[str, ...], code: int, says: str) -> None:
    before = farm("prove", "--json").json
    told = farm(*words)
    assert (told.code, told.out) == (code, "")
    assert told.err.startswith("reelcare: ")
    assert says in told.err
    assert farm("prove", "--json").json == before


def test_a_bad_card_names_file_and_every_key(farm: Any, tmp_path: Path) -> None:
    card = tmp_path / "bad.toml"
    card.write_text('tag = "R2"\n[hose]\nlength = 400\n[drive]\nkind = "steam"\n', "utf-8")
    told = farm("machine", "add", str(card), "--by", "Mara").err
    for part in (str(card), "hose.length", "drive.kind"):
        assert part in told
    card.write_text('tag = "R2"\n[hose\n', "utf-8")
    assert "line 2" in farm("machine", "add", str(card), "--by", "Mara").err


def test_the_app_needs_a_terminal_and_says_so(farm: Any) -> None:
    assert farm().code == 2
    assert "needs a terminal" in farm().err


def test_proving_and_rebuilding_answer_by_code(farm: Any) -> None:
    farm(*RUN, "--by", "Olav")
    proof = farm("prove", "--json")
    assert proof.code == 0
    assert proof.json["whole"] is True
    assert proof.json["heads"][0]["count"] == proof.json["entries"]
    assert farm("rebuild", "--json").json == {"changed": []}


def test_sheets_and_paths_are_told(farm: Any, tmp_path: Path) -> None:
    told = farm("sheets", "--json").json
    assert {"pre-start", "road"} <= {one["id"] for one in told["sheets"]}
    assert farm("paths", "--json").json["register"] == str(tmp_path / "register.db")


@pytest.mark.long
def test_the_demo_is_made_and_answers(cli: Any, tmp_path: Path) -> None:
    path = tmp_path / "demo.db"
    assert cli("demo", "--no-app", "--at", str(path)).code == 0
    assert cli("demo", "--no-app", "--at", str(path)).code == 2
    yard = cli("--register", str(path), "yard", "--json").json
    assert len(yard) == 12
    assert {one["standing"]["run"] for one in yard} == {"held", "check due", "clear"}
    overdue = cli("--register", str(path), "due", "--overdue", "--json").json["items"]
    assert overdue
    states = {one["state"] for one in cli("--register", str(path), "due", "--json").json["items"]}
    assert states == {"overdue", "unknown", "due", "soon", "ok"}
    assert cli("--register", str(path), "prove").code == 0


@pytest.mark.long
def test_the_same_day_gives_the_same_demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from reelcare.register.demo import build
    from reelcare.register.opening import open_writer
    from reelcare.register.reading import yard as yards

    monkeypatch.setenv("TZ", "UTC")
    now = datetime(2026, 7, 1, 9, tzinfo=UTC)
    seen = []
    for name in ("a.db", "b.db"):
        with open_writer(tmp_path / name, entropy=lambda size: b"\x01" * size) as register:
            build(register, now)
            seen.append([(one.tag, one.standing, one.state.totals) for one in yards.yard(register, now)])
    assert seen[0] == seen[1]


def test_json_is_plain_and_has_no_surprises(farm: Any) -> None:
    farm("log", "fault", "R1", "hose", "--says", "a [/] b \x1b[2J é", "--by", "Olav")
    out = farm("book", "R1", "--json").out
    assert "\x1b" not in out
    json.loads(out, parse_constant=lambda name: pytest.fail(name))


def test_a_time_without_an_offset_is_in_the_registers_zone(
    cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "Europe/Madrid")
    cli("people", "add", "Mara", "--role", "supervisor", "--at", "2026-03-01")
    card = tmp_path / "card.toml"
    card.write_text('tag = "R1"\n', "utf-8")
    cli("machine", "add", str(card), "--by", "Mara", "--at", "2026-07-01T06:00")
    lines = cli("book", "R1", "--json").json
    assert lines[0]["happened"] == "2026-07-01T04:00:00.000Z"
    assert datetime.fromisoformat(lines[0]["happened"]) + timedelta(hours=2) == datetime(2026, 7, 1, 6, tzinfo=UTC)


def test_the_workload_gathers_what_falls_due(farm: Any) -> None:
    farm("log", "reading", "R1", "hours", "52", "--by", "Olav", "--at", "2026-05-20")
    told = farm("workload", "--json", "--weeks", "3", "--as-of", "2026-05-21").json
    assert [week["week"] for week in told["weeks"]] == ["2026-05-18", "2026-05-25", "2026-06-01"]
    (visit,) = told["weeks"][0]["visits"]
    assert visit["machine"] == "R1"
    assert {"grease", "chain", "gearbox-oil-change"} <= set(visit["items"])
    assert told["weeks"][0]["minutes"] == visit["minutes"] > 0
    assert "Grease" in farm("workload", "--as-of", "2026-05-21").out
    assert farm("workload", "--weeks", "0").code == 2
    assert farm("workload", "--place", "nowhere", "--json").json["weeks"][0]["visits"] == []


@pytest.mark.long
def test_the_furthest_are_the_first_of_all(cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REELCARE_REGISTER", str(tmp_path / "demo.db"))
    assert cli("demo", "--no-app", "--at", str(tmp_path / "demo.db")).code == 0
    every = cli("due", "--json").json["items"]
    assert len(every) > 200
    for many in (1, 7, 60):
        assert cli("due", "--most", str(many), "--json").json["items"] == every[:many]
    assert len(cli("due", "--most", "2", "--part", "drum", "--json").json["items"]) == 2
    assert "of 1 or more" in cli("due", "--most", "0").err


def test_every_try_stays_in_the_book_and_a_hold_says_whose_it_is(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from reelcare.register import sheets

    typed = iter(["1", "2", "HOLD"])  # a road within reach of the stream
    monkeypatch.setattr("builtins.input", lambda _: next(typed, ""))
    assert [one.id for one in sheets.load().by_id["pre-start"].questions][:2] == ["overhead", "stream"]
    assert farm("check", "R1", "--by", "Olav").code == 1
    (line,) = farm("yard", "--json").json
    assert (line["standing"]["run"], line["standing"]["held_as"]) == ("held", "place")
    typed = iter(["1", "the arc is set to the field", ""])
    assert farm("check", "R1", "--by", "Olav").code == 0
    (line,) = farm("yard", "--json").json
    assert (line["standing"]["run"], line["standing"]["held_as"]) == ("check due", None)
    newest = next(one for one in farm("book", "R1", "--json").json if one["kind"] == "answer")
    assert [(one["seen"], one["judged"]) for one in newest["body"]["tries"]] == [("road", "wrong"), ("field", "right")]


def test_a_hold_without_a_retest_takes_the_parts_own_and_says_it(farm: Any) -> None:
    told = farm("log", "fault", "R1", "pawl", "--says", "spring gone", "--hold", "both", "--by", "Olav")
    assert "re-test: Pawl dropped five times" in told.err
    (fault,) = [one for one in farm("book", "R1", "--json").json if one["kind"] == "fault"]
    assert fault["body"]["retest"].startswith("Pawl dropped five times")

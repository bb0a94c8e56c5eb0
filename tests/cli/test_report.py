"""Reports as files: what is in them comes back, nothing in them runs, and nothing that was there is lost.

Read back with the `csv` and `html.parser` of the standard library and with `icalendar`.
"""

import csv
import io
import re
import stat
from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reelcare.cli.plan import report as reports
from reelcare.core import entries as e
from reelcare.core.forecast.forecast import Forecast
from reelcare.register.views.due_list import WorkList, work_list
from reelcare.reports import page, tables
from reelcare.reports.blocks import Bars, Document
from reelcare.reports.season import season
from tests.commands import cell_back
from tests.core.evidence.test_exposure import KNOWN, START, history

RUN = ("log", "run", "R1", "--started", "2026-05-01T06:00", "--ended", "2026-05-01T16:00", "--metres", "320 m")
HOSTILE = '<script>alert("x")</script> & =1+1'
KINDS = (
    ("machine", "R1", ".html"),
    ("due", None, ".html"),
    ("due", None, ".csv"),
    ("due", None, ".ics"),
    ("workload", None, ".html"),
    ("workload", None, ".csv"),
    ("season", None, ".html"),
    ("machine", "R1", ".pdf"),
    ("due", None, ".pdf"),
    ("workload", None, ".pdf"),
    ("season", None, ".pdf"),
)


class Read(HTMLParser):
    """The tags, what they point to, and the text of a page."""

    def __init__(self, data: bytes) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.points: list[str] = []
        self.texts: list[str] = []
        self.feed(data.decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.points += [value or "" for name, value in attrs if name in ("src", "href", "action", "srcset")]

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def report(farm: Any, path: Path, kind: str, tag: str | None = None, *more: str) -> Any:
    return farm("report", kind, *([tag] if tag else []), str(path), *more)


@pytest.mark.long
@pytest.mark.parametrize(("kind", "tag", "ending"), KINDS)
def test_each_report_is_written_whole_private_and_never_over_another(
    farm: Any, tmp_path: Path, kind: str, tag: str | None, ending: str
) -> None:
    farm(*RUN, "--by", "Olav")
    path = tmp_path / f"out{ending}"
    assert report(farm, path, kind, tag).code == 0
    assert path.stat().st_size > 100
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = path.read_bytes()
    again = report(farm, path, kind, tag)
    assert again.code != 0
    assert "--replace" in again.err
    assert path.read_bytes() == before
    assert report(farm, path, kind, tag, "--replace").code == 0
    assert not [one for one in tmp_path.iterdir() if one.name.endswith(".new")]


@pytest.mark.parametrize("name", ["out.xyz", "out", "none"])
def test_a_file_that_cannot_be_is_refused_in_a_line(farm: Any, tmp_path: Path, name: str) -> None:
    said = report(farm, tmp_path / name / "out.html" if name == "none" else tmp_path / name, "due")
    assert said.code == 2
    assert name in said.err
    assert not (tmp_path / name).exists()


def test_what_people_wrote_stands_in_a_page_as_text(farm: Any, tmp_path: Path) -> None:
    said = farm("log", "fault", "R1", "chain", "--says", HOSTILE, "--by", "Tove")
    assert said.code == 0, said.err
    assert report(farm, tmp_path / "m.html", "machine", "R1").code == 0
    read = Read((tmp_path / "m.html").read_bytes())
    assert not {"script", "link", "img", "iframe", "object"} & set(read.tags)
    assert read.points == []
    assert any(HOSTILE in text for text in read.texts)
    assert not {"True", "False", "None"} & set(read.texts), "people do not say so"


def test_a_check_as_paper_tells_each_answer_given(farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["1", "1", "", "1", ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed))
    assert "\n3/" in farm("check", "R1", "--by", "Olav").out
    assert report(farm, tmp_path / "c.html", "check", "R1").code == 0
    texts = Read((tmp_path / "c.html").read_bytes()).texts
    assert "Not ended." in texts
    assert any("R1" in text for text in texts)
    assert sum(text == "Olav" for text in texts) >= 2, "each answer names who gave it"


def test_the_calendar_is_read_by_others_and_an_item_keeps_its_name(farm: Any, tmp_path: Path) -> None:
    farm(*RUN, "--by", "Olav")
    names = []
    for one in ("a.ics", "b.ics"):
        assert report(farm, tmp_path / one, "due").code == 0
        data = (tmp_path / one).read_bytes()
        assert all(len(line) <= 75 for line in data.split(b"\r\n"))
        events = icalendar.Calendar.from_ical(data).walk("VEVENT")
        assert events
        assert all(isinstance(event.decoded("DTSTART"), date) for event in events)
        assert all(str(event["SUMMARY"]).startswith("R1: ") for event in events)
        names.append([str(event["UID"]) for event in events])
        farm("log", "run", "R1", "--started", "2026-06-01T06:00", "--ended", "2026-06-01T16:00", "--metres", "320 m",
             "--by", "Olav")  # fmt: skip
    assert len(set(names[0])) == len(names[0])
    assert set(names[0]) & set(names[1])


def test_the_calendar_says_its_name_and_when_to_fetch_it_again(farm: Any, tmp_path: Path) -> None:
    """RFC 7986, 5.1 (NAME) and 5.7 (REFRESH-INTERVAL, whose value must be a DURATION)."""
    assert report(farm, tmp_path / "due.ics", "due").code == 0
    calendar = icalendar.Calendar.from_ical((tmp_path / "due.ics").read_bytes())
    assert str(calendar["NAME"]) == "Reelcare: what is due"
    assert calendar["REFRESH-INTERVAL"].params["VALUE"] == "DURATION"
    assert calendar.decoded("REFRESH-INTERVAL") == timedelta(hours=1)


def test_the_record_says_answers_in_words_and_the_hours_of_the_last_service(
    farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert farm("log", "reading", "R1", "hours", "70", "--by", "Olav", "--at", "2026-03-19T12:00").code == 0
    assert farm("log", "service", "R1", "grease", "--by", "Tove", "--at", "2026-03-20T12:00").code == 0
    typed = iter(["1", "1", "1"])
    monkeypatch.setattr("builtins.input", lambda _="": next(typed, ""))
    farm("check", "R1", "--by", "Olav")
    assert report(farm, tmp_path / "m.html", "machine", "R1").code == 0
    texts = Read((tmp_path / "m.html").read_bytes()).texts
    answers = [one for one in farm("book", "R1", "--kind", "answer", "--json").json]
    assert answers
    for one in answers:
        assert not any(f"{one['body']['question']}: {one['body']['seen']}" in text for text in texts)
    asked = [text for text in texts if text.endswith(("(right)", "(wrong)", "(noted)"))]
    assert len(asked) >= len(answers)
    assert "70.0 h" in texts
    states = [text for text in texts if text == "ok"]
    assert not states, "what is ok is counted, not listed"
    assert any("more items are ok" in text for text in texts)


def test_a_long_word_is_broken_and_not_the_page(farm: Any, tmp_path: Path) -> None:
    assert report(farm, tmp_path / "m.html", "machine", "R1").code == 0
    style = (tmp_path / "m.html").read_text("utf-8")
    assert re.search(r"td, th[^{]*\{ overflow-wrap: anywhere; \}", style)


def test_a_season_counts_the_runs_between_its_days(farm: Any, tmp_path: Path) -> None:
    farm(*RUN, "--by", "Olav")
    path = tmp_path / "s.html"
    assert report(farm, path, "season", None, "--from", "2026-04-01", "--until", "2026-05-31").code == 0
    assert any("10 h" in text and "1 run on 1 machine" in text for text in Read(path.read_bytes()).texts)
    assert report(farm, path, "season", None, "--from", "2026-05-02", "--until", "2026-05-31", "--replace").code == 0
    assert any("0 h" in text and "0 runs" in text for text in Read(path.read_bytes()).texts)
    assert report(farm, tmp_path / "n.html", "season", None, "--from", "2026-06-01", "--until", "2026-05-01").code != 0


def rows_of_season(farm: Any, path: Path, *words: str) -> list[str]:
    """The rows of the season in review, one text each."""
    assert report(farm, path, "season", None, *words, "--replace").code == 0
    found = re.findall(r"<tr>(.*?)</tr>", path.read_text("utf-8"), re.DOTALL)
    return [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in found]


def test_a_season_tells_of_a_machine_that_left_in_it_and_of_no_run_that_was_taken_back(
    farm: Any, tmp_path: Path
) -> None:
    span = ("--from", "2026-04-01", "--until", "2026-05-31")
    run = farm(*RUN, "--by", "Olav", "--json").json["entry"]
    farm("machine", "retire", "R1", "--why", "sold", "--by", "Mara", "--at", "2026-05-20T08:00")
    assert "R1 10 320 m 1 0 0 0 0 none" in rows_of_season(farm, tmp_path / "s.html", *span)
    after = rows_of_season(farm, tmp_path / "s.html", "--from", "2026-05-21", "--until", "2026-05-31")
    assert not any(one.startswith("R1 ") for one in after)
    assert farm("log", "correct", run, "--why", "typed twice", "--by", "Mara").code == 0
    assert "R1 0 0 m 0 0 0 0 0 none" in rows_of_season(farm, tmp_path / "s.html", *span)


def test_a_season_and_its_water_are_told_as_the_register_stood_then(farm: Any, tmp_path: Path) -> None:
    run = farm(*RUN, "--volume", "400 m3", "--by", "Olav", "--json").json["entry"]
    assert farm("log", "correct", run, "--why", "typed twice", "--by", "Mara").code == 0
    then, water = ("--as-of", "2026-05-20"), tmp_path / "water.csv"
    assert "R1 10 320 m 1 0 0 0 0 none" in rows_of_season(farm, tmp_path / "s.html", *then)
    for words, volumes in ((then, ["400"]), ((), []), (("--as-of", "2026-04-20"), [])):
        assert report(farm, water, "water", None, *words, "--replace").code == 0
        rows = csv.DictReader(water.read_text("utf-8-sig").splitlines())
        assert [one["volume_m3"] for one in rows] == volumes
    before = rows_of_season(farm, tmp_path / "s.html", "--as-of", "2020-01-01")
    assert not any(one.startswith("R1 ") for one in before)


def test_a_season_tells_of_no_machine_that_came_after_it(farm: Any, tmp_path: Path) -> None:
    card = tmp_path / "R2.toml"
    card.write_text('tag = "R2"\nplace = "North"\n', "utf-8")
    assert farm("machine", "add", str(card), "--by", "Mara", "--at", "2026-05-10T08:00").code == 0
    for last, is_told in (("2026-05-09", False), ("2026-05-10", True)):
        rows = rows_of_season(farm, tmp_path / "s.html", "--from", "2026-04-01", "--until", last)
        assert any(one.startswith("R2 ") for one in rows) is is_told


def test_what_two_faults_hold_at_a_time_is_held_once_and_not_before_it_happens(farm: Any, tmp_path: Path) -> None:
    for part, at in (("pawl", "2026-05-02T06:00"), ("drive", "2026-05-02T18:00"), ("pawl", "2026-05-03T00:00")):
        farm("log", "fault", "R1", part, "--says", "x", "--hold", "--by", "Olav", "--at", at)
    rows = rows_of_season(farm, tmp_path / "s.html", "--from", "2026-05-01", "--until", "2026-05-03T06:00")
    assert "R1 0 0 m 0 3 0 0 0 24 h" in rows
    assert {"R1 pawl 24 h", "R1 drive 12 h"} <= set(rows)
    ahead = rows_of_season(farm, tmp_path / "s.html", "--from", "2026-05-01", "--until", "2099-05-01")
    assert ahead == rows_of_season(farm, tmp_path / "s.html", "--from", "2026-05-01")


def test_a_service_of_which_nobody_knows_since_when_is_not_on_time(farm: Any, tmp_path: Path) -> None:
    (tmp_path / "second.toml").write_text('tag = "R2"\n', "utf-8")
    assert farm("machine", "add", str(tmp_path / "second.toml"), "--by", "Mara").code == 0
    for at in ("2026-05-02T06:00", "2026-05-03T06:00"):
        assert farm("log", "service", "R2", "grease", "--by", "Tove", "--at", at).code == 0
    rows = rows_of_season(farm, tmp_path / "s.html", "--from", "2026-05-01", "--until", "2026-05-04")
    assert "R2 0 0 m 0 0 1 0 1 none" in rows
    assert any("2, 0 of them late, 1 with no time before it known" in one for one in rows)


def test_a_season_judges_a_service_by_the_hours_that_were_told_for_it() -> None:
    """One after 160 h of an item for every 100 h was told as on time: the counter was read for the first time later."""
    entries = history(
        (0, e.Carded(card={"tag": "R1", "in_use_since": "2026-04-01"})),
        (0, e.Service(item="belt", life=90 * 3600)),
        (0, e.Service(item="belt", life=250 * 3600)),
    )
    found = season("R1", entries, KNOWN, START, START + timedelta(days=30))
    assert (found.on_time, found.late, found.since_unknown) == (1, 1, 0)


def test_weeks_in_which_nothing_ran_have_their_place_in_a_season(farm: Any, tmp_path: Path) -> None:
    farm(*RUN, "--by", "Olav")
    farm(*(word.replace("-05-01T", "-06-05T") for word in RUN), "--by", "Olav")
    path = tmp_path / "s.html"
    assert report(farm, path, "season", None, "--from", "2026-04-01", "--until", "2026-08-31").code == 0
    columns = re.findall(r'<rect x="([0-9.]+)" y="[0-9.]+" width="[0-9.]+" height="([0-9.]+)"', path.read_text("utf-8"))
    # ISO 8601: the weeks of 1 May (18) and of 5 June (23), and four between them
    assert [float(tall) > 0 for _, tall in columns[:6]] == [True, False, False, False, False, True]


def test_a_short_cell_is_not_broken(farm: Any, tmp_path: Path) -> None:
    assert report(farm, tmp_path / "m.html", "machine", "R1").code == 0
    html = (tmp_path / "m.html").read_text("utf-8")
    assert '<td class="whole">400 m</td>' in html
    assert re.search("<td>[^<]{17,}</td>", html)


def test_a_folder_for_lists_that_is_not_there_is_named_with_its_cure(farm: Any, tmp_path: Path) -> None:
    told = farm("report", "due", str(tmp_path / "lists"), "--watch", "--once")
    assert (told.code, "lists: no such folder; make it, or name another" in told.err) == (2, True)
    (tmp_path / "lists").write_text("x", "utf-8")
    assert (
        "lists: not a folder; name another" in farm("report", "due", str(tmp_path / "lists"), "--watch", "--once").err
    )


def test_a_watched_folder_holds_the_lists(farm: Any, tmp_path: Path) -> None:
    farm(*RUN, "--by", "Olav")
    folder = tmp_path / "lists"
    folder.mkdir()
    assert farm("report", "due", str(folder), "--watch", "--once").code == 0
    assert {one.name for one in folder.iterdir()} == {"due.html", "due.csv", "due.ics", "weeks.html", "weeks.csv"}


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8")), min_size=2, max_size=2), max_size=5))
def test_a_table_gives_back_every_text_and_no_cell_begins_as_a_formula(rows: list[list[str]]) -> None:
    data = tables.table(("a", "b"), rows).decode("utf-8-sig")
    back = list(csv.reader(io.StringIO(data, newline="")))[1:]
    assert [[cell_back(cell) for cell in row] for row in back] == rows
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for row in back for cell in row)


@given(st.text(st.characters(codec="utf-8", exclude_characters="\r\n")))
def test_a_folded_line_unfolds_to_itself(line: str) -> None:
    folded = tables._folded(line)
    assert all(len(piece.encode("utf-8")) <= 75 for piece in folded.split("\r\n"))
    assert folded.replace("\r\n ", "").removesuffix("\r\n") == line


@given(st.text())
def test_no_text_makes_markup(words: str) -> None:
    assert not set('<>"') & set(page.text(words))


def test_the_name_of_a_bar_is_not_cut_off_at_the_edge() -> None:
    name = "M" * 24  # the longest tag there is, in the widest letter
    drawn = page.lay_out(Document("x", "", (Bars(((name, 5.0, "5 h"), ("R2", 1.0, "1 h"))),))).decode()
    ends = float(re.search(rf'<text x="([\d.]+)"[^>]*>{name}<', drawn)[1])  # type: ignore[index]
    assert ends >= 24 * 0.75 * 12  # 12 is the size of the letters; a capital is three quarters of it wide in the mean
    right = [float(x) + float(wide) for x, wide in re.findall(r'<rect x="([\d.]+)" y="\d+" width="([\d.]+)"', drawn)]
    assert max(right) <= 760 - 100


def test_a_day_beyond_the_horizon_is_left_empty(farm: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read = work_list

    def far(*words: Any, **more: Any) -> WorkList:
        found = read(*words, **more)
        beyond = Forecast(date(2028, 4, 22), None, None)
        return replace(found, lines=[one._replace(forecast=beyond) for one in found.lines])

    monkeypatch.setattr(reports, "work_list", far)
    assert farm("report", "due", str(tmp_path / "due.html"), "--all").code == 0
    texts = Read((tmp_path / "due.html").read_bytes()).texts
    assert "Gearbox oil: level" in texts
    assert "None" not in texts


def test_one_is_told_in_the_singular(farm: Any, tmp_path: Path) -> None:
    told = farm(*RUN, "--by", "Olav")
    assert ", 1 run " in told.err
    report(farm, tmp_path / "machine.html", "machine", "R1")
    told = " ".join(Read((tmp_path / "machine.html").read_bytes()).texts)
    assert "1 run" in told
    assert "1 runs" not in told
    assert "1 runs" not in farm("plan").out


def test_a_calendar_tells_of_no_spread_where_the_day_is_certain(farm: Any, tmp_path: Path) -> None:
    assert farm("log", "service", "R1", "grease", "--by", "Tove", "--at", "2026-03-20T12:00").code == 0
    farm("log", "reading", "R1", "hours", "70", "--by", "Olav", "--at", "2026-05-19T12:00")
    report(farm, tmp_path / "due.ics", "due")
    calendar = icalendar.Calendar.from_ical((tmp_path / "due.ics").read_bytes())
    told = [str(one["DESCRIPTION"]) for one in calendar.walk("VEVENT")]
    assert any(one.startswith("overdue") for one in told)
    for one in told:
        days = re.findall(r"between (\S+) and (\S+)", one)
        assert all(early < late for early, late in days), one


@pytest.mark.parametrize(
    ("language", "says"),
    [("en", "own manual"), ("es", "Mandan el manual de la máquina"), ("fr", "Le manuel de la machine")],
)
def test_the_manual_comes_first_on_every_paper_that_sends_somebody_to_work(
    farm: Any, tmp_path: Path, language: str, says: str
) -> None:
    for name, *more in (("due",), ("workload",), ("list",), ("machine", "R1"), ("blank", "R1")):
        path = tmp_path / f"{name}.html"
        assert farm("report", name, *more, str(path), "--language", language).code == 0
        assert says in path.read_text("utf-8") or (name == "blank" and "manu" in path.read_text("utf-8")), name

"""A run that was logged without the gates of its pre-start says so in the book and in the marks."""

import json
from datetime import timedelta
from typing import Any

import pytest

from reelcare.cli import common, main
from reelcare.core import entries as e
from reelcare.register.views import book, ungated
from tests.register.test_gates import H, answer_gate, sign, signed_up_to
from tests.servers import in_a_file


def log(yard: Any, hours: float = 6, by: str = "end stop") -> e.Entry:
    """A run that begins now."""
    started = yard.now + timedelta(minutes=2)
    yard.now = started + hours * H
    metres = min(200_000, int(hours * 300_000))  # no faster than a hose comes home
    run = e.Run(started=started, ended=yard.now, metres=metres, stopped_by=by)
    written: e.Entry = yard.register.add(run, machine=yard.machine, by="Olav", now=yard.now)
    yard.now += timedelta(minutes=5)
    return written


def lacks(yard: Any) -> list[str | None]:
    """What the runs in the book lack, in their order."""
    found = book.book(yard.register, yard.machine, kinds=["run"])
    return [one.missing for one in reversed(found)]


def test_a_run_without_any_gate_says_so_and_one_with_all_does_not(yard: Any) -> None:
    log(yard)
    signed_up_to(yard, "running")
    log(yard)
    log(yard)  # the gates were for the run before
    assert lacks(yard) == ["water", None, "water"]
    told = book.book(yard.register, yard.machine, kinds=["run"])
    assert told[0].says().endswith("; logged without its gates")
    assert ";" not in told[1].says()


def test_a_run_that_nobody_looked_at_says_so(yard: Any) -> None:
    signed_up_to(yard, "water")
    log(yard)
    signed_up_to(yard, "water")
    log(yard, hours=0.3)  # over before the time to look at it
    going = signed_up_to(yard, "water")
    yard.now += timedelta(minutes=15)
    sign(yard, answer_gate(yard, going))
    yard.add(
        e.Run(started=yard.now - timedelta(minutes=15), ended=yard.now + 5 * H, metres=200_000), at=yard.now + 5 * H
    )
    assert lacks(yard) == ["running", None, None]


def test_the_gate_of_the_pull_out_alone_and_one_of_yesterday_are_not_enough(yard: Any) -> None:
    signed_up_to(yard, "pull-out")
    log(yard)
    signed_up_to(yard, "water")
    yard.now += 25 * H
    log(yard)
    assert lacks(yard) == ["water", "water"]


@pytest.mark.parametrize(("minutes", "missing"), [(29, None), (30, "running")])
def test_a_run_is_to_be_looked_at_from_the_thirtieth_minute(yard: Any, minutes: int, missing: str | None) -> None:
    signed_up_to(yard, "water")
    log(yard, hours=minutes / 60)
    assert lacks(yard) == [missing]


def test_a_signature_that_was_taken_back_does_not_count(yard: Any) -> None:
    going = signed_up_to(yard, "water")
    log(yard)
    signed = next(one for one in book.book(yard.register, yard.machine, kinds=["gate signed"]))
    yard.add(e.Correction(entry=signed.entry.id, why="signed for another machine"), by="Mara")
    assert going.id
    assert lacks(yard) == ["water"]


@in_a_file
def test_the_commands_say_so(yard: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    log(yard)
    signed_up_to(yard, "running")
    log(yard)
    monkeypatch.setattr(common, "now", lambda: yard.now)
    place = ["--register", str(yard.place)]
    assert main([*place, "book", "R1", "--json"]) == 0
    runs = [one["says"] for one in json.loads(capsys.readouterr().out) if one["kind"] == "run"]
    assert [one.endswith("logged without its gates") for one in runs] == [False, True]
    assert main([*place, "marks", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["runs_without_gates"] == [{"machine": "R1", "runs": 1, "of": 2}]
    assert main([*place, "marks"]) == 0
    assert "R1: 1 of 2 runs logged without their gates" in capsys.readouterr().out


def test_nothing_is_asked_where_there_is_no_run(yard: Any) -> None:
    assert ungated.missing(yard.register, []) == {}
    assert ungated.between(yard.register, yard.now - 9 * H, yard.now) == []

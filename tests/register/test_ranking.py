"""The database ranks what is due exactly as the core judges it."""

from collections import namedtuple
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.core import entries as e
from reelcare.core.upkeep.now import DueLine
from reelcare.register import people, ranking, reading, schema
from reelcare.register.demo import build
from reelcare.register.questions import PAST_GRACE, RANKED, TOTALS, past_grace
from reelcare.register.register import Register
from tests.servers import longer_on_a_server

NOW = datetime(2026, 7, 1, 9, tzinfo=UTC)
IN_TABLE = ("machine", "tag", "item", "done_day", "by_name", "left", "life")


Ranked = namedtuple("Ranked", RANKED)  # its fields are those of the question


def agree(register: Register, now: datetime) -> int:
    """Hold every row of the database against the core's judgement; how many rows that was."""
    rows = {(row[0], row[3]): Ranked(*row) for row in ranking.ranked(register, now)}
    lines = reading.due_lines(reading.yard(register, now))
    assert len(rows) == len(lines)
    for line in lines:
        row = rows[line.machine, line.item.id]
        ours = (row.tag, row.place, row.part, row.state, row.by_name)
        assert ours == (line.tag, line.place, line.item.part, line.due.state, line.due.by)
        for name in ("used", "interval", "left", "life", "grace_left"):
            assert getattr(row, name) == pytest.approx(getattr(line.due, name)), name
    all_rows = ranking.ranked(register, now)
    order = [row[10] for row in all_rows]
    assert order == sorted(order, reverse=True)
    assert ranking.ranked(register, now, news=True) == [row for row in all_rows if (row[0], row[3]) in news(lines)]
    assert ranking.acute(register, now) == [row for row in all_rows if row[5] in ("overdue", "due")]
    assert ranking.acute(register, now, overdue=True) == [row for row in all_rows if row[5] == "overdue"]
    for most in (1, 3, 7, 40, len(all_rows), len(all_rows) + 1):
        worst = ranking.worst(register, now, most)
        assert [row[10] for row in worst] == order[:most]
        assert set(worst) <= set(all_rows)
        assert len(set(worst)) == len(worst)
    plain = {(line.machine, line.item.id): replace(line, forecast=None) for line in lines}
    told = ranking.due_lines_of(register, list(plain), now)
    assert {key: replace(line, forecast=None) for key, line in told.items()} == plain
    overdue = [line for line in lines if line.due.state == "overdue"]
    for names in (PAST_GRACE, IN_TABLE):
        ours = [tuple(_as_past_grace(line)[name] for name in names) for line in overdue]
        assert sorted(_past_grace(register, now, names)) == sorted(ours)
    assert [replace(line, forecast=None) for line in ranking.overdue_lines(register, now)] == overdue
    return len(lines)


def _past_grace(register: Register, now: datetime, told: tuple[str, ...]) -> list[tuple[Any, ...]]:
    """What the database finds past its grace, with its figures as they are told."""
    today = {"today": now.astimezone(register.zone).toordinal()}
    index = TOTALS if isinstance(register.db, schema.Sqlite) else ""
    return schema.rows_named(register.db, past_grace(told, register.db.greatest, index), today)


def _as_past_grace(line: DueLine) -> dict[str, Any]:
    """What the core judged to be overdue, by the names of `PAST_GRACE`."""
    ours = line.due
    return {
        "machine": line.machine, "tag": line.tag, "place": line.place, "item": line.item.id, "part": line.item.part,
        "done_day": line.last_done.toordinal() if line.last_done else None, "by_name": ours.by, "used": ours.used,
        "interval": ours.interval, "left": ours.left, "life": ours.life, "grace_left": ours.grace_left,
    }  # fmt: skip


def news(lines: list[DueLine]) -> set[tuple[str, str]]:
    return {(line.machine, line.item.id) for line in lines if line.news}


@longer_on_a_server
def test_it_agrees_over_the_demo_estate_on_many_days(place: Any) -> None:
    with Register(place) as register:
        build(register, NOW)
        for days in (0, 1, 40, 200, 400):
            assert agree(register, NOW + timedelta(days=days)) == 12 * 19


limbs = st.dictionaries(
    st.sampled_from(["hours", "metres", "runs", "months"]), st.integers(1, 40), min_size=1, max_size=4
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(limbs, min_size=1, max_size=5), st.lists(st.integers(1, 9), max_size=6), st.integers(0, 900))
def test_it_agrees_on_any_plan(every: list[dict[str, int]], runs: list[int], days: int) -> None:
    start = datetime(2026, 3, 1, 6, tzinfo=UTC)
    items: list[dict[str, Any]] = [
        {"id": f"i{place}", "what": "x", "every": {k: v * (1000 if k == "metres" else 1) for k, v in one.items()},
         "grace": place * 10 % 50}
        for place, one in enumerate(every)
    ]  # fmt: skip
    with TemporaryDirectory() as folder, Register(Path(folder) / "r.db") as register:
        people.enrol(register, "Mara", "supervisor", by="Mara", now=start)
        machine = register.add(e.Carded(card={"tag": "R1"}), by="Mara", now=start).machine
        register.add(e.Planned(plan={"id": "p", "items": items}), by="Mara", now=start)
        for number, hours in enumerate(runs):
            began = start + timedelta(days=number)
            run = e.Run(started=began, ended=began + timedelta(hours=hours), metres=hours * 1500)
            register.add(run, machine=machine, by="Mara", now=run.ended, happened=run.ended)
        agree(register, start + timedelta(days=days))


@pytest.mark.parametrize("told", [PAST_GRACE, IN_TABLE])
def test_what_is_past_its_grace_is_found_without_a_row_of_any_table(tmp_path: Path, told: tuple[str, ...]) -> None:
    with Register(tmp_path / "r.db") as register:
        build(register, NOW)
        text = f"EXPLAIN QUERY PLAN {past_grace(told)}"
        plan = schema.rows_named(register.db, text, {"today": NOW.toordinal()})
    read = [row[3] for row in plan if row[3].startswith(("SEARCH", "SCAN")) and row[3] != "SCAN weighed"]
    assert len(read) == 4
    assert all("COVERING INDEX" in one for one in read)

"""What both databases offer: one writer, one consistent view, rows in bulk, a token that changes, problems found."""

import contextlib
import multiprocessing
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import peewee as pw
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reelcare.register.database.base import Database
from reelcare.register.database.models import FOR_ALL_MACHINES, AboutRow, EntryRow, MachineRow
from reelcare.register.database.opening import Opened, open_register
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import RegisterError
from tests.register.database.conftest import COLUMNS, fill, nothing, row
from tests.servers import in_a_file

PLACES = EntryRow.select(EntryRow.place).order_by(EntryRow.place)


@pytest.fixture
def beside(opened: Opened, place: Path | str) -> Iterator[Database]:
    """The same register, opened by another program."""
    other = open_register(place, nothing, create=False).db
    yield other
    other.close()


def test_what_is_written_together_is_kept_together_or_not_at_all(db: Database, beside: Database) -> None:
    def written() -> None:
        with db.writing():
            db.insert_many(EntryRow, COLUMNS, [tuple(row(1).values())])
            db.write(EntryRow.insert(**row(2)))
            assert beside.fetch(PLACES) == []
            raise KeyError("a slip")

    with pytest.raises(KeyError):
        written()
    assert db.fetch(PLACES) == beside.fetch(PLACES) == []
    fill(db, 1, 2)
    assert beside.fetch(PLACES) == [(1,), (2,)]


def test_the_turn_to_write_is_given_where_nobody_else_has_it(db: Database, beside: Database) -> None:
    turn = beside.try_turn()
    assert turn is not None
    with turn:
        assert db.try_turn() is None
        fill(beside, 1)
    again = db.try_turn()
    assert again is not None
    with again:
        assert beside.try_turn() is None
        fill(db, 2)
    with db.writing():
        assert beside.try_turn() is None
    assert beside.fetch(PLACES) == [(1,), (2,)]


def test_a_view_stays_as_it_was_whatever_others_write(db: Database, beside: Database) -> None:
    fill(db, 1)
    with beside.reading():
        assert beside.fetch(PLACES) == [(1,)]
        fill(db, 2)
        assert beside.fetch(PLACES) == [(1,)]
    assert beside.fetch(PLACES) == [(1,), (2,)]


def test_a_token_changes_when_anybody_writes_and_only_then(db: Database, beside: Database) -> None:
    tokens = [(db.change_token(), beside.change_token())]
    assert tokens[0] == (db.change_token(), beside.change_token())
    for write in (
        lambda: fill(db, 1),
        lambda: fill(beside, 2),
        lambda: db.keep_about("zone", "Europe/Oslo"),
        lambda: beside.write(_one_machine()),
        lambda: beside.write(MachineRow.update(tag="R2")),
        lambda: db.write(MachineRow.delete()),
    ):
        write()
        now = db.change_token(), beside.change_token()
        assert now[0] != tokens[-1][0]
        assert now[1] != tokens[-1][1]
        tokens.append(now)
    assert tokens[-1] == (db.change_token(), beside.change_token())


def _server(db: Database) -> bool:
    return not isinstance(db, Sqlite)


def _one_machine() -> Any:
    return MachineRow.insert(**{name: name for name in ("machine", "tag", "name", "place", "state", "limits")})


def test_inside_a_transaction_the_token_counts_its_own_writes(db: Database) -> None:
    with db.writing():
        before = db.change_token()
        db.write(EntryRow.insert(**row(1)))
        between = db.change_token()
        db.insert_many(EntryRow, COLUMNS, [tuple(row(2).values())])
        assert len({before, between, db.change_token()}) == 3


texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=9)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(st.lists(st.tuples(texts, texts, st.integers(-(2**63), 2**63 - 1), st.none() | texts), max_size=7))
def test_rows_in_bulk_are_kept_as_they_were_given(db: Database, made: list[tuple[str, str, int, str | None]]) -> None:
    ((start,),) = db.fetch(EntryRow.select(pw.fn.COALESCE(pw.fn.MAX(EntryRow.place), 0)))
    rows = [
        tuple(row(start + number, person=person, body=body, happened=at, machine=machine).values())
        for number, (person, body, at, machine) in enumerate(made, 1)
    ]
    with db.writing():
        db.insert_many(EntryRow, COLUMNS, iter(rows))
    assert db.fetch(EntryRow.select(*COLUMNS).where(EntryRow.place > start).order_by(EntryRow.number)) == rows


def test_a_slip_in_the_middle_of_many_rows_leaves_none(db: Database) -> None:
    def rows() -> Iterator[tuple[Any, ...]]:
        yield tuple(row(1).values())
        raise KeyError("a slip")

    def written() -> None:
        with db.writing():
            db.insert_many(EntryRow, COLUMNS, rows())

    with pytest.raises(KeyError):
        written()
    assert db.fetch(PLACES) == []
    fill(db, 1)


def test_many_rows_go_in_inside_of_a_transaction_alone(db: Database) -> None:
    with pytest.raises(ValueError, match="inside of one transaction"):
        db.insert_many(EntryRow, COLUMNS, [tuple(row(1).values())])
    assert db.fetch(PLACES) == []


def test_numbers_go_on_after_rows_that_came_with_theirs(db: Database) -> None:
    with db.writing():
        db.insert_many(EntryRow, (EntryRow.number, *COLUMNS), [(number, *row(number).values()) for number in (7, 41)])
        db.resume_numbers()
    fill(db, 42)
    assert db.fetch(EntryRow.select(EntryRow.number).order_by(EntryRow.number)) == [(7,), (41,), (42,)]


def test_a_fact_is_kept_in_place_of_the_one_before(db: Database) -> None:
    db.keep_about("zone", "Europe/Oslo")
    db.keep_about("zone", "UTC")
    assert db.about()["zone"] == "UTC"
    assert db.write(AboutRow.update(value="x").where(AboutRow.name.in_(["zone", "none"]))) == 1


def test_the_tables_there_are(db: Database) -> None:
    fill(db, 1, 9)
    assert db.has_table("entry")
    assert not db.has_table("machine_now")
    assert db.integrity_problems() == []


def plan_of(db: Database, query: pw.Node) -> str:
    context: Any = db.get_sql_context()
    sql, values = context.sql(query).query()
    how = "EXPLAIN QUERY PLAN" if isinstance(db, Sqlite) else "EXPLAIN"
    return str(db.execute_sql(f"{how} {sql}", values).fetchall())


@pytest.mark.parametrize(
    ("query", "index"),
    [
        (EntryRow.select().where(EntryRow.refers == "x"), "entry_refers"),
        (EntryRow.select().where(FOR_ALL_MACHINES & (EntryRow.kind == "plan")), "entry_for_all"),
        (
            EntryRow.select().where(EntryRow.machine == "m").order_by(EntryRow.happened.desc()).limit(3),
            "entry_in_order",
        ),
        (EntryRow.select(pw.fn.MIN(EntryRow.machine)).where(EntryRow.machine > "m"), "entry_in_order"),
        (EntryRow.select().where((EntryRow.terminal == "t") & (EntryRow.place == 4)), "one_chain_a_terminal|autoindex"),
        (MachineRow.select().where(pw.fn.LOWER(MachineRow.tag) == "r1"), "machine_state_lower_tag"),
    ],
)
def test_an_index_is_used_by_the_query_that_it_is_for(db: Database, query: pw.Node, index: str) -> None:
    if _server(db):
        db.execute_sql("SET enable_seqscan = off")  # few rows are read faster without any index
    assert any(name in plan_of(db, query) for name in index.split("|"))


@in_a_file
def test_problems_of_the_file_are_found(opened: Opened, db: Database) -> None:
    fill(db, *range(1, 100))
    db.close()
    with contextlib.closing(sqlite3.connect(opened.path, isolation_level=None)) as other:
        other.execute("PRAGMA writable_schema = 1")
        other.execute("DELETE FROM sqlite_master WHERE name = 'entry_in_order'")
    db.connect()
    assert any("never used" in one for one in db.integrity_problems())


@in_a_file
def test_a_copy_is_made_while_it_is_in_use_and_stands_alone(opened: Opened, db: Database, tmp_path: Path) -> None:
    fill(db, *range(1, 50))
    target = tmp_path / "copy.db"
    target.touch()
    assert isinstance(db, Sqlite)
    db.backup_to(target)
    copied = open_register(target, nothing, create=False).db
    assert copied.fetch(PLACES) == db.fetch(PLACES)
    assert isinstance(copied, Sqlite)
    assert copied.keep_in_one_file()
    copied.close()
    assert {one.name for one in tmp_path.iterdir()} >= {"copy.db"}
    assert not (tmp_path / "copy.db-wal").exists()


def _open_at_once(where: Path | str, home: str, number: int) -> None:
    os.environ["XDG_DATA_HOME"] = home
    opened = open_register(where, nothing, create=True)
    fill(opened.db, number, terminal=f"t{number}")
    opened.db.close()


@pytest.mark.long
def test_several_programs_that_open_a_new_register_at_once_make_one(place: Path | str, tmp_path: Path) -> None:
    several = multiprocessing.get_context("spawn")
    home = os.environ.get("XDG_DATA_HOME", str(tmp_path / "data"))
    at_work = [several.Process(target=_open_at_once, args=(place, home, number)) for number in range(1, 5)]
    for one in at_work:
        one.start()
    for one in at_work:
        one.join()
    assert [one.exitcode for one in at_work] == [0] * 4
    opened = open_register(place, nothing, create=False)
    assert opened.db.fetch(PLACES) == [(1,), (2,), (3,), (4,)]
    assert not list(tmp_path.glob("**/*.new"))
    opened.db.close()


def test_a_database_that_is_closed_says_so(db: Database) -> None:
    db.close()
    with pytest.raises(RegisterError):
        db.fetch(PLACES)

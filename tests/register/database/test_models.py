"""A register made from the models is the same as one that came to this version step by step.

What is compared is what each database itself says of its tables: https://www.sqlite.org/pragma.html,
https://www.postgresql.org/docs/current/catalogs.html.
"""

import contextlib
import hashlib
import re
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare.register.database import steps
from reelcare.register.database.base import Database
from reelcare.register.database.errors import translate_errors
from reelcare.register.database.models import DERIVED, NEWEST
from reelcare.register.database.opening import open_register
from reelcare.register.database.released import in_postgres, in_sqlite
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import RegisterError
from tests.register.database.conftest import fill, nothing
from tests.servers import Server

VERSIONS = sorted(Path("tests/register/versions").glob("*.db"), key=lambda path: int(path.stem))


def plain(sql: str | None) -> str:
    """SQL without what does not change its meaning: quotes, brackets around all of a condition, white space."""
    text = " ".join((sql or "").replace('"', "").split())
    return re.sub(r"WHERE \((.*)\)$", r"WHERE \1", text)


def in_a_file(db: Database) -> dict[str, Any]:
    """All that SQLite says of the schema. A row number is never null, whether its column says so or not."""

    def ask(sql: str) -> list[tuple[Any, ...]]:
        return [tuple(one) for one in db.execute_sql(sql).fetchall()]

    found: dict[str, Any] = {"application": ask("PRAGMA application_id"), "version": ask("PRAGMA user_version")}
    for _, name, kind, columns, rowid, strict in ask("PRAGMA table_list"):
        if name.startswith("sqlite_"):
            continue
        info = [
            (n, t, bool(null or (pk and t == "INTEGER")), default, pk)
            for _, n, t, null, default, pk in ask(f"PRAGMA table_info({name})")
        ]
        found[name] = kind, columns, rowid, strict, info, ask(f"PRAGMA foreign_key_list({name})")
        indexes = {
            index: (unique, origin, partial) for _, index, unique, origin, partial in ask(f"PRAGMA index_list({name})")
        }
        found[f"{name}: indexes"] = {
            index: (what, ask(f"PRAGMA index_xinfo({index})")) for index, what in indexes.items()
        }
    for kind, name, table, sql in ask("SELECT type, name, tbl_name, sql FROM sqlite_master"):
        if kind in ("trigger", "index", "view"):
            found[f"{kind} {name}"] = table, plain(sql)
        else:
            found[f"constraints of {name}"] = sorted(re.findall(r"CHECK.*|CONSTRAINT.*UNIQUE \([^)]*\)", plain(sql)))
    return found


ON_A_SERVER = {
    "columns": "SELECT table_name, ordinal_position, column_name, data_type, collation_name, is_nullable,"
    " column_default, is_identity, identity_generation FROM information_schema.columns"
    " WHERE table_schema = current_schema()"
    " ORDER BY 1, 2",
    "constraints": "SELECT conrelid::regclass::text, conname, contype::text, pg_get_constraintdef(oid)"
    " FROM pg_constraint WHERE connamespace = current_schema()::regnamespace ORDER BY 1, 2",
    "indexes": "SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = current_schema() ORDER BY 2",
    "triggers": "SELECT tgname, tgenabled::text, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal"
    " ORDER BY 1",
    "functions": "SELECT proname, pg_get_functiondef(oid) FROM pg_proc"
    " WHERE pronamespace = current_schema()::regnamespace ORDER BY 1",
    "comment": "SELECT obj_description('entry'::regclass, 'pg_class')",
    "others": "SELECT relname, relkind::text FROM pg_class WHERE relnamespace = current_schema()::regnamespace"
    " ORDER BY 1",
    "version": "SELECT value FROM about WHERE name = 'schema'",
}


def on_a_server(db: Database) -> dict[str, Any]:
    """All that PostgreSQL says of the schema."""
    return {name: [tuple(one) for one in db.execute_sql(sql).fetchall()] for name, sql in ON_A_SERVER.items()}


def described(db: Database) -> dict[str, Any]:
    return in_a_file(db) if isinstance(db, Sqlite) else on_a_server(db)


def take_steps(db: Database) -> None:
    """Every released step on an empty database, as an old register took them one by one."""
    with db.atomic("EXCLUSIVE"):
        for step in db.released:
            for statement in step:
                db.execute_sql(statement)
        db.mark_as_register()
        db.set_schema_version(NEWEST)
        steps.rebuild_derived(db, nothing)


@contextlib.contextmanager
def stepped(place: Path | str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Database]:
    """A register of the same kind as `place`, made by the steps."""
    if isinstance(place, Path):
        db: Database = Sqlite(tmp_path / "stepped.db")
        url = ""
    else:
        from reelcare.register.database.postgres import Postgres

        server: Server = request.getfixturevalue("postgres_server")
        url = server.fresh()
        db = Postgres(url, url)
    db.connect()
    take_steps(db)
    yield db
    db.close()
    if url:
        request.getfixturevalue("postgres_server").drop(url)


def test_a_register_made_from_the_models_is_the_one_that_the_steps_make(
    db: Database, place: Path | str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    with stepped(place, tmp_path, request) as other:
        made, by_steps = described(db), described(other)
        assert made.keys() == by_steps.keys()
        for what, said in made.items():
            assert said == by_steps[what], what
        # there is something to compare
        assert sum(bool(said) for said in made.values()) > 6


def test_a_comparison_sees_an_index_a_trigger_and_a_column_that_are_others(db: Database) -> None:
    before = described(db)
    on = "" if isinstance(db, Sqlite) else " ON entry"
    for change in (
        "DROP INDEX entry_refers",
        f"DROP TRIGGER entry_is_never_removed{on}",
        "ALTER TABLE pin ADD COLUMN more TEXT",
        "CREATE INDEX entry_refers ON entry (refers)",
    ):
        db.execute_sql(change)
        after = described(db)
        assert after != before
        before = after


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.stem)
def test_a_register_of_an_older_version_gets_the_same_schema_and_keeps_its_entries(path: Path, tmp_path: Path) -> None:
    shutil.copy(path, tmp_path / "old.db")
    with contextlib.closing(sqlite3.connect(path)) as old:
        before = old.execute("SELECT * FROM entry ORDER BY number").fetchall()
        facts = dict(old.execute("SELECT name, value FROM about").fetchall())
    new = open_register(tmp_path / "new.db", nothing, create=True)
    opened = open_register(tmp_path / "old.db", nothing, create=False)
    assert described(opened.db) == described(new.db)
    assert opened.db.execute_sql("SELECT * FROM entry ORDER BY number").fetchall() == before
    assert opened.db.about() == facts | {"derived": DERIVED}
    opened.db.close()
    new.db.close()


RELEASED = {
    in_sqlite: ("1af21ff7187a", "6bca583c8d0c", "16e4774539a6", "dcd45f63a81d", "ea96dbb94bb2"),
    in_postgres: ("73ba473830f9", "06927e7c2ce9", "a935cf0adf6a", "dcd45f63a81d", "b92e4f800432"),
}
"""The first digits of the SHA-256 of each released step."""


@pytest.mark.parametrize("module", RELEASED, ids=lambda module: module.__name__.rpartition("_")[2])
def test_a_released_step_is_never_edited(module: Any) -> None:
    found = tuple(hashlib.sha256("\n".join(step).encode()).hexdigest()[:12] for step in module.STEPS)
    assert found == RELEASED[module]
    assert len(found) == NEWEST


def test_nothing_written_can_be_changed_removed_or_replaced(db: Database) -> None:
    fill(db, 1)
    before = db.execute_sql("SELECT * FROM entry").fetchall()
    statements = [
        "UPDATE entry SET body = '{}'",
        "DELETE FROM entry",
        "INSERT INTO entry SELECT * FROM entry WHERE true ON CONFLICT (id) DO UPDATE SET body = '[]'",
        "INSERT INTO entry SELECT * FROM entry",
    ]
    statements.append("REPLACE INTO entry SELECT * FROM entry" if isinstance(db, Sqlite) else "TRUNCATE entry")
    for statement in statements:
        with pytest.raises(RegisterError, match=r"never|already exists|duplicate"), translate_errors("x"):
            db.execute_sql(statement)
    assert db.execute_sql("SELECT * FROM entry").fetchall() == before

"""The upgrade of a register to today's schema, and the making of a new one.

Steps never touch entries, run in one transaction with their mark, and are never edited once released. Derived tables
are no part of them: where their version is another, they are dropped, made from the models and rebuilt. All that an
older register needs happens in one transaction, so that a killed upgrade leaves the older register.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from reelcare.core.text import _, mark
from reelcare.register.database.base import UPGRADES, Database
from reelcare.register.database.errors import translate_errors
from reelcare.register.database.models import (
    DERIVED,
    DERIVED_TABLES,
    NEWEST,
    PERSISTENT,
    EntryRow,
    TableMaker,
    drop_tables,
    make_tables,
)
from reelcare.register.database.schema_check import schema_problems, table_problems
from reelcare.register.errors import NotThere

Rebuild = Callable[[Database], None]
"""Fills the derived tables, which are empty, from the entries. It runs inside the transaction."""
MARK = "derived"
"""The name in `about` of the version of what is derived."""


def is_older(db: Database) -> bool:
    """Whether an older version wrote this register, so that it must be upgraded before it is read."""
    return db.schema_version() < NEWEST or db.about().get(MARK) != DERIVED


def refuse_newer(where: object, version: int) -> None:
    """Raise NotThere for a register of a newer version than this program."""
    if version > NEWEST:
        says = mark(
            "{where}: a register of a newer version (its schema is {version}, this program knows "
            "{newest}): open it with a newer reelcare"
        )
        raise NotThere(_(says, where=where, version=version, newest=NEWEST))


@contextlib.contextmanager
def closed_on_error(db: Database) -> Iterator[None]:
    """Close a database where its opening fails."""
    try:
        yield
    except BaseException:
        db.close()
        raise


def make(db: Database, about: dict[str, str]) -> None:
    """Make a register in an empty database, with these facts about it."""
    with translate_errors(db.where), db.atomic(UPGRADES):
        if db.has_table(EntryRow._meta.table_name):
            return  # another program made it while this one waited
        make_tables(db, (*PERSISTENT, *DERIVED_TABLES))
        for statement in db.triggers:
            db.execute_sql(statement)
        db.mark_as_register()
        db.set_schema_version(NEWEST)
        for name, value in {**about, MARK: DERIVED}.items():
            db.keep_about(name, value)


def upgrade(db: Database, rebuild: Rebuild) -> None:
    """Take the steps that are missing and rebuild what is derived: all of it, or nothing."""
    with translate_errors(db.where), db.atomic(UPGRADES):
        # another program, of a newer version even, may have done it while this one waited
        taken = db.schema_version()
        refuse_newer(db.where, taken)
        for number, step in enumerate(db.released[taken:], start=taken + 1):
            for statement in step:
                db.execute_sql(statement)
            db.set_schema_version(number)
        if db.about().get(MARK) != DERIVED:
            rebuild_derived(db, rebuild)


def rebuild_derived(db: Database, rebuild: Rebuild) -> None:
    """Drop the derived tables, make them from their models and rebuild them, in the transaction that runs."""
    _rebuild_derived(db)
    rebuild(db)
    db.keep_about(MARK, DERIVED)


def _rebuild_derived(db: Database) -> None:
    drop_tables(db, DERIVED_TABLES)
    make_tables(db, DERIVED_TABLES)
    db.share(DERIVED_TABLES)


def mend_schema(db: Database) -> list[str]:
    """Rebuild what of the schema is not as it must be, as far as that touches no entry: derived tables, indexes,
    triggers, a table of PINs that is gone. Returns what was wrong. In the transaction that runs."""
    found = schema_problems(db)
    if not found:
        return []
    if table_problems(db, DERIVED_TABLES):
        _rebuild_derived(db)
    make_tables(db, tuple(one for one in PERSISTENT if not db.has_table(one._meta.table_name)))
    for index in db.get_indexes(EntryRow._meta.table_name, schema=db.schema_of_tables()):
        if index.sql and not index.unique:
            db.execute_sql(f"DROP INDEX {db.quoted(index.name)}")
    TableMaker(EntryRow, db).create_indexes(safe=False)
    db.drop_triggers()
    for statement in db.triggers:
        db.execute_sql(statement.replace("CREATE FUNCTION", "CREATE OR REPLACE FUNCTION"))
    return found

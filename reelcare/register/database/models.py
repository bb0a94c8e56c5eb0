"""The tables of a register, for both databases: a new register is made from these models.

No model is bound to a database, because two registers can be open at once: a query is run by the database that it is
for. Times are milliseconds since 1970 in UTC. Persistent tables have no CHECK constraints: registers of the released
versions have none, and SQLite cannot add one to a table.
"""

from __future__ import annotations

from typing import Any

import peewee as pw

NEWEST = 5
"""The schema version of this program: how many released steps there are."""
DERIVED = "27"
"""The version of what is derived from the entries and kept. Change it with every change of that form or of what the
entries give; registers then rebuild it when they are opened."""
APPLICATION_ID = 0x5265656C
"""What marks a SQLite file as a register ("Reel" in ASCII), at offset 68 of the file."""


def _table_name(model: type[pw.Model]) -> str:
    """The table of a model: `pin_try` for PinTryRow."""
    return str(pw.make_snake_case(model.__name__.removesuffix("Row")))  # type: ignore[attr-defined]  # not in its stubs


class RegisterTable(pw.Model):
    """What all tables share."""

    class Meta:
        """Where a table's name comes from, if it gives none itself."""

        table_function = _table_name


class AboutRow(RegisterTable):
    """A fact about this register: its terminal's name, its zone, the version of what is derived."""

    name = pw.TextField(primary_key=True)
    value = pw.TextField()


class EntryRow(RegisterTable):
    """One entry; `body` is canonical JSON, `place` counts from 1 within the terminal."""

    number = pw.BigAutoField()
    id = pw.TextField(constraints=[pw.SQL("UNIQUE")])
    kind = pw.TextField()
    machine = pw.TextField(null=True)
    happened = pw.BigIntegerField()
    recorded = pw.BigIntegerField()
    terminal = pw.TextField()
    person = pw.TextField()
    refers = pw.TextField(null=True)
    body = pw.TextField()
    place = pw.BigIntegerField()
    digest = pw.TextField()

    class Meta:
        """The rule that a terminal has one chain."""

        constraints = (pw.SQL("CONSTRAINT one_chain_a_terminal UNIQUE (terminal, place)"),)


FOR_ALL_MACHINES = pw.SQL("kind IN ('card', 'plan', 'person')")
"""The condition of the partial index `entry_for_all`. It is a literal, because neither database uses a partial index
for bound values: a query that wants the index puts this very condition before its own."""

EntryRow.add_index(EntryRow.index(EntryRow.refers, where=EntryRow.refers.is_null(False), name="entry_refers"))
EntryRow.add_index(EntryRow.index(EntryRow.kind, EntryRow.happened, where=FOR_ALL_MACHINES, name="entry_for_all"))
EntryRow.add_index(
    EntryRow.index(EntryRow.machine, EntryRow.happened, EntryRow.recorded, EntryRow.id, name="entry_in_order")
)


class PinRow(RegisterTable):
    """The PIN of one person, hashed in a `way`. It is no entry: it never travels and is in no export."""

    person = pw.TextField(primary_key=True)
    way = pw.TextField()
    salt = pw.TextField()
    hash = pw.TextField()


class PinTryRow(RegisterTable):
    """Failed attempts at a PIN since the last right one, and the time of the last attempt."""

    person = pw.TextField(primary_key=True)
    failed = pw.BigIntegerField()
    last = pw.BigIntegerField()


class MachineRow(RegisterTable):
    """A machine as its entries leave it: derived, so it can be thrown away and rebuilt.

    `state` and `limits` are JSON; the core judges from `limits`, SQL only fetches.
    """

    machine = pw.TextField(primary_key=True)
    tag = pw.TextField()
    name = pw.TextField()
    place = pw.TextField()
    state = pw.TextField()
    limits = pw.TextField()

    class Meta:
        """Its name."""

        table_name = "machine_state"


MachineRow.add_index(MachineRow.index(pw.fn.LOWER(MachineRow.tag), name="machine_state_lower_tag"))


class DoubtfulRow(RegisterTable):
    """A run, or the signature of a check, whose recorded time is later than that of an entry after it in its chain:
    derived."""

    entry = pw.TextField(primary_key=True)


class UncountedRow(RegisterTable):
    """An entry that was carried in and does not count here as it stands, and why (`core/foreign.py`): derived."""

    entry = pw.TextField(primary_key=True)
    why = pw.TextField()


PERSISTENT: tuple[type[RegisterTable], ...] = (AboutRow, EntryRow, PinRow, PinTryRow)
"""The tables that schema steps make and change."""
DERIVED_TABLES: tuple[type[RegisterTable], ...] = (MachineRow, DoubtfulRow, UncountedRow)
"""The tables that are dropped, made and rebuilt; no step knows them."""


class TableMaker(pw.SchemaManager):
    """Makes the table of a model: STRICT in SQLite; a server checks types anyway and does not know the word."""

    def _create_table(self, safe: bool = True, **options: Any) -> pw.Context:
        made: pw.Context = super()._create_table(safe=safe, **options)  # type: ignore[misc]  # not in its stubs
        return made.literal(" STRICT") if isinstance(self.database, pw.SqliteDatabase) else made


def make_tables(db: pw.Database, tables: tuple[type[RegisterTable], ...]) -> None:
    """Make tables with their indexes. Fails where one is there already, whatever its form."""
    for table in tables:
        TableMaker(table, db).create_all(safe=False)


def drop_tables(db: pw.Database, tables: tuple[type[RegisterTable], ...]) -> None:
    """Drop those of the tables that are there."""
    for table in tables:
        TableMaker(table, db).drop_table(safe=True)

"""What of a register's schema is not as this program made it: columns, indexes, triggers that guard the entries.

The models say how it must be; the database says how it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import peewee as pw

from reelcare.register.database.base import Database
from reelcare.register.database.models import DERIVED_TABLES, PERSISTENT, EntryRow, RegisterTable

UNIQUE: Mapping[type[RegisterTable], tuple[tuple[str, ...], ...]] = {EntryRow: (("id",), ("terminal", "place"))}
"""The columns that are unique beside primary keys."""


def schema_problems(db: Database) -> list[str]:
    """A line for everything in the schema that is not as it must be."""
    schema = db.schema_of_tables()
    there = set(db.get_tables(schema=schema))
    found = []
    for table in (*PERSISTENT, *DERIVED_TABLES):
        name = table._meta.table_name
        if name in there:
            found += [*_column_problems(db, table, schema), *_index_problems(db, table, schema)]
        else:
            found.append(f"the table {name} is not there")
    return found + db.trigger_problems()


def _column_problems(db: Database, table: type[RegisterTable], schema: str) -> Iterator[str]:
    name = table._meta.table_name
    wanted = {field.column_name: field for field in table._meta.sorted_fields}
    is_there = {one.name: one for one in db.get_columns(name, schema=schema)}
    for column in sorted(wanted.keys() | is_there.keys()):
        if column not in is_there:
            yield f"the table {name} has no column {column}"
        elif column not in wanted:
            yield f"the table {name} has a column that is not ours: {column}"
        else:
            field, one = wanted[column], is_there[column]
            type_wanted = db.column_types[field.field_type]
            if one.data_type.upper() != type_wanted:
                yield f"the column {column} of {name} is {one.data_type}, not {type_wanted}"
            if not field.primary_key and one.null != field.null:
                yield f"the column {column} of {name} {'may' if one.null else 'may not'} be empty"


def _index_problems(db: Database, table: type[RegisterTable], schema: str) -> Iterator[str]:
    name = table._meta.table_name
    indexes = db.get_indexes(name, schema=schema)
    wanted = {one._name: db.index_form(_text(db, one)) for one in table._meta.fields_to_index()}
    is_there = {one.name: db.index_form(one.sql) for one in indexes if one.sql and not one.unique}
    for index in sorted(wanted.keys() | is_there.keys()):
        if index not in is_there:
            yield f"the index {index} of {name} is not there"
        elif index not in wanted:
            yield f"{name} has an index that is not ours: {index}"
        elif wanted[index] != is_there[index]:
            yield f"the index {index} of {name} is another than ours"
    unique = {tuple(one.columns) for one in indexes if one.unique}
    for columns in UNIQUE.get(table, ()):
        if columns not in unique:
            yield f"{' and '.join(columns)} of {name} need not be unique"


def _text(db: Database, index: pw.Index) -> str:
    text, _ = db.get_sql_context().sql(index).query()
    return str(text)

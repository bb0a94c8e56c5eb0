"""What of a register's schema is not as this program made it: columns, indexes, triggers that guard the entries.

The models say how it must be; the database says how it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import peewee as pw

from reelcare.core.text import _, mark
from reelcare.register.database.base import Database
from reelcare.register.database.models import DERIVED_TABLES, PERSISTENT, EntryRow, RegisterTable

UNIQUE: Mapping[type[RegisterTable], tuple[tuple[str, ...], ...]] = {EntryRow: (("id",), ("terminal", "place"))}
"""The columns that are unique beside primary keys."""


def schema_problems(db: Database) -> list[str]:
    """A line for everything in the schema that is not as it must be."""
    return table_problems(db, (*PERSISTENT, *DERIVED_TABLES)) + db.trigger_problems()


def table_problems(db: Database, tables: Sequence[type[RegisterTable]]) -> list[str]:
    """A line for everything in these tables, their columns and indexes, that is not as it must be."""
    schema = db.schema_of_tables()
    there = set(db.get_tables(schema=schema))
    found = []
    for table in tables:
        name = table._meta.table_name
        if name in there:
            found += [*_column_problems(db, table, schema), *_index_problems(db, table, schema)]
        else:
            found.append(_("the table {name} is not there", name=name))
    return found


def _column_problems(db: Database, table: type[RegisterTable], schema: str) -> Iterator[str]:
    name = table._meta.table_name
    wanted = {field.column_name: field for field in table._meta.sorted_fields}
    is_there = {one.name: one for one in db.get_columns(name, schema=schema)}
    for column in sorted(wanted.keys() | is_there.keys()):
        if column not in is_there:
            yield _("the table {name} has no column {column}", name=name, column=column)
        elif column not in wanted:
            yield _("the table {name} has a column that is not ours: {column}", name=name, column=column)
        else:
            field, one = wanted[column], is_there[column]
            type_wanted = db.column_types[field.field_type]
            if one.data_type.upper() != type_wanted:
                says = mark("the column {column} of {name} is {data_type}, not {type_wanted}")
                yield _(says, column=column, name=name, data_type=one.data_type, type_wanted=type_wanted)
            if not field.primary_key and one.null != field.null:
                yield (
                    _("the column {column} of {name} may be empty", column=column, name=name)
                    if one.null
                    else _("the column {column} of {name} may not be empty", column=column, name=name)
                )


def _index_problems(db: Database, table: type[RegisterTable], schema: str) -> Iterator[str]:
    name = table._meta.table_name
    indexes = db.get_indexes(name, schema=schema)
    wanted = {one._name: db.index_form(_text(db, one)) for one in table._meta.fields_to_index()}
    is_there = {one.name: db.index_form(one.sql) for one in indexes if one.sql and not one.unique}
    for index in sorted(wanted.keys() | is_there.keys()):
        if index not in is_there:
            yield _("the index {index} of {name} is not there", index=index, name=name)
        elif index not in wanted:
            yield _("{name} has an index that is not ours: {index}", name=name, index=index)
        elif wanted[index] != is_there[index]:
            yield _("the index {index} of {name} differs from ours", index=index, name=name)
    unique = {tuple(one.columns) for one in indexes if one.unique}
    for columns in UNIQUE.get(table, ()):
        if columns not in unique:
            yield _("{columns} of {name} need not be unique", columns=" and ".join(columns), name=name)


def _text(db: Database, index: pw.Index) -> str:
    text, _ = db.get_sql_context().sql(index).query()
    return str(text)

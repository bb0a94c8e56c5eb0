"""What the register asks of a database, whichever of the two it is.

Queries are built from the models and run here; no caller writes SQL. Rows come back as plain tuples: models would cost
several times as much.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, ClassVar

import peewee as pw

from reelcare.core.text import _
from reelcare.register.database.errors import translate_errors
from reelcare.register.database.models import NEWEST, AboutRow, RegisterTable
from reelcare.register.errors import NotAllowed, NotThere

WRITES = "IMMEDIATE"
"""A transaction beside which nobody else writes."""
READS = "DEFERRED"
"""A transaction that sees the register as it is at its first query."""
UPGRADES = "EXCLUSIVE"
"""A transaction in which tables are made or changed."""

Row = tuple[Any, ...]


class Database(pw.Database):
    """What both databases offer beyond what peewee gives. Every method raises a RegisterError that says the cure."""

    where: str
    """How this register is named to people; without a password."""
    warning: str = ""
    """What a person should know about where it is, in one line; '' where nothing."""
    persistent: bool = True
    """Whether what is written stays: not in a copy in memory."""
    read_only: bool = False
    """Whether it was opened to read only, so that nothing may be written."""
    released: ClassVar[tuple[tuple[str, ...], ...]]
    """The statements of the released schema steps, in this database's SQL."""
    triggers: ClassVar[tuple[str, ...]]
    """The statements that make the triggers which refuse to change, remove or replace an entry."""
    column_types: ClassVar[Mapping[str, str]]
    """What the database calls the types of columns that peewee names TEXT, BIGINT and BIGAUTO."""
    written: int = 0
    """How many statements have written through this object."""

    def execute_sql(self, sql: str, params: Any = None) -> Any:
        """A cursor over raw SQL, errors as the driver raises them. For this room and tests; others build queries."""
        return super().execute_sql(sql, params)

    def fetch(self, query: pw.Node) -> list[Row]:
        """All rows of a query."""
        with translate_errors(self.where):
            found: list[Row] = self.execute(query).fetchall()
        return found

    def column(self, query: pw.Node) -> list[str]:
        """What a query of one column of texts gives."""
        return [str(one) for (one,) in self.fetch(query)]

    def pairs(self, query: pw.Node) -> dict[str, str]:
        """What a query of two columns of texts gives, the second by the first."""
        return {str(key): str(value) for key, value in self.fetch(query)}

    def ask(self, sql: str, params: Any = None) -> list[Row]:
        """All rows of a statement in raw SQL; for this room alone."""
        with translate_errors(self.where):
            found: list[Row] = self.execute_sql(sql, params).fetchall()
        return found

    def each(self, query: pw.Node) -> Iterator[Row]:
        """The rows of a query one after the other, all of one moment: for many large ones, which are not held at
        once."""
        with translate_errors(self.where):
            yield from self.execute(query)

    def write(self, query: pw.Node) -> int:
        """Run an INSERT, UPDATE or DELETE; returns how many rows it wrote."""
        self.written += 1
        with translate_errors(self.where):
            return int(self.rows_affected(self.execute(query)))

    def insert_many(self, table: type[RegisterTable], columns: Sequence[pw.Field[Any]], rows: Iterable[Row]) -> None:
        """Insert many rows, each with its values in the order of `columns`; the rows may be made while they go in.

        Raises ValueError outside of a transaction, where a failure would leave some of them.
        """
        if not self.in_transaction():
            raise ValueError(_("{table}: many rows go in inside of one transaction", table=table.__name__))
        self.written += 1
        with translate_errors(self.where):
            self._insert_many(table, columns, rows)

    def _insert_many(self, table: type[RegisterTable], columns: Sequence[pw.Field[Any]], rows: Iterable[Row]) -> None:
        raise NotImplementedError

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction beside which nobody else writes: all of it is kept, or nothing.

        Raises NotThere where a newer version has upgraded the register since it was opened.
        """
        if self.read_only:
            raise NotAllowed(_("{where}: open view only; nothing was saved", where=self.where))
        with translate_errors(self.where), self.atomic(WRITES):
            if self.schema_version() != NEWEST:
                raise NotThere(
                    _("{where}: another version of reelcare is using it; start this one again", where=self.where)
                )
            yield

    def try_turn(self) -> contextlib.AbstractContextManager[None] | None:
        """A context in which nobody else can write, or None at once where somebody else is writing: a screen can wait
        without blocking."""
        raise NotImplementedError

    def refuse_another_file(self) -> None:
        """Raise NotThere where what was opened is no longer what others find under its name."""

    @contextlib.contextmanager
    def reading(self) -> Iterator[None]:
        """One consistent view of the register as it is now, whatever others write meanwhile."""
        with translate_errors(self.where), self.atomic(READS):
            yield

    def make_read_only(self) -> None:
        """From now on refuse every change; the database itself refuses it as well."""
        self.read_only = True

    def schema_version(self) -> int:
        """How many schema steps this register has taken."""
        raise NotImplementedError

    def set_schema_version(self, version: int) -> None:
        """Record how many schema steps the register has taken."""
        raise NotImplementedError

    def mark_as_register(self) -> None:
        """Mark a new database as a register, so that it can be told from a stranger's."""
        raise NotImplementedError

    def share(self, tables: Iterable[type[RegisterTable]]) -> None:
        """Let every user of the database who may read and add entries read and write these tables."""

    def has_table(self, name: str) -> bool:
        """Whether there is a table of this name."""
        with translate_errors(self.where):
            return self.table_exists(name)

    def change_token(self) -> object:
        """A token that changes whenever any program writes, this one included."""
        raise NotImplementedError

    def token_of_commit(self) -> Callable[[], object]:
        """Called at the end of a transaction that writes: a function that gives, after the commit, the token of just
        what was committed. Where another program has written since, the token of now is another."""
        raise NotImplementedError

    def integrity_problems(self) -> list[str]:
        """What the database finds wrong with its own structure."""
        raise NotImplementedError

    def schema_of_tables(self) -> str:
        """The name of the schema that the register's tables are in."""
        raise NotImplementedError

    def index_form(self, sql: str) -> tuple[str, str]:
        """What tells an index from another, from the text that makes it: its columns, and of which rows it is."""
        text, _, rows = _bare(sql).partition("where")
        return text[text.index("(") :], rows.replace("(", "").replace(")", "")

    def trigger_forms(self) -> tuple[Mapping[str, object], Mapping[str, object]]:
        """What makes each trigger what it is, by name: of ours, and of those on the register's tables."""
        raise NotImplementedError

    def trigger_problems(self) -> list[str]:
        """A line for each trigger on the register's tables that is missing, switched off, changed or not ours."""
        ours, there = self.trigger_forms()
        found = [_("the trigger {name} is not there", name=name) for name in ours.keys() - there.keys()]
        found += [_("a trigger that is not ours: {name}", name=name) for name in there.keys() - ours.keys()]
        changed = [name for name in ours.keys() & there.keys() if ours[name] != there[name]]
        return sorted(found + [_("the trigger {name} differs from ours", name=name) for name in changed])

    def quoted(self, name: str) -> str:
        """A name for a statement, whatever signs are in it."""
        doubled = name.replace('"', '""')
        return f'"{doubled}"'

    def drop_triggers(self) -> None:
        """Take every trigger on the register's tables away, ours or not."""
        raise NotImplementedError

    def not_looked_at(self) -> list[str]:
        """What a proof cannot see in this database, a line each."""
        return []

    def lenient_text(self) -> contextlib.AbstractContextManager[None]:
        """Inside the block text that is no UTF-8 is read all the same, so that its entry can be named."""
        return contextlib.nullcontext()

    def resume_numbers(self) -> None:
        """After entries that came in with their numbers: the next entry takes the number after theirs."""

    def about(self) -> dict[str, str]:
        """The facts about this register by name."""
        return self.pairs(AboutRow.select(AboutRow.name, AboutRow.value))

    def keep_about(self, name: str, value: str) -> None:
        """Keep a fact about this register, in place of what was kept under that name."""
        row = AboutRow.insert(name=name, value=value)
        self.write(row.on_conflict(conflict_target=[AboutRow.name], preserve=[AboutRow.value]))


def _bare(sql: str) -> str:
    return "".join(sql.casefold().replace('"', "").split())

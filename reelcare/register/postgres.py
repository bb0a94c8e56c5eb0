"""A register on a PostgreSQL server, for depots that share one.

The rules of this file: the same statements as for a file, said in PostgreSQL's words. Whoever writes waits for the one
before, as in a file, so that each chain stays one. The driver (psycopg 3) is an extra, and loaded only here. A password
comes from the usual places of the server's clients, and is never shown.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any, ClassVar

from reelcare.register import steps
from reelcare.register.engine import LOOKS, WRITES, Engine, plainly, pw, rows
from reelcare.register.errors import CannotWrite, NotThere, Refused

WAIT = "5s"
"""How long a writer waits for the one before."""
MARK = "register of reelcare"
"""What stands on the table of entries, and tells a register of ours from another database."""


@lru_cache(maxsize=512)
def translated(sql: str) -> str:
    """A statement of this room with psycopg's marks for values.

    >>> translated("SELECT id FROM entry WHERE id LIKE '%' || ? AND machine = :machine")
    "SELECT id FROM entry WHERE id LIKE '%%' || %s AND machine = %(machine)s"
    """
    return re.sub(r"(?<!:):([a-z_0-9]+)", r"%(\1)s", sql.replace("%", "%%").replace("?", "%s"))


class Postgres(Engine, pw.PostgresqlDatabase):
    """A register on a server."""

    greatest: ClassVar[str] = "GREATEST"
    by_scan: ClassVar[str] = ""
    param = "?"

    def __init__(self, url: str, where: str, driver: Any) -> None:
        super().__init__(url, autoconnect=False)
        self.where = where
        self._adapter = _adapter(driver)

    def init(self, database: str | None, *_: Any, **more: Any) -> None:
        """As peewee does it, but for the choice of a driver: that is ours."""
        self._register_unicode, self._encoding, self._isolation_level = True, None, None
        pw.Database.init(self, database, **more)

    def _connect_again_where_lost(self) -> None:
        if not self.is_closed() and self.connection().closed:
            self.close()
            self.connect()
            if self.looks_only:
                super().execute_sql(_NO_CHANGES)

    def execute_sql(self, sql: str, params: Any = None) -> Any:
        """One statement, in the words of this room; after a lost connection, on a new one."""
        if not self.in_transaction():
            self._connect_again_where_lost()
        return super().execute_sql(translated(sql), params)

    def begin(self, kind: str | None = WRITES) -> None:
        """A transaction in which nobody else writes, or one that sees the register as it stands."""
        self._connect_again_where_lost()
        if kind == LOOKS:
            super().execute_sql("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            return
        super().execute_sql("BEGIN")
        try:
            super().execute_sql("SELECT pg_advisory_xact_lock(to_regclass('entry')::oid::bigint)")
        except BaseException:
            self.rollback()
            raise

    @contextlib.contextmanager
    def hurried(self) -> Iterator[None]:
        """While it lasts, commits are not waited for."""
        self.execute_sql("SET synchronous_commit = off")
        try:
            yield
        finally:
            self.execute_sql("SET synchronous_commit = on")

    def only_look(self) -> None:
        """From now on refuse every change, here and on the server; after a lost connection on the new one as well."""
        super().only_look()
        self.execute_sql(_NO_CHANGES)

    def shape(self) -> int:
        """How many steps of the schema this register has taken."""
        return int(rows(self, "SELECT value FROM about WHERE name = 'schema'")[0][0])

    def has_table(self, name: str) -> bool:
        """Whether there is a table of this name."""
        return rows(self, "SELECT to_regclass(?)", name)[0][0] is not None

    def many(self, sql: str, values: Iterable[tuple[Any, ...]]) -> None:
        """One statement for many rows of values; the rows of an INSERT travel together."""
        kept = list(values)
        if not kept:
            return
        columns = re.fullmatch(r"INSERT INTO (\w+ \([\w, ]+\)) VALUES \([?, ]+\)", sql)
        cursor = self.connection().cursor()
        if columns is None:
            cursor.executemany(translated(sql), kept)
            return
        with cursor.copy(f"COPY {columns[1]} FROM STDIN") as copy:
            for row in kept:
                copy.write_row(row)

    def numbers_go_on(self) -> None:
        """After rows that came in with their numbers: the next entry takes the number after theirs."""
        self.execute_sql(
            "SELECT setval(pg_get_serial_sequence('entry', 'number'), COALESCE((SELECT MAX(number) FROM entry), 0) + 1,"
            " false)"
        )

    def change(self) -> object:
        """A mark that is another one once somebody has written."""
        # by the numbers of the entries: they are given in the order of writing, one writer at a time
        return rows(self, "SELECT MAX(number), (SELECT COUNT(*) FROM machine_now) FROM entry")[0]

    def faults(self) -> list[str]:
        """What the server says of its own pages: where it counts check sums, that no page was wrong."""
        failed = rows(
            self,
            "SELECT COALESCE(checksum_failures, 0) FROM pg_stat_database WHERE datname = current_database()",
        )
        return [f"the server counted {failed[0][0]} pages with a wrong check sum"] if failed and failed[0][0] else []


_NO_CHANGES = "SET default_transaction_read_only = on"


def _adapter(driver: Any) -> Any:
    status = driver.pq.TransactionStatus

    class Adapter(pw.Psycopg3Adapter):
        """peewee's adapter for a driver that was not there when peewee was loaded."""

        txn_idle, txn_inerror, txn_unknown = status.IDLE, status.INERROR, status.UNKNOWN

        def __init__(self) -> None:
            """No JSON types: the register keeps text."""

        def check_driver(self) -> None:
            """It is there."""

        def connect(self, db: Any, **params: Any) -> Any:
            # values are put into the statement by the driver: each statement is sent once, and nothing is prepared
            made = driver.connect(
                db.database, autocommit=True, cursor_factory=driver.ClientCursor, connect_timeout=10,
                application_name="reelcare", **params,
            )  # fmt: skip
            # what was acknowledged is on the disk, whatever the server's settings are
            made.execute(f"SET lock_timeout = '{WAIT}'")
            made.execute("SET synchronous_commit = on")
            made.execute("SET client_min_messages = warning")
            return made

        def rollback(self, conn: Any) -> None:
            conn.rollback()

    return Adapter()


def open_database(url: str, where: str, *, create: bool, look: bool = False) -> Postgres:
    """The register at a postgresql:// URL, told as `where`, with every step taken; to `look` only, none is taken.

    Raises a RegisterError in one clear line.
    """
    try:
        import psycopg
        from psycopg import conninfo
    except ImportError:
        raise NotThere("a register on a server needs the extra `postgres`: pip install 'reelcare[postgres]'") from None
    try:
        told = conninfo.conninfo_to_dict(url)
    except psycopg.Error:
        raise NotThere(f"{where}: not to be read; write it as postgresql://USER@HOST/DATABASE") from None
    db = Postgres(url, where, psycopg)
    with plainly(db.where):
        db.connect()
        try:
            _settle(db, create=create, look=look)
            db.heed = _heed(db, told)
        except BaseException:
            db.close()
            raise
    return db


def _heed(db: Postgres, told: dict[str, Any]) -> str:
    if told.get("password"):
        return f"{db.where}: a password in the URL can be read by others here; keep it in a .pgpass file"
    host = str(told.get("host", ""))
    local = not host or host.startswith("/") or host in ("localhost", "127.0.0.1", "::1")
    if not local and not db.connection().pgconn.ssl_in_use:
        return f"{db.where}: the connection is not encrypted; ask for it with ?sslmode=require"
    return ""


def _settle(db: Postgres, *, create: bool, look: bool) -> None:
    if rows(db, "SHOW server_encoding")[0][0] != "UTF8":
        raise NotThere(f"{db.where}: its encoding is not UTF8; make the database anew with ENCODING 'UTF8'")
    if db.has_table("entry"):
        marked = rows(db, "SELECT obj_description(to_regclass('entry')::oid, 'pg_class')")[0][0]
        if marked != MARK:
            raise NotThere(f"{db.where}: a database, but not a register of ours; it was left as it was")
    elif rows(db, "SELECT 1 FROM pg_class WHERE relnamespace = current_schema()::regnamespace LIMIT 1"):
        raise NotThere(f"{db.where}: a database with other things in it; it was left as it was. Name an empty one")
    elif not create:
        raise NotThere(f"{db.where}: no register is there yet")
    done = db.shape() if db.has_table("about") else 0
    if done > steps.NEWEST:
        raise NotThere(
            f"{db.where}: a register of a newer version (its schema is {done}, this program knows {steps.NEWEST}): "
            "open it with a newer reelcare"
        )
    if look and _is_older(db, done):
        raise CannotWrite(
            f"{db.where}: an older version wrote it, and it is opened to look only; open it once to write, which brings"
            " it up to date"
        )
    if done < steps.NEWEST:
        _take(db)


def _is_older(db: Postgres, done: int) -> bool:
    kept = "SELECT value FROM about WHERE name = 'derived'"
    return done < steps.NEWEST or rows(db, kept) != [(steps.DERIVED,)]


def _take(db: Postgres) -> None:
    """Take the steps that are still to be taken, all in one transaction."""
    with _alone(db):
        # another program may have taken them while this one waited
        done = db.shape() if db.has_table("about") else 0
        for step in steps.STEPS[done:]:
            for statement in step:
                for said in in_postgres(statement):
                    db.connection().execute(said)
        if done == 0:
            db.connection().execute(f"COMMENT ON TABLE entry IS '{MARK}'")
        db.execute_sql(steps.KEEP_ABOUT, ("schema", str(steps.NEWEST)))


@contextlib.contextmanager
def _alone(db: Postgres) -> Iterator[None]:
    connection = db.connection()
    connection.execute("BEGIN")
    try:
        # one name for all registers of this server: making one takes a moment
        connection.execute(f"SELECT pg_advisory_xact_lock({steps.APPLICATION_ID})")
        yield
    except BaseException:
        connection.rollback()
        raise
    connection.commit()


_COLUMN_TYPES = (
    (r"\bINTEGER PRIMARY KEY", "BIGINT GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY"),
    (r"\bINTEGER\b", "BIGINT"),
    (r"\bREAL\b", "DOUBLE PRECISION"),
    # byte by byte, as SQLite orders text
    (r"\bTEXT\b", 'TEXT COLLATE "C"'),
    (r"\) STRICT(, WITHOUT ROWID)?$", ")"),
)

_REFUSAL = """CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION '{says}'; END $$"""


def in_postgres(statement: str) -> list[str]:
    """A statement of a step, said in PostgreSQL's words. Raises Refused for one that it has no words for."""
    if statement.startswith("CREATE TRIGGER"):
        return _trigger(statement)
    if not statement.startswith(("CREATE TABLE", "CREATE INDEX", "ALTER TABLE")):
        raise Refused(f"no step in PostgreSQL: {statement[:40]}")
    said = statement
    for pattern, instead in _COLUMN_TYPES:
        said = re.sub(pattern, instead, said)
    found = [said]
    if said.startswith("CREATE TABLE entry "):
        # the one function of SQLite's that the statements of this room call and PostgreSQL has under another name
        found.append(
            "CREATE FUNCTION json_extract(body text, path text) RETURNS text LANGUAGE sql IMMUTABLE AS"
            " $$ SELECT body::json ->> substr(path, 3) $$"
        )
    return found


def _trigger(statement: str) -> list[str]:
    name = statement.split()[2]
    says = re.search(r"RAISE\(ABORT, '([^']+)'\)", statement)
    if " BEFORE INSERT " in statement:
        return []  # an entry that is there already is refused by the table's own UNIQUE
    assert says is not None
    event = "UPDATE" if " BEFORE UPDATE " in statement else "DELETE"
    found = [
        _REFUSAL.format(name=name, says=says[1]),
        f"CREATE TRIGGER {name} BEFORE {event} ON entry FOR EACH ROW EXECUTE FUNCTION {name}()",
        # also where a session asks for triggers to rest
        f"ALTER TABLE entry ENABLE ALWAYS TRIGGER {name}",
    ]
    if event == "DELETE":
        found.append(f"CREATE TRIGGER {name}_all BEFORE TRUNCATE ON entry EXECUTE FUNCTION {name}()")
        found.append(f"ALTER TABLE entry ENABLE ALWAYS TRIGGER {name}_all")
    return found

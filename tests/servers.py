"""A PostgreSQL server of the tests' own: started in a folder that is thrown away, never as root, reached by a socket.

Its programs come from the system's packages (`initdb` on the path, or where Debian keeps them) or from the package
`pgserver`. Where there are none the tests that need it are skipped; with REELCARE_NEEDS_POSTGRES set they fail.
"""

import itertools
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

on_a_server = pytest.mark.parametrize("place", ["server"], indirect=True)
in_a_file = pytest.mark.parametrize("place", ["file"], indirect=True)
"""Marks a test of what is true of a register in a file alone."""
longer_on_a_server = pytest.mark.parametrize(
    "place", ["file", pytest.param("server", marks=pytest.mark.long)], indirect=True
)
"""Marks a test that asks much of both: on a server it is one of the long ones."""
_numbers = itertools.count(1)


def programs() -> Path | None:
    """The folder with `initdb` and `postgres`."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: path.parts[-3])
    on_path = shutil.which("initdb")
    if found or on_path:
        return (found[-1] if found else Path(str(on_path)).resolve()).parent
    try:
        import pgserver  # type: ignore[import-not-found]  # there or not
    except ImportError:
        return None
    return Path(pgserver.__file__).parent / "pginstall" / "bin"


def nobody() -> str | None:
    """Who the server runs as, where the tests themselves run as root."""
    if os.geteuid() != 0:
        return None
    names = {one.pw_name for one in pwd.getpwall()}
    return next(name for name in ("postgres", "nobody") if name in names)


class Server:
    """A server that runs; `fresh` makes an empty database in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.log = folder / "log"
        """The file that it writes its messages into."""

    def url(self, database: str) -> str:
        return f"postgresql://reel@/{database}?host={self.folder}"

    def fresh(self) -> str:
        """The URL of a new empty database."""
        import psycopg

        name = f"reels_{os.getpid()}_{next(_numbers)}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return self.url(name)

    def drop(self, url: str) -> None:
        import psycopg

        name = url.partition("reel@/")[2].partition("?")[0]
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@contextmanager
def running() -> Iterator[Server | None]:
    """A server for as long as the tests run; None where there are no programs for one."""
    where = programs()
    try:
        import psycopg
    except ImportError:
        where = None
    if where is None:
        if os.environ.get("REELCARE_NEEDS_POSTGRES"):
            raise RuntimeError("no PostgreSQL server or driver is here, and REELCARE_NEEDS_POSTGRES asks for one")
        yield None
        return
    folder = Path(tempfile.mkdtemp(prefix="reelcare-pg-"))
    user = nobody()
    if user is not None:
        shutil.chown(folder, user)
    data = folder / "data"
    made = Server(folder)
    subprocess.run(
        [where / "initdb", "-D", data, "-U", "reel", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"],
        check=True, user=user, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
    )  # fmt: skip
    settings = ("listen_addresses=", f"unix_socket_directories={folder}", "fsync=off", "full_page_writes=off")
    asked = [item for one in settings for item in ("-c", one)]
    # into a file: a server that nobody reads from stands still once a pipe is full
    with made.log.open("ab") as written:
        server = subprocess.Popen(
            [where / "postgres", "-D", data, *asked],
            user=user, cwd=folder, stdin=subprocess.DEVNULL, stdout=written, stderr=written,
        )  # fmt: skip
    try:
        for _ in range(600):
            try:
                psycopg.connect(made.url("postgres")).close()
                break
            except psycopg.OperationalError:
                if server.poll() is not None:
                    raise RuntimeError(made.log.read_text("utf-8", "replace")) from None
                time.sleep(0.02)  # it is not there yet, and tells nobody when it is
        yield made
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(timeout=30)
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[Server]:
    """The server of this test run."""
    with running() as made:
        if made is None:
            pytest.skip("no PostgreSQL server or driver is here")
        yield made

"""Where the program finds what it ships, where it keeps what is the user's, and how a file gets onto the disk.

In a checkout `checklists/` and `demo/` lie beside the package and are used as they are; in an installed wheel
they lie inside it. The user's own folders follow the system's custom (platformdirs).
"""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from itertools import chain, count
from pathlib import Path
from typing import IO, Literal

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

SERVERS = ("postgresql://", "postgres://")
"""How a register is named that is no file, but on a server."""
LOGS = ("-wal", "-shm", "-journal")
"""What SQLite lays beside a file that it has open."""
MADE, LOCK = ".new", "-lock"
"""How the name of a file ends that is still being made, and how that of its lock goes on."""
A_DAY = 24 * 3600.0
"""Seconds after which a file without a lock was left by a program that is gone."""
_PACKAGE = Path(__file__).resolve().parent


def free_ending(is_taken: Callable[[str], bool], joint: str = "_") -> str:
    """What to put after a name so that it is not taken: nothing, or _2, _3, ..."""
    return next(end for end in chain([""], (f"{joint}{number}" for number in count(2))) if not is_taken(end))


def folder(name: Literal["checklists", "demo"]) -> Path:
    """A folder that the program ships. Raises FileNotFoundError where the installation is not whole."""
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    installed = _PACKAGE / "_data" / name
    if installed.is_dir():
        return installed
    raise FileNotFoundError(f"{name}: missing from this installation; install reelcare again")


def config_folder() -> Path:
    """The user's settings, sheets and plans (it need not exist)."""
    from platformdirs import user_config_path

    return user_config_path("reelcare", appauthor=False)


def data_folder() -> Path:
    """Where the user's register is kept when none is named (it need not exist)."""
    from platformdirs import user_data_path

    return user_data_path("reelcare", appauthor=False)


def downloads_folder() -> Path:
    """Where people look for a file that they were given, as it is called in their language (it need not exist)."""
    from platformdirs import user_downloads_path

    return user_downloads_path()


@contextlib.contextmanager
def being_made(path: Path) -> Iterator[Path]:
    """An empty file beside `path`, hidden, private to its owner, under a name that nobody can guess.

    `settle` gives it its name; at the end it is gone otherwise, with what a database lays beside it, and so is what
    killed programs left of the same. A lock beside it tells others that it is still being made. Raises OSError.
    """
    sweep(path)
    file = path.with_name(f"{_prefix(path)}{os.urandom(6).hex()}{MADE}")
    lock = file.with_name(file.name + LOCK)
    held = _private(lock)
    try:
        _is_locked(held)
        os.close(_private(file))
        try:
            yield file
        finally:
            _remove(file)
    finally:
        os.close(held)
        lock.unlink(missing_ok=True)


def _private(path: Path) -> int:
    """A file of one's own, newly made; nobody's link is followed."""
    return os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_NOFOLLOW", 0), 0o600)


def is_being_made(path: Path) -> bool:
    """Whether this is the name of a file that has not got its own yet."""
    return path.name.startswith(".") and path.name.endswith(MADE)


def meant(path: Path) -> Path:
    """The name that a file gets once it is made, as people know it; any other name as it is.

    >>> meant(Path("/a/.r.db.00ce5b7adc09.new")).name, meant(Path("/a/r.db")).name
    ('r.db', 'r.db')
    """
    return path.with_name(path.name.removesuffix(MADE).rpartition(".")[0][1:]) if is_being_made(path) else path


def sweep(path: Path) -> None:
    """Take away what killed programs left of a file that they were making; it is `path`, or any in it if a folder."""
    folder, prefix = (path, ".") if path.is_dir() else (path.parent, _prefix(path))
    with contextlib.suppress(OSError):
        for found in os.scandir(folder):
            name, ending, _ = found.name.rpartition(MADE)
            if ending and found.name.startswith(prefix):
                with contextlib.suppress(OSError):
                    _sweep_one(folder / f"{name}{ending}", found.stat(follow_symlinks=False).st_mtime)


def _sweep_one(file: Path, changed: float) -> None:
    lock = file.with_name(file.name + LOCK)
    try:
        handle = os.open(lock, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
    except FileNotFoundError:
        # just begun, or left by a version that made no locks
        if time.time() - changed > A_DAY:
            _remove(file)
        return
    try:
        if _is_locked(handle):
            _remove(file)
            lock.unlink(missing_ok=True)
    finally:
        os.close(handle)


def _is_locked(handle: int) -> bool:
    """Lock an open file for this program, where nobody else has; where there are no locks (Windows), an open file
    cannot be taken away, and that is one."""
    if fcntl is not None:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
    return True


def _prefix(path: Path) -> str:
    """How the hidden name begins; the whole is never longer than a name that can be (255 bytes on most systems)."""
    name = os.fsencode(path.name)
    kept = path.name if len(name) <= 225 else os.fsdecode(name[:200]).encode("utf-8", "ignore").decode("utf-8")
    return f".{kept}."


def _remove(file: Path) -> None:
    for end in ("", *LOGS, ".heads", ".queue"):
        with contextlib.suppress(OSError):
            file.with_name(file.name + end).unlink(missing_ok=True)


def write_whole(path: Path, write: Callable[[IO[bytes]], object], *, replace: bool = False, mode: int = 0o600) -> None:
    """Make a file that is there whole under its name and on the disk, or not at all; private, unless `mode` says more.

    Raises FileExistsError where the name is taken and `replace` does not say otherwise, OSError where it cannot be
    written; nothing is left behind then.
    """
    with being_made(path) as made:
        with made.open("wb") as file:
            write(file)
        if mode != 0o600:
            made.chmod(mode)
        settle(made, path, replace=replace)


def settle(made: Path, path: Path, *, replace: bool = False) -> None:
    """Give a finished file its name, so that both are there after a power cut. Raises as `write_whole`."""
    handle = os.open(made, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    if replace:
        os.replace(made, path)
    else:
        try:
            os.link(made, path)
        except FileExistsError:
            raise
        except OSError:
            if path.exists():
                raise FileExistsError(str(path)) from None
            os.replace(made, path)  # a file system without links
    with contextlib.suppress(OSError):
        # where a folder can be synced, its new name is too
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

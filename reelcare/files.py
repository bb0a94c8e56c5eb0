"""Where the program finds what it ships, where it keeps what is the user's, and how a file gets onto the disk.

In a checkout `checklists/` and `demo/` lie beside the package and are used as they are; in an installed wheel
they lie inside it. The user's own folders follow the system's custom (platformdirs).
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import IO, Literal

SERVERS = ("postgresql://", "postgres://")
"""How a register is named that is no file, but on a server."""
_PACKAGE = Path(__file__).resolve().parent


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


def building(path: Path) -> Path:
    """Where a file is made before it has its name: beside it, hidden, this process's own; never longer than a name that
    can be (255 bytes on most systems)."""
    name = os.fsencode(path.name)
    kept = path.name if len(name) <= 230 else os.fsdecode(name[:200]).encode("utf-8", "ignore").decode("utf-8")
    return path.with_name(f".{kept}.{os.getpid()}.new")


def write_whole(path: Path, write: Callable[[IO[bytes]], None], *, replace: bool = False) -> None:
    """Make a file that is there whole under its name, private to its owner and on the disk, or not at all.

    Raises FileExistsError where the name is taken and `replace` does not say otherwise, OSError where it cannot be
    written; nothing is left behind then.
    """
    made = building(path)
    try:
        handle = os.open(made, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "wb") as file:
            write(file)
        settle(made, path, replace=replace)
    finally:
        with contextlib.suppress(OSError):
            made.unlink(missing_ok=True)


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

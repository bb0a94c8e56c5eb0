"""How a report reaches the disk: whole under its name, or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from reelcare.register.errors import CannotWrite, Refused


def write(path: Path, data: bytes, *, replace: bool = False) -> None:
    """Write a file, private to its owner. Raises Refused where it exists, CannotWrite where it cannot be written."""
    if path.is_dir():
        raise Refused(f"{path}: a folder; name a file in it")
    if path.exists() and not replace:
        raise Refused(f"{path}: exists already; name another file, or say --replace")
    building = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        handle = os.open(building, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(building, path)
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be written ({why.strerror})") from None
    finally:
        building.unlink(missing_ok=True)

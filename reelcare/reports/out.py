"""How a report reaches the disk: whole under its name, or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import IO

from reelcare import files
from reelcare.register.errors import CannotWrite, Refused


def write(path: Path, data: bytes, *, replace: bool = False) -> None:
    """Write a file, private to its owner. Raises Refused where it exists, CannotWrite where it cannot be written."""

    def put(file: IO[bytes]) -> None:
        file.write(data)

    try:
        if path.is_dir():
            raise Refused(f"{path}: a folder; name a file in it")
        files.write_whole(path, put, replace=replace)
    except FileExistsError:
        raise Refused(f"{path}: exists already; name another file, or say --replace") from None
    except OSError as why:
        raise CannotWrite(f"{path}: cannot be written ({why.strerror})") from None

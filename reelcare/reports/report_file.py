"""How a report reaches the disk: whole under its name, or not at all."""

from __future__ import annotations

from pathlib import Path

from reelcare import files
from reelcare.core.text import _, mark
from reelcare.register.errors import Refused, into_a_file


def write(path: Path, data: bytes, *, replace: bool = False, mode: int = 0o600) -> None:
    """Write a file, private to its owner unless `mode` says more. Raises Refused where it exists, CannotWrite where it
    cannot be written."""
    with into_a_file(path, made=mark("written"), cure=mark("name another file, or say --replace")):
        if path.is_dir():
            raise Refused(_("{path}: a folder; name a file in it", path=path))
        files.write_whole(path, lambda file: file.write(data), replace=replace, mode=mode)

"""The lines of a run log that were refused, left beside it so that they can be put right and brought again."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from reelcare import files
from reelcare.core.text import _, mark
from reelcare.register.errors import CannotWrite


def write_rejected(path: Path, rows: Iterable[Sequence[str]]) -> Path:
    """Write rows beside a run log, private, under a name that is not taken; returns it. Raises CannotWrite."""
    lines = io.StringIO(newline="")
    csv.writer(lines).writerows(rows)
    more = files.free_ending(lambda more: path.with_name(f"{path.stem}.refused{more}.csv").exists(), "-")
    name = path.with_name(f"{path.stem}.refused{more}.csv")
    try:
        files.write_whole(name, lambda out: out.write(lines.getvalue().encode("utf-8")))
    except OSError as why:
        says = mark("{name}: the bad lines cannot be left here ({strerror}); nothing was brought in")
        raise CannotWrite(_(says, name=name, strerror=why.strerror)) from None
    return name

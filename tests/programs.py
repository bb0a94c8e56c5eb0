"""Programs as a user runs them, for the benchmarks: from bytecode, and with the extras of this environment named.

A workplace can forbid bytecode (`PYTHONDONTWRITEBYTECODE`), or hold some that is older than its source: then each start
compiles all that it loads, which takes longer than the program does.
"""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path


def compiled(folder: Path) -> None:
    """From here on every program that is started keeps its bytecode in a folder; run each once before it is timed."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = str(folder / "bytecode")


def tell_of_extras() -> None:
    """Say where psycopg is installed: peewee loads it, and every start takes longer."""
    if importlib.util.find_spec("psycopg") is not None:
        print("psycopg is installed here: the budgets of a start are for an environment without it")

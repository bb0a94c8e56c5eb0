"""How this very installation is run and added to: lines that work as they stand, typed where the program runs.

Asking costs nothing where nothing is missing: what is not of the standard library's lightest is imported as it is used.
"""

from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path

_CHECKOUT = Path(__file__).resolve().parent.parent


def command() -> str:
    """What whoever runs the program types: `reelcare`, or `python3 start.py` in a checkout that start.py made ready.

    Another folder than the current one is named.
    """
    if not _is_by_start():
        return "reelcare"
    script = Path("start.py") if Path.cwd() == _CHECKOUT else _CHECKOUT / "start.py"
    return f"py {_quoted(script)}" if os.name == "nt" else f"python3 {_quoted(script)}"


def adds(extra: str) -> str:
    """The command that installs an extra (`pdf`) into this very installation.

    What the extra needs is named itself: no index is asked for a package of the name of this program.
    """
    if _is_by_start():
        return f"{command()} --with {extra}"
    from importlib.util import find_spec

    python = _quoted(Path(sys.executable))
    pip = f"{python} -m pip install" if find_spec("pip") else f"uv pip install --python {python}"
    return " ".join((pip, *(f'"{one}"' for one in needed_by(extra))))


def needed_by(extra: str) -> list[str]:
    """What an extra needs, as this installation says it: `fpdf2<3,>=2.8`; the extra itself where it says nothing."""
    from importlib.metadata import PackageNotFoundError, requires

    try:
        said = requires("reelcare") or []
    except PackageNotFoundError:
        said = []
    parts = [line.partition(";") for line in said]
    mine = [needs.strip() for needs, _semicolon, when in parts if f'extra == "{extra}"' in when.replace("'", '"')]
    return mine or [f"reelcare[{extra}]"]


def _is_by_start() -> bool:
    return (_CHECKOUT / "start.py").is_file() and Path(sys.prefix).resolve() == (_CHECKOUT / ".venv").resolve()


def _quoted(path: Path) -> str:
    return f'"{path}"' if os.name == "nt" else shlex.quote(str(path))

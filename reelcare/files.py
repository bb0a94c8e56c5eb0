"""Where the program finds what it ships, and where it keeps what is the user's.

In a checkout `checklists/` and `demo/` lie beside the package and are used as they are; in an installed wheel
they lie inside it. The user's own folders follow the system's custom (platformdirs).
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

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

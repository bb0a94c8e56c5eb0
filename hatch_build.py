"""Puts `checklists` and `demo` into the wheel, under `reelcare/_data`.

An editable install gets no copies: it uses the folders of the checkout as they are (see reelcare/files.py).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.config import BuilderConfig
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

SHIPPED = ("checklists", "demo")
LEFT_OUT = {".db", ".db-wal", ".db-shm", ".pyc"}


class ShippedFolders(BuildHookInterface[BuilderConfig]):
    """Names every file of the shipped folders, so that a missing folder stops the build."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Add the files to the wheel that is being built."""
        if version != "standard":
            return
        root = Path(self.root)
        for name in SHIPPED:
            found = sorted((root / name).rglob("*"))
            files = [path for path in found if path.is_file() and path.suffix not in LEFT_OUT]
            if not files:
                raise FileNotFoundError(f"{root / name}: nothing in it to ship")
            for path in files:
                inside = path.relative_to(root).as_posix()
                build_data["force_include"][str(path)] = f"reelcare/_data/{inside}"

"""Compiles the catalogues of all languages, and puts `checklists` and `demo` into the wheel, under `reelcare/_data`.

An editable install gets no copies: it uses the folders of the checkout as they are (see reelcare/files.py).
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from hatchling.builders.config import BuilderConfig
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

SHIPPED = ("checklists", "demo")
LEFT_OUT = {".db", ".db-wal", ".db-shm", ".pyc"}
CATALOGUES = "reelcare/locale/*/LC_MESSAGES/*.po"


class ShippedFolders(BuildHookInterface[BuilderConfig]):
    """Names every file of the shipped folders, so that a missing folder stops the build."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compile what has to be, and add the files to the wheel that is being built."""
        root = Path(self.root)
        compile_catalogues(root)
        if self.target_name != "wheel" or version != "standard":
            return
        for name in SHIPPED:
            found = sorted((root / name).rglob("*"))
            files = [path for path in found if path.is_file() and path.suffix not in LEFT_OUT]
            if not files:
                raise FileNotFoundError(f"{root / name}: nothing in it to ship")
            for path in files:
                inside = path.relative_to(root).as_posix()
                build_data["force_include"][str(path)] = f"reelcare/_data/{inside}"


def compile_catalogues(root: Path) -> None:
    """Write each catalogue (.po) below `root` beside itself in the form that is read at run time (.mo)."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    found = sorted(root.glob(CATALOGUES))
    if not found:
        raise FileNotFoundError(f"{root / CATALOGUES}: no catalogue to compile")
    for path in found:
        with path.open("rb") as file:
            catalogue = read_po(file, abort_invalid=True)
        made = path.with_suffix(f".{os.getpid()}.new")  # two programs that compile at once do not meet
        with made.open("wb") as compiled:
            write_mo(compiled, catalogue)
        made.replace(path.with_suffix(".mo"))

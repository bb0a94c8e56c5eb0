"""`bring`: run logs from a CSV file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.core.text import _, plural
from reelcare.register.exchange import run_logs as bringing


def bring(asked: argparse.Namespace) -> int:
    """Bring a run log in; bad lines are named, one a line, on standard error."""
    with common.open_register(asked) as register:
        done = bringing.bring(
            register, Path(asked.file), by=common.by(asked), now=common.now(), keep_good=asked.keep_good,
            progress=_progress if sys.stderr.isatty() else lambda done, of: None,
        )  # fmt: skip
    for one in done.bad:
        common.say(f"{asked.file}, {one}")
    if asked.json:
        common.print_json(
            {
                "brought": done.brought,
                "skipped": done.skipped,
                "refused": [{"line": one.line, "column": one.column, "what": one.what} for one in done.bad],
                "left": str(done.left) if done.left else None,
            }
        )
    if done.bad and not asked.keep_good:
        lines = len({one.line for one in done.bad})
        raise Problem(
            plural(
                "{file}: {n} line cannot be true, nothing was brought in; --keep-good takes the others",
                "{file}: {n} lines cannot be true, nothing was brought in; --keep-good takes the others",
                lines,
                file=asked.file,
            )
        )
    if not asked.json:
        told = plural("{n} run brought in", "{n} runs brought in", done.brought)
        common.say(_("{brought}, {skipped} were here already", brought=told, skipped=done.skipped))
        if done.left:
            common.say(_("{n} left in {file}", n=len({one.line for one in done.bad}), file=done.left))
    return 0


def _progress(done: int, of: int) -> None:
    width = 30
    full = width * done // max(of, 1)
    sys.stderr.write(f"\r[{'#' * full}{'.' * (width - full)}] {done} of {of}\r")
    sys.stderr.flush()

"""`bring`: run logs from a CSV file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.parser import Problem
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
            f"{asked.file}: {lines} line{'' if lines == 1 else 's'} cannot be true, nothing was brought in; "
            "--keep-good takes the others"
        )
    if not asked.json:
        left = f", {len({one.line for one in done.bad})} left in {done.left}" if done.left else ""
        common.say(f"{done.brought} runs brought in, {done.skipped} were here already{left}")
    return 0


def _progress(done: int, of: int) -> None:
    width = 30
    full = width * done // max(of, 1)
    sys.stderr.write(f"\r[{'#' * full}{'.' * (width - full)}] {done} of {of}\r")
    sys.stderr.flush()

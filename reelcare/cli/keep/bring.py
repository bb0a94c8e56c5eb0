"""`bring`: run logs from a CSV file, or from a spreadsheet in a person's own columns."""

from __future__ import annotations

import argparse
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.terminal import progress_bar
from reelcare.core.text import _, plural
from reelcare.register.exchange import run_logs as bringing
from reelcare.register.exchange import spreadsheets
from reelcare.register.exchange.first_day import done_tables
from reelcare.register.writing.writer import Writer


def bring(asked: argparse.Namespace) -> int:
    """Bring a run log in, or when items were last done; bad lines are named, one a line, on standard error."""
    if asked.last_done and asked.keep_good:
        raise Problem(_("--keep-good is for run logs: dates of services are brought in all or none"))
    with common.open_register(asked) as register:
        if asked.last_done:
            return last_done(asked, register, asked.file, by=common.by(asked))
        done = bring_runs(asked, register, asked.file, by=common.by(asked), keep_good=asked.keep_good)
    if asked.json:
        refused = [{"line": one.line, "column": one.column, "what": one.what} for one in done.bad]
        left = str(done.left) if done.left else None
        common.print_json({"brought": done.brought, "skipped": done.skipped, "refused": refused, "left": left})
    if done.bad and not asked.keep_good:
        lines = len({one.line for one in done.bad})
        raise Problem(
            plural(
                "{file}: {n} line has an error, nothing was brought in; --keep-good takes the others",
                "{file}: {n} lines have errors, nothing was brought in; --keep-good takes the others",
                lines,
                file=asked.file,
            )
        )
    if not asked.json:
        common.say_brought(plural("{n} run brought in", "{n} runs brought in", done.brought), done.skipped)
        if done.left:
            common.say(_("{n} left in {file}", n=len({one.line for one in done.bad}), file=done.left))
    return 0


def bring_runs(
    asked: argparse.Namespace, register: Writer, file: str, *, by: str, keep_good: bool = False
) -> bringing.Brought:
    """Bring the runs of a run log or a spreadsheet in; each bad line is named on standard error."""
    path, now, progress = Path(file), common.now(), progress_bar()
    if asked.matching or spreadsheets.is_workbook(path):
        matching = spreadsheets.matching_in(asked.matching)
        done = spreadsheets.bring_runs(register, path, matching, by=by, now=now, keep_good=keep_good, progress=progress)
    else:
        done = bringing.bring(register, path, by=by, now=now, keep_good=keep_good, progress=progress)
    for one in done.bad:
        common.say(f"{file}, {one}")
    common.say_not_read(file, done.not_read)
    return done


def last_done(asked: argparse.Namespace, register: Writer, file: str, *, by: str, quiet: bool = False) -> int:
    """Bring in when items of the plan were last done, all or nothing; each bad cell is named on standard error."""
    matching, progress = spreadsheets.matching_in(asked.matching), progress_bar()
    done = done_tables.bring_last_done(register, Path(file), matching, by=by, now=common.now(), progress=progress)
    for one in done.bad:
        common.say(f"{file}, {one}")
    if done.bad:
        raise Problem(
            plural(
                "{path}: {n} cell has an error, nothing was brought in",
                "{path}: {n} cells have errors, nothing was brought in",
                len(done.bad), path=file,
            )
        )  # fmt: skip
    told = done.told
    if done.left_out:
        columns = ", ".join(done.left_out)
        common.say(_("{path}: left out, as they are not items of the plan: {columns}", path=file, columns=columns))
    if asked.json and not quiet:
        counts = {"services": told.services, "without_day": len(told.without_day), "earlier": done.earlier}
        common.print_json(counts)
        return 0
    common.say(plural("{n} service brought in", "{n} services brought in", told.services))
    if done.earlier:
        common.say(
            plural(
                "{n} row does not count: a later one is for the same machine and item",
                "{n} rows do not count: later ones are for the same machine and item",
                done.earlier,
            )
        )
    if told.without_day:
        common.say(
            plural(
                "{n} of them without its day: by date it counts from the last day that is sure",
                "{n} of them without their day: by date they count from the last day that is sure",
                len(told.without_day),
            )
        )
    return 0

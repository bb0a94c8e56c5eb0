"""`completion`: what a shell needs to complete commands, options, tags and names.

The rules of this file: the scripts come from the table of commands (by shtab), so they never differ from it; names
in the register or among the sheets are asked of `completion tags`, `people` and `sheets` while one types, which must
be quick and must never fail loudly.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.cli.parser import build_parser
from reelcare.register import sheets
from reelcare.register.glimpse import UNUSUAL, glimpse

TAGS, PEOPLE, SHEETS = (f"reelcare completion {what}" for what in ("tags", "people", "sheets"))
FILES = {"file", "path", "card", "use", "runs"}
"""Arguments that name files."""


def completion(asked: argparse.Namespace) -> int:
    """Print a script for a shell, or names that are in the register."""
    if asked.what in ("tags", "people", "sheets"):
        for one in _sheets() if asked.what == "sheets" else _names(asked):
            print(one)
        return 0
    import shtab

    print(shtab.complete(_marked(build_parser()), shell=asked.what))
    return 0


def _sheets() -> list[str]:
    try:
        return sorted(sheets.load().by_id)
    except OSError:
        return []


def _names(asked: argparse.Namespace) -> list[str]:
    where = common.where(asked)
    try:
        if isinstance(where, Path):
            with glimpse(where, common.now()) as seen:
                if seen is not None:
                    return seen.tags() if asked.what == "tags" else seen.people()
    except UNUSUAL:
        pass
    return []  # a shell that completes is no place to tell what is wrong


def _marked(parser: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """The parser, with what stands for each argument."""
    import shtab

    def mark(one: Any) -> None:
        for action in one._actions:
            if isinstance(action, argparse._SubParsersAction):
                for sub in action.choices.values():
                    mark(sub)
            elif action.dest in ("tag", "machine", "open_on", "check"):
                action.complete = shtab.cmd(TAGS)
            elif action.dest == "sheet":
                action.complete = shtab.cmd(SHEETS)
            elif action.dest in ("by", "operator"):
                action.complete = shtab.cmd(PEOPLE)
            elif action.dest in FILES or action.dest == "register":
                action.complete = shtab.FILE

    mark(parser)
    return parser

"""Opening the terminal app, on one's own register or on a fresh demo."""

from __future__ import annotations

import argparse
import contextlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from reelcare.cli import common, leaving
from reelcare.cli.problem import Problem
from reelcare.cli.terminal import bears_signs, stop_if_not_a_terminal
from reelcare.core.text import _
from reelcare.installation import command

if TYPE_CHECKING:
    from reelcare.register.writing.writer import Writer


def open_app(asked: argparse.Namespace) -> int:
    """Open the app on the register."""
    stop_if_not_a_terminal()
    _suit_the_terminal(asked)
    with common.open_register(asked) as register:
        register.ask_pin = None  # the app asks by itself
        machine = register.machine_id(asked.open_on) if asked.open_on else ""
        before = leaving.entries(register)
        wants_demo = _run(register, asked, machine=machine)
        leaving.tell(register, before)
        if not asked.view:
            leaving.copy_of_the_day(register)
    if wants_demo:
        return demo(argparse.Namespace(**{**vars(asked), "at": None, "no_app": False, "view": False}))
    return 0


def _suit_the_terminal(asked: argparse.Namespace) -> None:
    """Set what the framework reads when it is loaded: over a slow line sixteen colours and no animation, and more
    patience [ms] with a key such as an arrow, of whose three signs a line can deliver the first, an Esc, alone."""
    for name in ("slow", "ascii"):
        if getattr(asked, name):
            os.environ[f"REELCARE_{name.upper()}"] = "1"
    if os.environ.get("REELCARE_SLOW"):
        os.environ.setdefault("TEXTUAL_COLOR_SYSTEM", "standard")
        os.environ.setdefault("TEXTUAL_ANIMATIONS", "none")
        os.environ.setdefault("TEXTUAL_FPS", "10")
        os.environ.setdefault("ESCDELAY", "400")


def _run(register: Writer, asked: argparse.Namespace, *, machine: str = "") -> bool:
    """Run the app; whether it was left for the demo estate."""
    from reelcare.tui.app import DEMO_WANTED, Reelcare
    from reelcare.tui.preferences import Preferences

    preferences = Preferences(
        common.system(asked), common.language(asked),
        slow=bool(os.environ.get("REELCARE_SLOW")), ascii=bool(os.environ.get("REELCARE_ASCII")) or not bears_signs(),
    )  # fmt: skip
    return Reelcare(register, preferences=preferences, machine=machine).run() == DEMO_WANTED


def _has_own(asked: argparse.Namespace) -> bool:
    """Whether there is a register of one's own: named, or made where it stands if none is named."""
    where = common.where(asked)
    return not isinstance(where, Path) or where.exists()


def demo(asked: argparse.Namespace) -> int:
    """Make a demo register, and open the app on it."""
    from reelcare.register.demo import build, mark_as_demo
    from reelcare.register.opening import open_writer

    if asked.if_none and _has_own(asked):
        asked.open_on = ""
        return open_app(asked)
    if asked.view:
        raise Problem(_("--view and demo: view only, or make a register; not both"))
    if not asked.no_app:
        stop_if_not_a_terminal()
        _suit_the_terminal(asked)
    if asked.no_app and not asked.at:
        raise Problem(_("say where to make it: --at PATH"))
    with contextlib.ExitStack() as held:
        if asked.at:
            path = Path(asked.at).expanduser()
        else:
            folder = tempfile.TemporaryDirectory(prefix="reelcare-demo-", ignore_cleanup_errors=True)
            path = Path(held.enter_context(folder)) / "demo.db"
        if path.exists():
            raise Problem(_("{path}: exists already; name another place", path=path))
        register = held.enter_context(open_writer(path))
        common.say(_("DEMO: invented machines and people; a register of your own: {line}", line=f"{command()} begin"))
        mark_as_demo(register)
        build(register, common.now())
        if not asked.no_app:
            before = leaving.entries(register)
            _run(register, asked)
            leaving.tell(register, before, deleted=not asked.at)
        else:
            common.say(_("demo register made: {path}", path=path))
    return 0

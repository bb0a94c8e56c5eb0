"""Opening the terminal app, on one's own register or on a fresh demo."""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.cli.terminal import stop_if_not_a_terminal

if TYPE_CHECKING:
    from reelcare.register.register import Register


def open_app(asked: argparse.Namespace) -> int:
    """Open the app on the register."""
    stop_if_not_a_terminal()
    _suit_the_terminal(asked)
    from reelcare.tui.first_frame import FirstFrame

    manner = {"system": common.system(asked), "language": common.language(asked)}
    frame = FirstFrame(common.where(asked), now=common.now(), **manner)
    with frame, common.open_register(asked) as register:
        register.ask_pin = None  # the app asks by itself
        machine = register.machine_id(asked.open_on) if asked.open_on else ""
        _run(register, asked, frame.handed_over, machine=machine)
        if not asked.view:
            _copy(register)
    return 0


def _suit_the_terminal(asked: argparse.Namespace) -> None:
    """What the framework reads when it is loaded: for thin lines sixteen colours, and nothing that moves by itself."""
    for name in ("slow", "ascii"):
        if getattr(asked, name):
            os.environ[f"REELCARE_{name.upper()}"] = "1"
    if os.environ.get("REELCARE_SLOW"):
        os.environ.setdefault("TEXTUAL_COLOR_SYSTEM", "standard")
        os.environ.setdefault("TEXTUAL_ANIMATIONS", "none")
        os.environ.setdefault("TEXTUAL_FPS", "10")
        if os.name == "posix":
            os.environ.setdefault("TEXTUAL_DRIVER", "reelcare.tui.thin.driver:ThinDriver")


def _copy(register: Register) -> None:
    """The copy of the day, made as the app is left; where it cannot be, a word and no more."""
    from reelcare.register import copies
    from reelcare.register.errors import RegisterError

    try:
        copies.keep(register, common.now(), common.tell_how_far("the copy of the day (Ctrl C leaves it for next time)"))
    except RegisterError as why:
        common.say(f"no copy was made: {why}")
    except KeyboardInterrupt:
        common.say("the copy of the day is left for next time")


def _run(
    register: Register, asked: argparse.Namespace, ready: Callable[[], None] = lambda: None, *, machine: str = ""
) -> None:
    from reelcare.tui.app import Manner
    from reelcare.tui.app import open_app as start

    ready()
    manner = Manner(
        common.system(asked), common.language(asked),
        slow=bool(os.environ.get("REELCARE_SLOW")), ascii=bool(os.environ.get("REELCARE_ASCII")),
    )  # fmt: skip
    start(register, manner, machine=machine)


def demo(asked: argparse.Namespace) -> int:
    """Make a demo register, and open the app on it."""
    from reelcare.register.demo import build
    from reelcare.register.register import Register

    if asked.view:
        raise Problem("--view and demo: to look only, or to make a register; not both")
    if not asked.no_app:
        stop_if_not_a_terminal()
        _suit_the_terminal(asked)
    if asked.no_app and not asked.at:
        raise Problem("say where to make it: --at PATH")
    folder = Path(tempfile.mkdtemp(prefix="reelcare-demo-")) if not asked.at else None
    path = Path(asked.at).expanduser() if asked.at else Path(folder or "") / "demo.db"
    if path.exists():
        raise Problem(f"{path}: exists already; name another place")
    try:
        with Register(path) as register:
            common.say("making the demo estate ...")
            build(register, common.now())
            if not asked.no_app:
                _run(register, asked)
            else:
                common.say(f"demo register made: {path}")
    finally:
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)
    return 0

"""What is done as the app is left: the copy of the day, and a word on a demo, which can be kept as one's own register.

The modules for that are loaded then, so that nobody waits for them at the start.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from reelcare.cli import common
from reelcare.core.text import _, plural

if TYPE_CHECKING:
    from reelcare.register.writing.writer import Writer


def copy_of_the_day(register: Writer) -> None:
    """Make it where the day has none yet; report a failure, and do not raise."""
    from reelcare.register.errors import RegisterError
    from reelcare.register.exchange import copies

    told = common.tell_how_far(_("the copy of the day (Ctrl C leaves it for next time)"))
    try:
        copies.keep(register, common.now(), told)
    except RegisterError as why:
        common.say(_("no copy was made: {why}", why=why))
    except KeyboardInterrupt:
        common.say(_("the copy of the day is left for next time"))


def entries(register: Writer) -> int:
    """How many entries there are, where this is a demo."""
    return register.count_entries() if register.is_demo else 0


def tell(register: Writer, before: int, *, deleted: bool = False) -> None:
    """Say that this was a demo, and offer to keep it where more was written in it than the entries `before`."""
    if not register.is_demo:
        return
    written = register.count_entries() - before
    common.say(
        _("DEMO: its machines and people are invented, and it is deleted now")
        if deleted
        else _("DEMO: its machines and people are invented; it stays at {path}", path=register.where)
    )
    if not written or register.read_only or not sys.stdin.isatty():
        return
    common.say(
        plural(
            "{n} entry was written in it. It can be kept, with the demo's machines, as a register of your own.",
            "{n} entries were written in it. They can be kept, with the demo's machines, as a register of your own.",
            written,
        )
    )
    while path := _asked():
        if _kept(register, path):
            return


def _asked() -> str:
    """The file that is to be made; '' for none."""
    print(_("File to save it in (Enter alone: not saved): "), end="", file=sys.stderr, flush=True)
    try:
        return input().strip()
    except (EOFError, KeyboardInterrupt):
        common.say("")
        return ""


def _kept(register: Writer, path: str) -> bool:
    from reelcare.register.errors import RegisterError
    from reelcare.register.exchange import copies

    to = Path(path).expanduser()
    try:
        copies.copy(register, to, common.tell_how_far(_("proving the copy")), own=True)
    except RegisterError as why:
        common.say(str(why))
        return False
    common.say(_("kept: `reelcare --register {path}` opens it; it is no longer a demo", path=to))
    return True

"""The copy of the day, which is made as the app is left."""

from __future__ import annotations

from reelcare.cli import common
from reelcare.core.text import _
from reelcare.register.errors import RegisterError
from reelcare.register.exchange import copies
from reelcare.register.writing.writer import Writer


def make(register: Writer) -> None:
    """Make it where the day has none yet; report a failure, and do not raise."""
    try:
        copies.keep(
            register, common.now(), common.tell_how_far(_("the copy of the day (Ctrl C leaves it for next time)"))
        )
    except RegisterError as why:
        common.say(_("no copy was made: {why}", why=why))
    except KeyboardInterrupt:
        common.say(_("the copy of the day is left for next time"))

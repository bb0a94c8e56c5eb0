"""The work list on paper, from the app: what is shown, or what is given for a day, as a page to print.

The rules of this file: in a terminal the page is a new file of its owner alone, in a browser it is sent there, since a
browser has no part in the disk of the computer that serves it.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

from reelcare.core.service.due_line import DueLine
from reelcare.core.text import _, plural
from reelcare.files import downloads_folder, free_ending
from reelcare.register.errors import RegisterError
from reelcare.register.views.due_list import cards_of
from reelcare.reports import day_list, page, report_file
from reelcare.reports.blocks import stamp
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskChoice


async def print_list(screen: BaseScreen, lines: Sequence[DueLine], person: str, beside: Sequence[str]) -> None:
    """Put lines on paper, of one person ('': of all), and what is told `beside` them; for which day is asked."""
    host, today = screen.host, screen.today
    titles = (_("all that are shown"), _("those for today"), _("those for tomorrow"))
    number = await screen.ask(AskChoice(_("Which lines go on paper?"), titles))
    if number is None:
        return
    day = (None, today, today + timedelta(days=1))[number]
    some = day_list.of_day(lines, day, today)
    if not some and not beside:
        host.tell(_("Nothing is given for that day: nothing to print."), bad=True)
        return
    document = day_list.document(
        some, cards_of(screen.register, some), person, day,
        stamp(screen.local(screen.now()), demo=screen.register.is_demo), host.preferences.language,
        host.preferences.system, everything=not person, for_supervisor=beside,
    )  # fmt: skip
    _hand_over(screen, f"work-list-{day or today}", page.lay_out(document), len(some))


def _hand_over(screen: BaseScreen, name: str, data: bytes, many: int) -> None:
    """Give a page to whoever sits there, and say where it is."""
    lines = plural("{n} line", "{n} lines", many)
    if screen.app.is_web:
        screen.app.deliver_binary(
            io.BytesIO(data), save_filename=f"{name}.html", open_method="browser", mime_type="text/html"
        )
        screen.host.tell(_("The page to print opens in the browser, {lines}.", lines=lines))
        return
    path = _free(name)
    try:
        report_file.write(path, data)
    except RegisterError as wrong:
        screen.host.tell(str(wrong), bad=True)
        return
    screen.host.tell(_("{path}: written, {lines}", path=path, lines=lines))


def _free(name: str) -> Path:
    """A file that is not there yet, where people look for what they have just made."""
    folder = next((one for one in (downloads_folder(), Path.home()) if one.is_dir()), Path())
    return folder / f"{name}{free_ending(lambda more: (folder / f'{name}{more}.html').exists(), '-')}.html"

"""Going back to a copy from the app: a supervisor chooses it, says why, sees what will happen, and shows the PIN.

The rules of this file: the register is closed while it goes back, and opened again whatever came of it; meanwhile a
dialog stands over everything and no key does anything.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

from textual.app import ComposeResult
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.text import _, plural
from reelcare.register import opening
from reelcare.register.database.opening import on_a_server
from reelcare.register.errors import RegisterError
from reelcare.register.exchange import copies, restoration, restored_content
from reelcare.register.exchange.restored_content import Restoration
from reelcare.register.integrity import pins
from reelcare.tui.base import BaseScreen
from reelcare.tui.leaving import Dialog, DialogBox
from reelcare.tui.requests import AskChoice, AskPin, AskText, AskYesNo
from reelcare.tui.text import said

MOST = 12
"""Daily copies that are offered, the newest first; any other is named by its path."""


class GoesBack(Dialog[None]):
    """The register goes back to a copy; it is waited for."""

    def compose(self) -> ComposeResult:
        """What is waited for."""
        with DialogBox():
            yield Static(said(_("Going back to the copy")), classes="dialog--title")
            yield Static(said(_("The copy is proved, and what it lacks is brought back. Please wait.")))


async def go_back(screen: BaseScreen) -> None:
    """Ask for everything, and go back; only in a worker. Who is no supervisor is told so."""
    host = screen.host
    if not await host.may_write(e.Restored.kind):
        return
    copy = await _copy(screen)
    if copy is None:
        return
    try:
        foreseen = _foreseen(screen, copy)
    except RegisterError as wrong:
        host.tell(str(wrong), bad=True)
        return
    why = await screen.ask(AskText(_("Why does the register go back?"), _("It is recorded, with your name.")))
    if not why:
        return
    asked = AskYesNo(_("Go back to this copy?"), foreseen, yes=_("go back"), no=_("no, all stays as it is"))
    if not await screen.ask(asked):
        return
    pin = ""
    if pins.has(screen.register.db, host.person):
        given = await screen.ask(AskPin(host.person, _("Going back to a copy"), role=host.role))
        if given is None:
            return
        pin = given.reveal()
    await _restore(screen, copy, why, pin)


async def _copy(screen: BaseScreen) -> Path | None:
    """The copy that is chosen."""
    found = sorted(copies.folder_of(screen.register.path).glob("*.db"), reverse=True)[:MOST]
    titles = (*(_("the copy of {day}", day=one.stem) for one in found), _("another file"))
    number = await screen.ask(AskChoice(_("Go back to which copy?"), titles))
    if number is None:
        return None
    if number < len(found):
        return found[number]
    typed = await screen.ask(AskText(_("Where is the copy?"), _("The path of the file.")))
    return Path(typed).expanduser() if typed else None


def _foreseen(screen: BaseScreen, copy: Path) -> tuple[str, ...]:
    """What will happen."""
    entries, lacking = restored_content.entries_to_restore(screen.register, copy)
    return (
        str(copy),
        plural("It has {n} entry.", "It has {n} entries.", entries),
        plural(
            "{n} entry that it lacks is brought back from the register.",
            "{n} entries that it lacks are brought back from the register.",
            lacking,
        ),
        _("The register as it is now is set aside whole, and nothing is deleted."),
        _("This terminal takes another name; an entry says who went back, and why."),
        *([] if on_a_server(screen.register.opened_by) else [_("Other programs must have closed the register.")]),
    )


async def _restore(screen: BaseScreen, copy: Path, why: str, pin: str) -> None:
    host, register = screen.host, screen.register
    by, now, where = host.person, host.now(), register.opened_by
    ask_pin: Callable[[str], str] = lambda _name: pin  # noqa: E731 -- one line says it
    shown = GoesBack()
    await screen.app.push_screen(shown)
    register.close()
    done: Restoration | None = None
    try:
        done = await asyncio.to_thread(restoration.restore, where, copy, by=by, why=why, now=now, ask_pin=ask_pin)
    except (RegisterError, OSError) as failed:
        host.tell(_("Not gone back: {why}", why=failed), bad=True)
    finally:
        try:
            opening.open_again(register)
        except RegisterError as lost:
            screen.app.exit(return_code=lost.exit_code, message=str(lost))
    if pin and done is not None:
        register.signed.add(by)
    if shown.is_attached:
        await shown.dismiss()
    if done is not None:
        host.check_health()  # what was wrong with the register before is told no more
        _tell(screen, done)


def _tell(screen: BaseScreen, done: Restoration) -> None:
    told = [
        plural("Went back; {n} entry was brought back.", "Went back; {n} entries were brought back.", done.brought_back)
    ]
    if done.aside is not None:
        name = done.aside if on_a_server(screen.register.opened_by) else Path(done.aside).name
        told.append(_("As it was: {name}", name=name))
    if done.gone:
        told.append(_("Not all came back: `reelcare corrections` says what is missing."))
    screen.host.tell("  ".join(told), bad=bool(done.gone))
    screen.fill()

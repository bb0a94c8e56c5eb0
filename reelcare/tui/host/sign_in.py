"""Who is at the terminal: chosen by name, shown by a PIN where the person has one.

The rules of this file: it keeps neither a PIN nor who is there; the app holds the person, the register what was shown.
"""

from __future__ import annotations

from reelcare.core.text import _, mark
from reelcare.register.errors import ClockBehind, NotAllowed, RegisterError
from reelcare.register.integrity import pins
from reelcare.tui.base import Host
from reelcare.tui.requests import AskPerson, AskPin, AskText, AskYesNo

TITLE = mark("Who is at this terminal?")


def only_person(host: Host) -> str:
    """Who is there without being asked: the one person enrolled, where no PIN is to be shown; '' otherwise."""
    people = list(host.register.roles())
    return people[0] if len(people) == 1 and not pins.has(host.register.db, people[0]) else ""


def is_view_only(host: Host) -> bool:
    """Whether nothing can be written here; then it is told."""
    if host.register.read_only:
        host.tell(_("View only: nothing can be written here."), bad=True)
    return host.register.read_only


async def may_write(host: Host, kind: str = "") -> bool:
    """Whether somebody is there who may write an entry of this kind ('': of any); asks who it is where nobody is.

    Where they may not, it is told before anything is written, and not when it is to be kept.
    """
    if is_view_only(host) or not (host.person or await choose_person(host)):
        return False
    if kind:
        try:
            host.register.must_be_allowed(kind, host.person)
        except NotAllowed as why:
            host.tell(_("{why}. Press p to change the person.", why=why), bad=True)
            return False
    return True


async def choose_person(host: Host) -> bool:
    """Ask who is at the terminal, and for the PIN; whether somebody is there now."""
    people = host.register.roles()
    if not people and not host.register.read_only:
        return await _enrol_first(host)
    if not people:
        host.tell(_("Nobody is enrolled yet: `reelcare people add NAME --role supervisor`"), bad=True)
        return False
    name = await host.ask(AskPerson(people, host.person))
    if name is None or not await show_pin(host, name):
        return False
    if name != host.person:
        host.register.signed.intersection_update({name})
        host.clear_notice()  # what the one before might not do
    host.person = name
    return True


async def _enrol_first(host: Host) -> bool:
    """Enrol the first person of a new register, who is its supervisor; whether somebody is there now."""
    from reelcare.register.acts import people  # once in the life of a register

    says = _("Nobody is enrolled yet. The first is the supervisor, who enrols the others.")
    name = await host.ask(AskText(_("Your name"), says))
    if not name:
        return False
    done = host.write(lambda: people.enrol(host.register, name, "supervisor", by=name, now=host.now()))
    if done is not None:
        host.person = name
        host.tell(_("{name} is enrolled as supervisor", name=name))
    return done is not None


async def show_pin(host: Host, name: str) -> bool:
    """Ask for a person's PIN until it is right or the dialog is left; whether it is, or none is needed."""
    wrong = ""
    while pins.has(host.register.db, name) and name not in host.register.signed:
        pin = await host.ask(AskPin(name, TITLE, role=host.register.roles().get(name, ""), wrong=wrong))
        if pin is None:
            return False
        try:
            host.register.sign_in(name, pin.reveal(), now=host.now())
        except RegisterError as why:
            wrong = str(why)
    return True


async def after_refusal(host: Host, why: Exception) -> None:
    """Ask for what a write was refused for, where one answer mends it; what is on the screen stays."""
    if isinstance(why, NotAllowed):
        await _show_missing_pin(host)
    elif isinstance(why, ClockBehind):
        asked = AskYesNo(
            _("Is this computer's clock right?"), (str(why),), yes=_("it is right"), no=_("no, I set it right")
        )
        answer = await host.ask(asked)
        host.register.clock_is_right = bool(answer)
        if answer:
            host.tell(_("Sign once more to save it."))


async def _show_missing_pin(host: Host) -> None:
    """Ask for the PIN that who is there was given since they said so."""
    missing = pins.has(host.register.db, host.person) and host.person not in host.register.signed
    if missing and await show_pin(host, host.person):
        host.tell(_("The PIN is right: do it again to save it."))

"""`people`: who is enrolled, and enrolling somebody."""

from __future__ import annotations

import argparse
import getpass
import os
import sys

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.core.clean import clean
from reelcare.core.text import _, mark
from reelcare.register.acts import people as enrolling
from reelcare.register.integrity import pins
from reelcare.register.writing.writer import Writer

_USE = mark(
    "write `people`, `people add NAME --role ROLE`, `people pin NAME`, `people unlock NAME` or `people left NAME`"
)


def people(asked: argparse.Namespace) -> int:
    """List people, enrol one, give one a PIN, let one try again, or say that one left."""
    words = asked.words
    if words and (words[0] not in ("add", "pin", "unlock", "left") or len(words) != 2):
        raise Problem(_(_USE))
    with common.open_register(asked) as register:
        if not words:
            return _list(asked, register)
        what, name = words[0], clean(words[1])
        if what == "add":
            return _enrol(asked, register, name)
        return _left(asked, register, name) if what == "left" else _pin(asked, register, what, name)


def _list(asked: argparse.Namespace, register: Writer) -> int:
    at, past = common.as_of(asked, register, common.now())
    roles = register.roles_with(at=at) if past else register.roles()
    found = [(name, role, pins.has(register.db, name)) for name, role in roles.items()]
    if asked.json:
        common.print_json([{"name": name, "role": role, "pin": has_pin} for name, role, has_pin in found])
    else:
        common.print_table(
            (mark("name"), mark("role"), mark("signs with")),
            [(name, _(role), _("PIN") if has_pin else _("name")) for name, role, has_pin in found],
            empty=_("nobody is enrolled yet: begin with `reelcare people add NAME --role supervisor`"),
        )
    return 0


def _enrol(asked: argparse.Namespace, register: Writer, name: str) -> int:
    if not asked.role:
        raise Problem(_("say the role: --role operator, mechanic or supervisor"))
    now = common.now()
    by = common.by(asked) if register.roles() else name  # the first supervisor enrols themself
    entry = enrolling.enrol(register, name, asked.role, by=by, now=now, happened=common.happened(asked, register, now))
    told = _("{name} is enrolled as {role}", name=name, role=_(asked.role))
    return common.answer(asked, {"entry": entry.id, "name": name, "role": asked.role}, told)


def _left(asked: argparse.Namespace, register: Writer, name: str) -> int:
    """Somebody left: they sign no more. What is still given to them is said, so that others get it."""
    now = common.now()
    entry, given = enrolling.leave(
        register, name, by=common.by(asked), now=now, happened=common.happened(asked, register, now)
    )
    told = [_("still given to {name}: {tag} {line}", name=name, tag=tag, line=line) for tag, line in given]
    left = _("{name} has left: can no longer sign, and stays in the book", name=name)
    return common.answer(asked, {"entry": entry.id, "name": name, "given": given}, left, *told)


def _pin(asked: argparse.Namespace, register: Writer, what: str, name: str) -> int:
    if what == "unlock" and asked.recovery:
        return _recover(register, name)
    by = common.by(asked)
    if what == "unlock":
        waited = register.unlock(name, by=by)
        common.say(_("{name} can try again", name=name) if waited else _("{name} was not locked", name=name))
        return 0
    register.must_have_signed(by)
    _give_pin(register, name, by)
    return 0


def _give_pin(register: Writer, name: str, by: str) -> None:
    code = register.give_pin(name, _new_pin(name), by=by)
    common.say(_("{name} signs with a PIN from now on", name=name))
    if code:
        says = mark(
            "recovery code, shown only now: {code} (write it down and lock it away: "
            "`reelcare people unlock {name} --recovery` takes it once)"
        )
        common.say(_(says, code=code, name=name))


def _recover(register: Writer, name: str) -> int:
    """Let a locked supervisor in by the recovery code, and ask for a new PIN, which comes with a new code."""
    code = os.environ.get("REELCARE_RECOVERY")
    if code is None and not sys.stdin.isatty():
        raise Problem(_("the recovery code is asked for in a terminal, or taken from REELCARE_RECOVERY"))
    if code is None:
        code = getpass.getpass(_("recovery code of {name}: ", name=name), stream=sys.stderr)
    register.recover(name, code, now=common.now())
    common.say(_("{name} can try again; the code is used up, and an entry says so", name=name))
    if sys.stdin.isatty() or "REELCARE_NEW_PIN" in os.environ:
        _give_pin(register, name, name)
    else:
        # the PIN stays, and may be lost: nobody is left without a way back
        says = mark(
            "the PIN is as it was. Another recovery code, shown only now: {code}; "
            "with a PIN in REELCARE_NEW_PIN it gives that one"
        )
        common.say(_(says, code=register.give_recovery_code(name)))
    return 0


def _new_pin(name: str) -> str:
    given = os.environ.get("REELCARE_NEW_PIN")
    if given is not None:
        return given
    if not sys.stdin.isatty():
        raise Problem(_("a new PIN is asked for in a terminal, or taken from REELCARE_NEW_PIN"))
    first, second = (
        getpass.getpass(_(asks, name=name), stream=sys.stderr)
        for asks in (mark("new PIN of {name}: "), mark("once more the PIN of {name}: "))
    )
    if first != second:
        raise Problem(_("the two PINs are not the same; nothing was changed"))
    return first

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
    """List people, enrol one, give one a PIN, or unlock one."""
    if asked.words and (asked.words[0] not in ("add", "pin", "unlock", "left") or len(asked.words) != 2):
        raise Problem(_(_USE))
    with common.open_register(asked) as register:
        if asked.words[:1] == ["left"]:
            return _left(asked, register, clean(asked.words[1]))
        if asked.words and asked.words[0] != "add":
            return _pin(asked, register, asked.words[0], clean(asked.words[1]))
        if not asked.words:
            at, past = common.as_of(asked, register, common.now())
            roles = register.roles_at(at) if past else register.roles()
            if asked.json:
                common.print_json(
                    [{"name": name, "role": role, "pin": pins.has(register.db, name)} for name, role in roles.items()]
                )
            else:
                common.print_table(
                    (mark("name"), mark("role"), mark("signs with")),
                    [
                        (name, _(role), _("PIN") if pins.has(register.db, name) else _("name"))
                        for name, role in roles.items()
                    ],
                    empty=_("nobody is enrolled yet: begin with `reelcare people add NAME --role supervisor`"),
                )
            return 0
        if not asked.role:
            raise Problem(_("say the role: --role operator, mechanic or supervisor"))
        name = clean(asked.words[1])
        now = common.now()
        first = not register.roles()
        entry = enrolling.enrol(
            register, name, asked.role, by=name if first else common.by(asked), now=now,
            happened=common.happened(asked, register, now),
        )  # fmt: skip
    told = _("{name} is enrolled as {role}", name=name, role=_(asked.role))
    return common.answer(asked, {"entry": entry.id, "name": name, "role": asked.role}, told)


def _left(asked: argparse.Namespace, register: Writer, name: str) -> int:
    """Somebody left: they sign no more. What is still given to them is said, so that others get it."""
    now = common.now()
    entry, given = enrolling.leave(
        register, name, by=common.by(asked), now=now, happened=common.happened(asked, register, now)
    )
    told = [_("still given to {name}: {tag} {line}", name=name, tag=tag, line=line) for tag, line in given]
    left = _("{name} has left: can sign no more, and stays in the book", name=name)
    return common.answer(asked, {"entry": entry.id, "name": name, "given": given}, left, *told)


def _pin(asked: argparse.Namespace, register: Writer, what: str, name: str) -> int:
    if what == "unlock" and asked.recovery:
        return _recover(register, name)
    by = common.by(asked)
    if what == "unlock":
        register.unlock(name, by=by)
        common.say(_("{name} can try again", name=name))
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

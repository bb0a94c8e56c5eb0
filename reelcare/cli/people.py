"""`people`: who is enrolled, and enrolling somebody."""

from __future__ import annotations

import argparse

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.core.typed import clean
from reelcare.register import people as enrolling


def people(asked: argparse.Namespace) -> int:
    """List people, or enrol one."""
    if asked.words and (asked.words[0] != "add" or len(asked.words) != 2):
        raise Problem("write `reelcare people add NAME --role ROLE`, or `reelcare people` for the list")
    with common.open_register(asked) as register:
        if not asked.words:
            roles = register.roles()
            if asked.json:
                common.print_json([{"name": name, "role": role} for name, role in roles.items()])
            else:
                common.print_table(("name", "role"), list(roles.items()))
            return 0
        if not asked.role:
            raise Problem("say the role: --role operator, mechanic or supervisor")
        name = clean(asked.words[1])
        now = common.now()
        first = not register.roles()
        entry = enrolling.enrol(
            register, name, asked.role, by=name if first else common.by(asked), now=now,
            happened=common.happened(asked, register, now),
        )  # fmt: skip
    if asked.json:
        common.print_json({"entry": entry.id, "name": name, "role": asked.role})
    else:
        common.say(f"{name} is enrolled as {asked.role}")
    return 0

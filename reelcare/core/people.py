"""The roles of the trade. Each kind of entry says the least role that may write it (`Kind.least_role`).

An operator sets, starts, stops and moves; a mechanic may all that, and works on the machine and says that it
is fit; a supervisor may all that, and keeps people, cards, plans and corrections.
"""

from __future__ import annotations

from typing import Literal, get_args

Role = Literal["operator", "mechanic", "supervisor"]
LEFT = "left"
"""What stands in place of the role of somebody who has left: they sign no more, and stay in the book."""
ROLES: tuple[Role, ...] = get_args(Role)
NOBODY = "nobody"
"""What is said in place of a person where no one is meant, and so no name."""


def may(role: str, least: Role) -> bool:
    """Whether somebody in `role` may do what takes a role of `least` at least.

    >>> may("operator", "operator"), may("operator", "mechanic"), may("supervisor", "mechanic"), may("", "operator")
    (True, False, True, False)
    """
    return role in ROLES and ROLES.index(role) >= ROLES.index(least)

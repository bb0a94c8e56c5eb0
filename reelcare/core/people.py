"""Who may write what: the roles of the trade, as one table.

An operator sets, starts, stops and moves; a mechanic may all that, and works on the machine and says that it
is fit; a supervisor may all that, and keeps people, cards, plans and corrections. The register's door asks
this table; screens ask it only to leave out what would be refused.
"""

from __future__ import annotations

from typing import Literal

Role = Literal["operator", "mechanic", "supervisor"]
ROLES: tuple[Role, ...] = ("operator", "mechanic", "supervisor")

LEAST: dict[str, Role] = {
    "sheet": "operator",
    "check begun": "operator",
    "answer": "operator",
    "check ended": "operator",
    "run": "operator",
    "reading": "operator",
    "fault": "operator",
    "measured": "operator",
    "set-up": "operator",
    "service": "mechanic",
    "repair": "mechanic",
    "re-test": "mechanic",
    "release": "mechanic",
    "card": "supervisor",
    "plan": "supervisor",
    "person": "supervisor",
    "correction": "supervisor",
}
"""The least role that may write each kind of entry (common practice, no source)."""


def may(role: str, kind: str) -> bool:
    """Whether somebody in `role` may write an entry of `kind`.

    >>> may("operator", "run"), may("operator", "release"), may("mechanic", "release")
    (True, False, True)
    """
    return role in ROLES and ROLES.index(role) >= ROLES.index(LEAST[kind])

"""What a machine's tag says to a reader of codes: which machine it is, for good.

The rules of this file: the id names the machine, whatever it is called later; the tag stands behind it for people.
"""

from __future__ import annotations

BEGINS = "reelcare:"
ALL = "all"
"""What is said in place of a tag where every machine is meant, and so no tag."""


def text_of(machine: str, tag: str) -> str:
    """The text of the code on a machine.

    >>> text_of("0191e7a4-0000-7000-8000-000000000001", "R7")
    'reelcare:0191e7a4-0000-7000-8000-000000000001:R7'
    """
    return f"{BEGINS}{machine}:{tag}"


def machine_of(text: str) -> str | None:
    """The id of the machine that a scanned text names; None where it is no such text.

    >>> machine_of(" REELCARE:0191e7a4-0000-7000-8000-000000000001:R7 "), machine_of("R7")
    ('0191e7a4-0000-7000-8000-000000000001', None)
    """
    said = text.strip()
    if said[: len(BEGINS)].casefold() != BEGINS:
        return None
    return said[len(BEGINS) :].partition(":")[0].casefold()


def is_coming(text: str) -> bool:
    """Whether a text that is still being typed can become one of ours.

    >>> is_coming("reel"), is_coming("reelcare:0191e7a4"), is_coming("R7"), is_coming("")
    (True, True, False, False)
    """
    said = text.casefold()
    if said.startswith(BEGINS):
        return len(said) < len(BEGINS) + 36
    return len(said) > 2 and BEGINS.startswith(said)

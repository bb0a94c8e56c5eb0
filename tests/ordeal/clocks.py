"""Random histories of a machine on one terminal whose clock is put ahead and back: no false clear, no true one blocked.

`python -m tests.ordeal.clocks [HISTORIES]`

What is true is kept beside: whether a check was signed since the last run. Whenever the clock is right the machine must
not be clear without one, and must be clear straight after one that was signed by a clock that is right.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.errors import Refused
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from tests.register.conftest import CARD, Yard
from tests.register.test_gates import signed_up_to, standing

H = timedelta(hours=1)
STEPS = 14


def main(histories: int) -> tuple[int, int, int, int]:
    """Live through so many histories: how often it was looked, false clears, blocked checks, registers not whole."""
    chance = random.Random(histories)
    looked = false = blocked = damaged = 0
    for _unused in range(histories):
        with tempfile.TemporaryDirectory() as folder, open_writer(Path(folder) / "r.db") as register:
            seen = _history(register, chance)
            looked, false, blocked = looked + seen[0], false + seen[1], blocked + seen[2]
            damaged += not prove(register).whole or register.rebuild() != []
    return looked, false, blocked, damaged


def _history(register: Any, chance: random.Random) -> tuple[int, int, int]:
    now = datetime(2026, 5, 1, 6, tzinfo=UTC)
    people.enrol(register, "Olav", "supervisor", by="Olav", now=now)
    machine = register.add(e.Carded(card=CARD), by="Olav", now=now).machine
    ahead, checked = timedelta(), False
    looked = false = blocked = 0
    for _unused in range(STEPS):
        now += chance.choice((H / 4, H, 5 * H, 20 * H))
        yard = Yard(register, machine, now=now + ahead, by="Olav")
        step = chance.choice(("check", "check", "run", "run", "ahead", "right", "fault"))
        signed = False
        if step == "ahead":
            ahead = chance.choice((H, 24 * H, 9 * 24 * H))
        elif step == "right":
            ahead = timedelta()
        elif step == "fault":
            register.add(e.Fault(part="hose", says="scuffed"), machine=machine, by="Olav", now=yard.now)
        elif step == "check":
            # refused where one is open still, which is gone on with; that is no matter of clocks
            signed = _is_written(lambda yard=yard: signed_up_to(_Asserting(yard), "water"))  # type: ignore[misc]
            checked, now = checked or signed, yard.now - ahead
        else:
            # one that overlaps a run by the clock that was ahead is refused, and nobody knows of it
            checked &= not _is_written(lambda yard=yard: _run(yard))  # type: ignore[misc]
        if not ahead:
            yard.now = now
            clear = standing(yard)[0] == "clear"
            looked, false = looked + 1, false + (clear and not checked)
            blocked += signed and not clear
    return looked, false, blocked


def _is_written(act: Callable[[], object]) -> bool:
    try:
        act()
    except Refused:
        return False
    return True


def _run(yard: Yard) -> None:
    run = e.Run(started=yard.now - H / 6, ended=yard.now, metres=200_000)
    yard.register.add(run, machine=yard.machine, by="Olav", now=yard.now)


class _Asserting:
    """A yard on which somebody says at every signature that the clock is right."""

    def __init__(self, yard: Yard) -> None:
        object.__setattr__(self, "_yard", yard)

    def __getattr__(self, name: str) -> Any:
        if name == "register":
            self._yard.register.clock_is_right = True
        return getattr(self._yard, name)

    def __setattr__(self, name: str, value: Any) -> None:
        setattr(self._yard, name, value)


if __name__ == "__main__":
    looks, clears, blocks, broken = main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    print(
        f"{looks} looks with a clock that was right: {clears} false clears, {blocks} checks blocked, {broken} not whole"
    )
    sys.exit(1 if clears or blocks or broken else 0)

"""A long list that is stopped while it is written leaves nothing of it, wherever it was stopped."""

from pathlib import Path
from typing import Any

import pytest

from reelcare.core.spreadsheet.columns import Matching
from reelcare.register.errors import NotAllowed
from reelcare.register.exchange import spreadsheets
from reelcare.register.proof.proving import prove

MANY = 30


class Stopped(Exception):
    """Somebody pressed Esc."""


def listed(folder: Path) -> Path:
    path = folder / "machines.csv"
    path.write_text("tag;place\n" + "".join(f"M{number};North\n" for number in range(MANY)), "utf-8")
    return path


def test_who_has_a_pin_and_did_not_give_it_is_told_before_a_list_is_read(yard: Any, tmp_path: Path) -> None:
    yard.register.give_pin("Mara", "739104", by="Mara")
    with pytest.raises(NotAllowed, match="PIN"):
        spreadsheets.bring_machines(yard.register, tmp_path / "none.csv", Matching(), by="Mara", now=yard.now)


def told(yard: Any, path: Path) -> list[tuple[int, int]]:
    """All that is told of a list while it is brought."""
    found: list[tuple[int, int]] = []
    spreadsheets.bring_machines(
        yard.register, path, Matching(), by="Mara", now=yard.now, progress=lambda *far: found.append(far)
    )
    return found


def test_a_list_of_machines_can_be_stopped_at_any_moment_and_is_brought_whole_afterwards(
    yard: Any, tmp_path: Path
) -> None:
    path, before = listed(tmp_path), yard.register.tags()
    for stop_at in (1, 2, MANY, MANY + 3, 2 * MANY):
        seen = 0

        def stop(done: int, of: int, last: int = stop_at) -> None:
            nonlocal seen
            seen += 1
            if seen == last:
                raise Stopped

        with pytest.raises(Stopped):
            spreadsheets.bring_machines(yard.register, path, Matching(), by="Mara", now=yard.now, progress=stop)
        assert yard.register.tags() == before
        assert prove(yard.register).whole
    far = told(yard, path)
    assert len(yard.register.tags()) == len(before) + MANY
    assert far.count((MANY - 1, MANY)) == 2, "each machine is told of as it is written, and as it is judged"

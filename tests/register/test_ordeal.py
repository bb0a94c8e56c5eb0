"""The quick forms of the ordeals; the long ones are `python -m tests.ordeal.NAME COUNT`."""

import importlib
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reelcare.register.database.models import NEWEST

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def ordeal(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Any]:
    monkeypatch.syspath_prepend(str(ROOT))
    monkeypatch.setenv("PYTHONPATH", str(ROOT))

    def load(name: str) -> Any:
        sys.modules.pop(f"tests.ordeal.{name}", None)
        return importlib.import_module(f"tests.ordeal.{name}")

    return load


def test_no_acknowledged_entry_is_lost_when_a_writer_is_killed(ordeal: Callable[[str], Any]) -> None:
    acknowledged, lost, damaged = ordeal("killed").main(4)
    assert acknowledged >= 4
    assert (lost, damaged) == (0, 0)


def test_a_carry_file_killed_on_its_way_in_is_there_whole_or_not_at_all(ordeal: Callable[[str], Any]) -> None:
    done, undone, wrong = ordeal("carried").main(6)
    assert wrong == []
    assert done + undone == 6


def test_many_writers_at_once_make_one_whole_chain(ordeal: Callable[[str], Any]) -> None:
    assert ordeal("crowd").main(5, 4) == (20, 1, True)


def test_no_changed_content_passes_for_whole(ordeal: Callable[[str], Any]) -> None:
    changed, missed, crashed = ordeal("flipped").main(40)
    assert changed > 0
    assert (missed, crashed) == (0, 0)


@pytest.mark.long
def test_going_back_killed_half_way_or_after_a_copy_was_put_over_by_hand_loses_nothing(
    ordeal: Callable[[str], Any],
) -> None:
    restored = ordeal("restored")
    killed, put_over = restored.killed(20), restored.put_over(6)
    assert (killed.silent, killed.lost) == (0, 0)
    assert (put_over.hidden, put_over.lost) == (0, 0)
    assert put_over.refused + put_over.told == 6


@pytest.mark.long
def test_an_upgrade_killed_at_any_moment_loses_nothing(ordeal: Callable[[str], Any]) -> None:
    old, new, bad, uncovered = ordeal("upgraded").main(12)
    assert old + new == 12
    assert (bad, uncovered) == (0, 0)


@pytest.mark.long
def test_no_proof_beside_writers_finds_anything(ordeal: Callable[[str], Any]) -> None:
    written, found = ordeal("proofs").main(20, 2)
    assert written > 0
    assert found == []


@pytest.mark.long
def test_a_clock_ahead_and_back_gives_no_false_clear_and_blocks_no_true_one(ordeal: Callable[[str], Any]) -> None:
    looked, false, blocked, damaged = ordeal("clocks").main(5)
    assert looked > 10
    assert (false, blocked, damaged) == (0, 0, 0)


@pytest.mark.long
def test_a_demo_is_kept_whole_or_not_at_all(ordeal: Callable[[str], Any]) -> None:
    _kept, bad, harmed = ordeal("kept_demo").main(6)
    assert (bad, harmed) == (0, 0)


def may_trace() -> bool:
    """Whether strace is here, and may look on: in some containers it may not."""
    if shutil.which("strace") is None:
        return False
    return subprocess.run(["strace", "-o", os.devnull, "true"], capture_output=True, check=False).returncode == 0


traced = pytest.mark.skipif(not may_trace(), reason="strace is not here, or may not trace")


@traced
def test_no_cut_of_the_power_loses_or_damages_what_was_acknowledged(ordeal: Callable[[str], Any]) -> None:
    power = ordeal("power")
    written = power.main(80, 8)
    assert not written.bad
    assert written.acknowledged == 8
    assert written.witnessed == written.states > 60
    made = power.main(40, 3, fresh=True)
    assert not made.bad
    assert made.acknowledged == 5
    assert made.states > 30
    assert made.witnessed > 0


@traced
def test_no_cut_of_the_power_does_so_where_there_is_no_log(ordeal: Callable[[str], Any]) -> None:
    written = ordeal("power").main(80, 6, network=True)
    assert not written.bad
    assert written.acknowledged == 6
    assert written.states > 60  # where there are not as many different ones, it is a few less


@traced
def test_the_replay_finds_a_register_that_is_synced_too_little(ordeal: Callable[[str], Any]) -> None:
    power = ordeal("power")
    without, seldom = power.main(60, 8, sync=0), power.main(60, 8, sync=1)
    assert min(without.damaged, without.lost, without.ahead, seldom.lost) > 0


@traced
def test_a_call_that_fails_is_told_and_nothing_is_lost(ordeal: Callable[[str], Any]) -> None:
    result = ordeal("failing").main(
        2, ("log fault", "report"), (("pwrite64", "ENOSPC"), ("fdatasync", "EIO"), ("rename", "EIO"), ("write", "EIO"))
    )
    assert result.bad == []
    assert {row[:2] for row in result.rows} >= {
        ("log fault", "fdatasync"),
        ("log fault", "rename"),
        ("report", "write"),
    }
    assert {code for *_, code in result.rows} == {0, 7}


@traced
def test_a_merge_killed_half_way_is_there_whole_or_not_at_all(ordeal: Callable[[str], Any]) -> None:
    result = ordeal("failing").merging(2)
    assert result.bad == []
    assert {end for _, _, end, _ in result.rows} == {"as before", "as after"}


@traced
def test_an_upgrade_killed_half_way_is_whole(ordeal: Callable[[str], Any]) -> None:
    result = ordeal("failing").upgrade(3)
    assert result.bad == []
    assert {version for _, _, version, _ in result.rows} == {"version 1", f"version {NEWEST}"}


@traced
def test_a_copy_whose_last_step_fails_is_none(ordeal: Callable[[str], Any]) -> None:
    """Without it a copy would want a log beside it; the engine does not say that it failed."""
    result = ordeal("failing").main(1, ("copy",), (("fdatasync", "EIO"),))
    assert result.bad == []
    assert list(result.rows) == [("copy", "fdatasync", "EIO", 7)]

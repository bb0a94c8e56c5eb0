"""The quick forms of the ordeals; the long ones are `python -m tests.ordeal.NAME COUNT`."""

import importlib
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

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


def test_many_writers_at_once_make_one_whole_chain(ordeal: Callable[[str], Any]) -> None:
    assert ordeal("crowd").main(5, 4) == (20, 1, True)


def test_no_changed_content_passes_for_whole(ordeal: Callable[[str], Any]) -> None:
    changed, missed, crashed = ordeal("flipped").main(40)
    assert changed > 0
    assert (missed, crashed) == (0, 0)


traced = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not here")


@traced
def test_no_cut_of_the_power_loses_or_damages_what_was_acknowledged(ordeal: Callable[[str], Any]) -> None:
    power = ordeal("power")
    assert power.main(140, 10)[1:] == (0, 0)
    assert power.main(60, 3, fresh=True)[1:] == (0, 0)
    # and the replay can fail: without syncs it finds what it looks for
    states, damaged, lost = power.main(90, 10, sync=0)
    assert states == 90
    assert damaged + lost > 0


@traced
def test_a_call_that_fails_is_told_and_nothing_is_lost(ordeal: Callable[[str], Any]) -> None:
    failing = ordeal("failing")
    result = failing.main(
        2, ("log fault", "report"), (("pwrite64", "ENOSPC"), ("fdatasync", "EIO"), ("openat", "ENOSPC"))
    )
    assert result.run >= 8
    assert result.bad == []


@traced
def test_a_merge_killed_half_way_is_there_whole_or_not_at_all(ordeal: Callable[[str], Any]) -> None:
    result = ordeal("failing").merging(2)
    assert result.run >= 4
    assert result.bad == []


@traced
def test_an_upgrade_killed_half_way_is_whole(ordeal: Callable[[str], Any]) -> None:
    result = ordeal("failing").upgrade(2)
    assert result.run >= 4
    assert result.bad == []

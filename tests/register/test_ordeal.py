"""The quick forms of the ordeals; the long ones are `python -m tests.ordeal.NAME COUNT`."""

import importlib
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

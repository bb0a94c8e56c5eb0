"""A proof beside other processors: what is found is the same, whoever looks, and nothing is left running."""

import concurrent.futures
import contextlib
import multiprocessing
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Future
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register import compared, copies, proving, rollup
from reelcare.register.progress import quietly
from reelcare.register.register import Register
from tests.register.conftest import Yard, let_be_changed
from tests.servers import in_a_file

WRONG = [f"rollup: {tag}: totals or thresholds are not what the entries give" for tag in ("R2", "R4")]


@pytest.fixture
def wrong(yard: Yard) -> Yard:
    """A register of five machines, of which the totals of two are wrong."""
    for number in range(2, 6):
        card = {"tag": f"R{number}", "hose": {"length": "400 m"}}
        yard.register.add(e.Carded(card=card), by="Mara", now=yard.now + timedelta(minutes=number))
    yard.run(1)
    yard.register.db.execute_sql("UPDATE machine_now SET seconds = 7 WHERE tag IN ('R2', 'R4')")
    return yard


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Every machine is a part of its own, and handed to another process."""
    monkeypatch.setattr(compared, "WORTH_IT", 0)
    monkeypatch.setattr(compared, "AT_ONCE", 1)
    monkeypatch.setattr(compared, "_processors", lambda: 2)
    return monkeypatch


def found(register: Register) -> list[str]:
    return [f"{one.place}: {one.what}" for one in proving.prove(register).findings]


def test_wrong_totals_are_named_in_the_order_of_the_machines(wrong: Yard) -> None:
    assert found(wrong.register) == WRONG


@in_a_file
def test_another_process_finds_the_same(wrong: Yard, elsewhere: pytest.MonkeyPatch) -> None:
    with contextlib.ExitStack() as left:
        handed_out = compared._handed_out(wrong.register, 1, left)
        concurrent.futures.wait([theirs for _, theirs in handed_out if theirs is not None])
        elsewhere.setattr(rollup, "differences", _none)
        there = compared._compared(wrong.register, handed_out, quietly)
    elsewhere.undo()
    assert len(there) == 2
    assert there == rollup.differences(wrong.register, rollup.machines(wrong.register))
    assert not multiprocessing.active_children()


def _none(*asked: Any, **more: Any) -> Any:
    raise OSError("not here")


class _Breaks:
    """Other processes that are killed before they answer."""

    def __init__(self, *asked: Any) -> None:
        pass

    def submit(self, *asked: Any) -> "Future[Any]":
        future: Future[Any] = Future()
        future.set_exception(BrokenExecutor("killed"))
        return future

    def shutdown(self, *, cancel_futures: bool) -> None:
        pass


@in_a_file
@pytest.mark.parametrize("executor", [_none, _Breaks])
def test_where_no_other_process_can_be_had_this_one_looks(
    wrong: Yard, elsewhere: pytest.MonkeyPatch, executor: Any
) -> None:
    elsewhere.setattr(concurrent.futures, "ProcessPoolExecutor", executor)
    assert found(wrong.register) == WRONG


@in_a_file
def test_what_nobody_has_begun_is_looked_at_here(wrong: Yard, elsewhere: pytest.MonkeyPatch) -> None:
    assert found(wrong.register) == WRONG
    assert not multiprocessing.active_children()


@in_a_file
def test_a_damaged_register_is_not_held_against_its_entries(wrong: Yard, elsewhere: pytest.MonkeyPatch) -> None:
    let_be_changed(wrong.register)
    wrong.register.db.execute_sql("UPDATE entry SET body = '{' WHERE kind = 'run'")
    (only,) = found(wrong.register)
    assert only.endswith("its content is not what was sealed")


@in_a_file
def test_a_proof_that_is_stopped_leaves_nothing_running(wrong: Yard, elsewhere: pytest.MonkeyPatch) -> None:
    elsewhere.setattr(proving, "AT_ONCE", 2)

    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        proving.prove(wrong.register, stop)
    assert not multiprocessing.active_children()


KILLED = """
import concurrent.futures, contextlib, sys
from pathlib import Path
from reelcare.register import compared
from reelcare.register.register import Register
if __name__ == "__main__":
    with Register(Path(sys.argv[1])) as register, contextlib.ExitStack() as left:
        handed_out = compared._handed_out(register, 1, left)
        concurrent.futures.wait([theirs for _, theirs in handed_out])
        print("ready", flush=True)
        sys.stdin.read()
"""


@pytest.mark.skipif(os.name == "nt", reason="there is no kill -9")
@in_a_file
def test_a_proof_that_is_killed_leaves_nothing_running(wrong: Yard, tmp_path: Path) -> None:
    program = tmp_path / "killed.py"
    program.write_text(KILLED)
    proof = subprocess.Popen(
        [sys.executable, str(program), str(wrong.register.path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    assert proof.stdout is not None
    assert proof.stdout.readline() == b"ready\n"
    proof.kill()
    # the other process has the same output in hand: it ends only with the last of them
    assert proof.communicate(timeout=30)[0] == b""


def test_the_way_is_told_to_its_end_once(wrong: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proving, "AT_ONCE", 2)
    told: list[tuple[int, int]] = []
    count = proving.prove(wrong.register, lambda done, of: told.append((done, of))).entries
    assert told == sorted(told)
    assert [of for done, of in told if done >= of] == [2 * count]
    assert {of for _, of in told} == {2 * count}


def orphaned(yard: Yard, path: Any) -> Iterator[Register]:
    copies.copy(yard.register, path)
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA writable_schema = 1")
        db.execute("DELETE FROM sqlite_master WHERE name = 'entry_of_machine'")
    with Register(path, create=False) as register:
        yield register


@in_a_file
def test_what_the_engine_finds_beside_the_chains_is_what_it_finds_alone(yard: Yard, tmp_path: Any) -> None:
    for register in orphaned(yard, tmp_path / "orphaned.db"):
        with register.db.faults_beside() as faults:
            beside = faults()
        assert beside == register.db.faults()
        assert any("never used" in one for one in beside)
        assert found(register) == [f"file: {one}" for one in beside]

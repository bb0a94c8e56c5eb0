"""A proof: what is wrong is named in its place, a proof that is stopped changes nothing, and its way is told."""

import contextlib
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from reelcare.core import entries as e
from reelcare.register.exchange import copies
from reelcare.register.opening import open_reader
from reelcare.register.proof import proving
from reelcare.register.reading import states
from reelcare.register.reading.reader import Reader
from tests.register.conftest import Yard, let_be_changed, sql
from tests.servers import in_a_file

WRONG = [f"rollup: {tag}: what is kept does not match the entries" for tag in ("R2", "R4")]
AS_ON_R1 = "UPDATE machine_state SET {0} = (SELECT other.{0} FROM machine_state AS other WHERE other.tag = 'R1')"


@pytest.fixture
def wrong(yard: Yard) -> Yard:
    """A register of five machines: the limits that are kept of R2, and the state of R4, are those of R1."""
    for number in range(2, 6):
        card = {"tag": f"R{number}", "hose": {"length": "400 m"}}
        yard.register.add(e.Carded(card=card), by="Mara", now=yard.now + timedelta(minutes=number))
    yard.run(1)
    yard.register.db.execute_sql(f"{AS_ON_R1.format('limits')} WHERE tag = 'R2'")
    yard.register.db.execute_sql(f"{AS_ON_R1.format('state')} WHERE tag = 'R4'")
    return yard


def found(register: Reader) -> list[str]:
    """What a proof finds, but for the triggers that a test took away to do its damage."""
    findings = proving.prove(register).findings
    return [f"{one.place}: {one.what}" for one in findings if not one.what.startswith("the trigger ")]


def test_what_is_kept_wrongly_is_named_in_the_order_of_the_machines(wrong: Yard) -> None:
    assert found(wrong.register) == WRONG
    differences = states.differences(wrong.register, states.machines(wrong.register))
    assert [f"rollup: {one}" for one in differences] == WRONG


def test_what_a_rebuild_mends_is_what_the_proof_named(wrong: Yard) -> None:
    assert [f"rollup: {one}" for one in wrong.register.rebuild()] == WRONG
    assert found(wrong.register) == []
    assert wrong.register.rebuild() == []


def test_what_is_kept_of_a_machine_that_no_entry_speaks_of_is_found_and_removed(yard: Yard) -> None:
    columns = "name, place, state, limits"
    yard.register.db.execute_sql(
        f"INSERT INTO machine_state (machine, tag, {columns}) SELECT 'none', 'R9', {columns} FROM machine_state"
    )
    assert found(yard.register) == ["rollup: R9: kept, but no entry explains it"]
    assert yard.register.rebuild() == ["R9: kept, but no entry explains it"]
    assert sql(yard.register.db, "SELECT tag FROM machine_state") == [("R1",)]


def test_a_damaged_register_is_not_held_against_its_entries(wrong: Yard) -> None:
    let_be_changed(wrong.register)
    wrong.register.db.execute_sql("UPDATE entry SET body = '{' WHERE kind = 'run'")
    (only,) = found(wrong.register)
    assert only.endswith("its content was changed after it was written")


def test_what_is_not_held_against_damaged_entries_is_named(wrong: Yard) -> None:
    unseen = "the totals kept beside the entries: the entries themselves are damaged"
    assert unseen not in proving.prove(wrong.register).not_looked_at
    let_be_changed(wrong.register)
    wrong.register.db.execute_sql("UPDATE entry SET body = '{' WHERE kind = 'run'")
    assert unseen in proving.prove(wrong.register).not_looked_at


def test_what_is_kept_is_proved_beside_a_head_that_is_gone(wrong: Yard) -> None:
    wrong.register.witness_heads()
    let_be_changed(wrong.register)
    wrong.register.db.execute_sql("DELETE FROM entry WHERE kind = 'run'")
    told = found(wrong.register)
    assert told[-1].endswith("the last of them is missing now")
    assert any(one.startswith("rollup: R1") for one in told[:-1])


def test_a_rebuild_that_mends_a_trigger_says_nothing_of_machines(yard: Yard) -> None:
    yard.register.db.drop_triggers()
    assert all(one.startswith("the trigger ") for one in yard.register.rebuild())
    assert proving.prove(yard.register).whole


def test_a_proof_that_is_stopped_leaves_the_register_as_it_was(wrong: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proving, "PAGE", 2)

    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        proving.prove(wrong.register, stop)
    # neither a transaction nor the lenient reading of text is left open
    assert not wrong.register.db.in_transaction()
    wrong.run(2)
    assert found(wrong.register) == WRONG


def test_progress_is_told_to_its_end_once(wrong: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proving, "PAGE", 2)
    told: list[tuple[int, int]] = []
    count = proving.prove(wrong.register, lambda done, of: told.append((done, of))).entries
    assert told == sorted(told)
    assert [of for done, of in told if done >= of] == [2 * count]
    assert {of for _, of in told} == {2 * count}


@in_a_file
def test_what_sqlite_finds_wrong_with_its_tables_is_a_finding(yard: Yard, tmp_path: Path) -> None:
    path = tmp_path / "orphaned.db"
    copies.copy(yard.register, path)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA writable_schema = 1")
        db.execute("DELETE FROM sqlite_master WHERE name = 'entry_in_order'")
    with open_reader(path) as register:
        problems = register.db.integrity_problems()
        assert any("never used" in one for one in problems)
        missing = "schema: the index entry_in_order of entry is not there"
        assert found(register) == [*(f"file: {one}" for one in problems), missing]

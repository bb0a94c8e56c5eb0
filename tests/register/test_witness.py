"""Heads kept outside of the register, and where it stands: a log that was lost is found, a network is told."""

import contextlib
import json
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register import mounts
from reelcare.register.database import sqlite_file
from reelcare.register.database.sqlite import EXTRA
from reelcare.register.errors import Busy, Damaged
from reelcare.register.exchange import carry_files
from reelcare.register.integrity import chain, witness
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import TAIL, Finding, prove, prove_the_end
from reelcare.register.reading.reader import Reader
from tests.register.conftest import carry_in, let_be_changed, sql
from tests.servers import in_a_file


def test_heads_are_kept_when_somebody_signs_and_when_it_is_closed(yard: Any) -> None:
    path = witness.path_of(yard.register.path)
    assert not path.exists()
    yard.run(0)
    assert not path.exists()
    yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    assert witness.kept(yard.register.path) == witness.heads(yard.register.db)
    assert path.stat().st_mode & 0o777 == 0o600
    yard.run(1)
    assert witness.kept(yard.register.path) != witness.heads(yard.register.db)
    yard.register.close()
    with yard.again() as again:
        assert witness.kept(again.path) == witness.heads(again.db)
        assert prove(again).whole
        assert prove_the_end(again) == []


@in_a_file
def test_a_log_that_was_lost_is_found(yard: Any, tmp_path: Path) -> None:
    yard.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    older = yard.register.path.read_bytes()
    yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    heads = witness.path_of(yard.register.path).read_bytes()
    lost = tmp_path / "lost.db"
    lost.write_bytes(older)
    witness.path_of(lost).write_bytes(heads)
    # to the engine this is a whole register, only older
    with open_writer(lost) as register:
        assert sql(register.db, "PRAGMA integrity_check") == [("ok",)]
        assert "the last of them is missing now" in prove(register).findings[0].what
        assert "the last of them is missing now" in prove_the_end(register)[0].what


@in_a_file
def test_a_later_write_does_not_hide_what_is_gone(yard: Any, tmp_path: Path) -> None:
    yard.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    older = yard.register.path.read_bytes()
    yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    lost = tmp_path / "lost.db"
    lost.write_bytes(older)
    witness.path_of(lost).write_bytes(witness.path_of(yard.register.path).read_bytes())
    for number in range(3):
        with open_writer(lost) as register:
            # a witnessed write, which keeps the heads at once; the first takes the very place of the one that is gone
            hold = e.Fault(part="hose", says=f"scuffed {number}", holds="run")
            register.add(hold, machine=yard.machine, by="Mara", now=yard.now + timedelta(hours=number))
    with open_writer(lost) as register:
        assert [one.place for one in prove(register).findings] == [f"terminal {yard.register.terminal}"]
        assert prove_the_end(register)[0].what.endswith("is not the one that was here before")
        register.rebuild()
        assert not prove(register).whole
    assert lost.exists()
    assert witness.kept(lost) != witness.heads(yard.register.db)


def test_one_head_that_cannot_be_one_does_not_switch_the_others_off(yard: Any) -> None:
    yard.add(e.Fault(part="pawl", says="x", holds="run"))
    path = witness.path_of(yard.register.path)
    text = path.read_text().replace(witness.heads(yard.register.db)[0].digest, "0" * 64)
    names = ("\u00e9", "a\0", "b\x1b", "", "c~", "d" * 65)
    odd = {name: [1, "x"] for name in names} | {"e": "b", "f": [1.5, "x"], "g": [0, "x"], "h": [True, "x"]}
    path.write_text(json.dumps(odd)[:-1] + ", " + text[1:])
    for _unused in range(2):
        [found] = prove(yard.register).findings
        assert "not the one that was here" in found.what
        yard.add(e.Fault(part="pawl", says="y", holds="run"))


@pytest.mark.parametrize("proof", [lambda reader: prove(reader).findings, prove_the_end], ids=["full", "quick"])
def test_what_is_written_while_a_proof_reads_is_no_finding(
    yard: Any, proof: Callable[[Reader], Sequence[Finding]], monkeypatch: pytest.MonkeyPatch
) -> None:
    yard.add(e.Fault(part="pawl", says="x", holds="run"))
    with yard.again() as reader:
        reading = reader.db.reading

        @contextlib.contextmanager
        def while_others_write() -> Iterator[None]:
            with reading():
                witness.heads(reader.db)  # the first question fixes what this transaction sees
                yard.add(e.Fault(part="hose", says="written meanwhile", holds="run"))
                yield

        monkeypatch.setattr(reader.db, "reading", while_others_write)
        assert list(proof(reader)) == []


def test_another_history_is_found(yard: Any) -> None:
    yard.add(e.Fault(part="pawl", says="x"))
    path = witness.path_of(yard.register.path)
    path.write_text(path.read_text().replace(witness.heads(yard.register.db)[0].digest, "0" * 64))
    assert "not the one that was here" in prove(yard.register).findings[0].what


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"a": 1}',
        '{"a": ["x", 2]}',
        '{"a": [1e999, "x"]}',
        '{"a": [99999999999999999999, "x"]}',
        '{"\\ud800": [1, "x"]}',
        "[" * 200_000,
    ],
    ids=range(9),
)
def test_a_witness_that_cannot_be_read_is_none(yard: Any, text: str) -> None:
    witness.path_of(yard.register.path).write_text(text)
    assert witness.missing(yard.register.db, witness.kept(yard.register.path) or ()) == []
    assert prove(yard.register).whole


def test_the_quick_proof_names_a_changed_entry_near_the_end(yard: Any) -> None:
    for number in range(60):
        yard.add(e.Fault(part="hose", says=f"scuffed at {number} m"), at=yard.now + timedelta(minutes=1))
    assert prove_the_end(yard.register) == []
    let_be_changed(yard.register)
    yard.register.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE place = 50")
    assert prove_the_end(yard.register)[0].what == "its content was changed after it was written"


def test_the_quick_proof_finds_a_beginning_that_was_cut_off(yard: Any) -> None:
    written = [yard.run(day) for day in range(3)]
    let_be_changed(yard.register)
    yard.register.db.execute_sql(f"DELETE FROM entry WHERE id < '{written[0].id}'")
    quick = prove_the_end(yard.register)
    assert quick[0].what == f"entry 1 is missing before {written[0].id}"
    assert set(quick) <= set(prove(yard.register).findings)


@in_a_file
def test_the_quick_proof_of_a_branch_says_what_the_full_one_says(yard: Any, tmp_path: Path) -> None:
    yard.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy(yard.register.path, tmp_path / "twin.db")
    with open_writer(tmp_path / "twin.db") as twin:
        yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
        first = twin.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
        twin.add(e.Fault(part="gun", says="arm bent"), machine=yard.machine, by="Olav", now=yard.now)
        carry_files.carry_out(twin, tmp_path / "x.carry", now=yard.now)
    carry_in(yard.register, tmp_path / "x.carry")
    [(branch,)] = sql(yard.register.db, "SELECT terminal FROM entry WHERE id = ?", first.id)
    assert chain.FORK in branch
    yard.register.terminal = branch
    assert prove(yard.register).whole
    assert prove_the_end(yard.register) == []
    let_be_changed(yard.register)
    yard.register.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE id = ?", (first.id,))
    quick = prove_the_end(yard.register)
    assert f"entry {first.id}" in {one.place for one in quick}
    assert quick == [one for one in prove(yard.register).findings if one.place != "schema"]


@in_a_file
def test_the_quick_proof_names_an_entry_whose_text_is_no_text(yard: Any) -> None:
    """Bytes that encode half a surrogate pair (RFC 3629, section 3: no UTF-8), and bytes that are nothing at all."""
    entries = [yard.run(day) for day in range(3)]
    let_be_changed(yard.register)
    for damaged, entry in ((b"\xed\xa0\x80", entries[0]), (b"\xff", entries[2])):
        yard.register.db.execute_sql(
            "UPDATE entry SET person = CAST(? AS TEXT) WHERE id = ?", (memoryview(damaged), entry.id)
        )
    named = {f"entry {entry.id}" for entry in (entries[0], entries[2])}
    assert {one.place for one in prove_the_end(yard.register)} == named
    assert {one.place for one in prove(yard.register).findings} - {"schema"} == named


@in_a_file
def test_the_quick_proof_names_an_entry_that_the_last_ones_go_on_from_and_that_cannot_be(yard: Any) -> None:
    """A bit of a page can make bytes of a text."""
    for number in range(TAIL + 5):
        yard.add(e.Fault(part="hose", says=f"scuffed at {number} m"))
    before = yard.written[-TAIL - 1]
    let_be_changed(yard.register)
    with contextlib.closing(sqlite3.connect(yard.register.path, isolation_level=None)) as db:
        db.execute("PRAGMA writable_schema = 1")
        db.execute("UPDATE sqlite_master SET sql = replace(sql, 'STRICT', '') WHERE name = 'entry'")
    with contextlib.closing(sqlite3.connect(yard.register.path, isolation_level=None)) as db:
        db.execute("UPDATE entry SET digest = CAST(digest AS BLOB) WHERE id = ?", (before.id,))
    with yard.again() as register:
        assert f"entry {before.id}" in {one.place for one in prove_the_end(register)}


@in_a_file
def test_the_quick_proof_tells_of_pages_that_cannot_be_read(yard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def malformed(*_: Any) -> None:
        raise Damaged("r.db: it is damaged; keep it as it is and go back to a copy")

    with monkeypatch.context() as patch:
        patch.setattr(yard.register.db, "fetch", malformed)
        assert [one.place for one in prove_the_end(yard.register)] == ["file"]


def test_where_the_heads_cannot_be_read_what_was_written_is_not_denied(
    yard: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(_: Any) -> None:
        raise Busy("r.db: another program is writing to it; nothing was saved, try again")

    monkeypatch.setattr(witness, "heads", busy)
    yard.add(e.Fault(part="pawl", says="spring gone", holds="run"))
    yard.register.close()
    with yard.again() as again:
        assert len(again.state(yard.machine).faults) == 1


@in_a_file
def test_a_network_file_system_is_told_and_runs_without_a_log(yard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    yard.register.close()
    monkeypatch.setattr(sqlite_file, "network_kind", lambda path: "nfs4")
    with open_writer(yard.register.path) as register:
        assert "network file system (nfs4)" in register.warning
        assert sql(register.db, "PRAGMA journal_mode") == [("delete",)]
        assert sql(register.db, "PRAGMA synchronous") == [(EXTRA,)]
        register.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Olav", now=yard.now)
        assert prove(register).whole


@pytest.mark.parametrize(
    ("mounts_", "path", "kind"),
    [
        ("1 0 8:1 / / rw - ext4 /dev/sda1 rw", "/home/r.db", ""),
        ("1 0 8:1 / / rw - ext4 /dev/sda1 rw\n2 1 0:5 / /home rw - cifs //srv/x rw", "/home/a/r.db", "cifs"),
        ("1 0 8:1 / / rw - nfs /x rw\n2 1 0:5 / /home rw - ext4 /dev/sdb rw", "/home/r.db", ""),
        ("2 1 0:5 / /my\\040shop rw shared:1 - fuse.sshfs x rw", "/my shop/r.db", "fuse.sshfs"),
        ("nonsense\n\n1 2", "/r.db", ""),
    ],
)
def test_the_kind_is_that_of_the_nearest_mount(mounts_: str, path: str, kind: str) -> None:
    assert mounts.network_kind(Path(path), mounts_) == kind


def test_where_it_cannot_be_told_nothing_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(mounts, "MOUNTS", tmp_path / "none")
    assert mounts.network_kind(tmp_path) == ""


def test_a_register_without_entries_has_a_whole_end(tmp_path: Path) -> None:
    with open_writer(tmp_path / "empty.db") as empty:
        assert prove_the_end(empty) == []


def test_whoever_brings_chains_together_witnesses_all_of_them(yard: Any, tmp_path: Path) -> None:
    carry_files.carry_out(yard.register, tmp_path / "x.carry", now=yard.now)
    with open_writer(tmp_path / "other.db") as other:
        carry_in(other, tmp_path / "x.carry")
        assert witness.kept(other.path) == witness.heads(other.db)
        assert set(witness.heads(yard.register.db)) < set(witness.heads(other.db))

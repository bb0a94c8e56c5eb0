"""Going back to a copy on a server: one transaction, the old tables under another schema, nothing lost."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest

from reelcare.core import entries as e
from reelcare.register.errors import Busy, Damaged, NotAllowed, NotThere, Refused, RegisterError
from reelcare.register.exchange import copies, restoration
from reelcare.register.integrity import pins, recovery, witness
from reelcare.register.opening import open_reader, open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading.foreign import recorded_here
from tests.register.conftest import carry_in, let_be_changed, sql
from tests.register.going_back import HOLD, WHY, held, restore, restored
from tests.register.test_carry_limits import forged
from tests.servers import Server, on_a_server

pytestmark = on_a_server


def schemas(url: str) -> list[str]:
    with psycopg.connect(url) as connection:
        rows = connection.execute("SELECT nspname FROM pg_namespace WHERE nspname LIKE 'reelcare%'").fetchall()
    return [name for (name,) in rows]


def in_schema(url: str, schema: str) -> str:
    return f"{url}&options=-csearch_path%3D{schema}"


@pytest.fixture
def copy(yard: Any, tmp_path: Path) -> Path:
    yard.run(0)
    path = tmp_path / "copy.db"
    copies.copy(yard.register, path)
    return path


@pytest.fixture
def other_computer(yard: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every register that is opened from now on is opened by another computer."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "other"))


@pytest.mark.long
def test_who_goes_back_twice_in_one_second_has_both_registers_set_aside(yard: Any, copy: Path) -> None:
    first, second = (restore(yard, copy).aside for _ in range(2))
    assert (second, sorted(schemas(yard.place))) == (f"{first}_2", [first, second])
    with yard.again() as now:
        assert prove(now).findings == ()


@pytest.mark.long
def test_what_the_register_has_and_the_copy_lacks_is_brought_back(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    before, terminal = witness.heads(yard.register.db), yard.register.terminal
    yard.register.give_pin("Mara", "135790", by="Mara")
    done = restore(yard, copy, ask_pin=lambda _: "135790")
    assert (done.brought_back, done.gone, done.before) == (1, (), before)
    with yard.again() as now:
        assert prove(now).findings == ()
        assert held(now, yard.machine) == ["spring gone"]
        assert now.terminal == done.terminal != terminal
        (entry,) = restored(now)
        assert isinstance(entry.what, e.Restored)
        assert (entry.by, entry.terminal, entry.what.why) == ("Mara", now.terminal, WHY)
        assert entry.what.before == {terminal: [before[0].count, before[0].digest]}
        assert entry.what.after[terminal][0] == before[0].count - 1
        assert pins.has(now.db, "Mara")
        assert [name for name in now.db.about() if name.startswith(recovery.RECOVERY)] == ["recovery Mara"]
        now.ask_pin = lambda _: "135790"
        now.add(e.Reading(counter="hours", value=90000), machine=yard.machine, by="Mara", now=yard.now + timedelta(1))
    assert schemas(yard.place) == [done.aside]
    with open_reader(in_schema(yard.place, str(done.aside))) as aside:
        assert prove(aside).findings == ()
        assert witness.heads(aside.db) == before


@pytest.mark.long
def test_who_has_it_open_writes_nothing_under_the_old_name(yard: Any, copy: Path) -> None:
    restore(yard, copy)
    with pytest.raises(NotThere, match="went back to a copy; nothing was saved"):
        yard.add(HOLD)
    assert held(yard.register, yard.machine) == []  # it reads what is there now
    with yard.again() as now:
        assert prove(now).findings == ()


@pytest.mark.long
def test_another_computer_takes_a_new_name_and_keeps_what_it_has_witnessed(
    yard: Any, copy: Path, other_computer: None, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    with yard.again() as there:
        there.add(HOLD, machine=yard.machine, by="Mara", now=yard.now)
        name = there.terminal
    # somebody puts the old content back by hand, so that what the other computer wrote is gone; nobody here knows
    let_be_changed(yard.register)
    yard.register.db.execute_sql("DELETE FROM entry WHERE terminal = %s", (name,))
    yard.register.rebuild()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    restore(yard, copy)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "other"))
    for _unused in range(2):
        with yard.again() as there:
            assert there.terminal != name
            assert [one.place for one in prove(there).findings] == [f"terminal {name}"]
            there.add(e.Fault(part="hose", says="scuffed"), machine=yard.machine, by="Mara", now=yard.now)
    done = restore(yard, copy, now=yard.now + timedelta(hours=2))
    assert [(one.terminal, one.count) for one in done.gone] == [(name, 1)]
    with yard.again() as there:
        assert prove(there).findings == ()


@pytest.mark.long
def test_what_another_register_went_through_answers_no_head_here(
    yard: Any, copy: Path, other_computer: None, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    with yard.again() as there:
        there.add(HOLD, machine=yard.machine, by="Mara", now=yard.now)
        name = there.terminal
    body = {"why": "as if it were known", "before": {name: [99, "f0"], "x": 5}, "after": {}}
    carry_in(yard.register, forged(tmp_path / "x.carry", [("restore", None, body)]), yard.now)
    with yard.again() as there:  # of this one the computer that goes back knows nothing
        there.add(HOLD, machine=yard.machine, by="Mara", now=yard.now)
    let_be_changed(yard.register)
    yard.register.db.execute_sql("DELETE FROM entry WHERE terminal = %s", (name,))
    yard.register.rebuild()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    restore(yard, copy)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "other"))
    with yard.again() as there:
        assert [one.place for one in prove(there).findings] == [f"terminal {name}"]
        assert [one.by for one in recorded_here(there, e.Restored.kind, yard.start, yard.now + timedelta(days=9))] == [
            "Mara"
        ]


@pytest.mark.long
def test_heads_that_the_entry_knew_of_are_answered_for_every_computer(
    yard: Any, copy: Path, other_computer: None, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    yard.add(HOLD)
    with yard.again() as there:
        there.witness_heads()
        assert len(witness.kept(there.path) or ()) == 1
    yard.add(HOLD)  # here one more is known of than there
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    let_be_changed(yard.register)
    (known,) = witness.heads(yard.register.db)
    yard.register.db.execute_sql("DELETE FROM entry WHERE kind = 'fault'")
    yard.register.rebuild()
    assert restore(yard, copy).gone == (known,)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "other"))
    with yard.again() as there:
        assert prove(there).findings == ()


@pytest.mark.long
def test_only_a_supervisor_goes_back_and_only_to_a_copy(yard: Any, copy: Path, tmp_path: Path) -> None:
    yard.register.give_pin("Mara", "135790", by="Mara")
    entries, folders = sql(yard.register.db, "SELECT id FROM entry"), sorted((tmp_path / "data").rglob("*"))
    (tmp_path / "text.db").write_text("no copy")
    cases: list[tuple[Path | str, dict[str, Any], type[RegisterError]]] = [
        (copy, {"by": "Olav", "ask_pin": lambda _: "x"}, NotAllowed),
        (copy, {"by": "Nobody", "ask_pin": lambda _: "x"}, NotAllowed),
        (copy, {"ask_pin": None}, NotAllowed),
        (copy, {"ask_pin": lambda _: "135790", "why": ""}, Refused),
        (tmp_path / "none.db", {}, NotThere),
        (tmp_path / "text.db", {}, NotThere),
        (yard.place, {}, Refused),
    ]
    for path, given, error in cases:
        with pytest.raises(error):
            restore(yard, path, **given)
    assert sql(yard.register.db, "SELECT id FROM entry") == entries
    assert schemas(yard.place) == []
    assert sorted((tmp_path / "data").rglob("*")) == folders
    assert restored(yard.register) == []


@pytest.mark.long
def test_a_copy_that_is_not_whole_is_refused(yard: Any, copy: Path) -> None:
    with open_writer(copy) as made:
        let_be_changed(made)
        made.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE place = 2")
    with pytest.raises(Damaged):
        restore(yard, copy)
    assert schemas(yard.place) == []
    yard.add(HOLD)
    assert prove(yard.register).findings == ()


@pytest.mark.long
def test_a_damaged_register_gives_what_is_sound(yard: Any, copy: Path) -> None:
    yard.add(HOLD)
    last = yard.add(e.Fault(part="hose", says="scuffed", holds="run"))
    let_be_changed(yard.register)
    yard.register.db.execute_sql("UPDATE entry SET person = 'Nobody' WHERE id = %s", (last.id,))
    assert restore(yard, copy).brought_back == 1
    with yard.again() as now:
        assert prove(now).findings == ()
        assert held(now, yard.machine) == ["spring gone"]


@pytest.mark.long
def test_while_somebody_writes_or_reads_for_long_it_is_busy_and_nothing_changes(yard: Any, copy: Path) -> None:
    with psycopg.connect(yard.place) as reading:
        reading.execute("SELECT count(*) FROM entry")
        with pytest.raises(Busy):
            restore(yard, copy)
    assert schemas(yard.place) == []
    assert restore(yard, copy).aside is not None


@pytest.mark.long
def test_other_users_keep_their_rights(yard: Any, copy: Path, postgres_server: Server) -> None:
    db = yard.register.db
    db.execute_sql("DROP ROLE IF EXISTS mechanic_of_reels")
    db.execute_sql("CREATE ROLE mechanic_of_reels LOGIN")
    db.execute_sql("GRANT SELECT, INSERT ON entry TO mechanic_of_reels")
    db.execute_sql("GRANT SELECT ON about, pin TO PUBLIC")
    given = (
        "SELECT table_name, grantee, privilege_type FROM information_schema.role_table_grants"
        " WHERE table_schema = 'public'"
    )
    before = sorted(sql(db, given))
    restore(yard, copy)
    assert sorted(sql(db, given)) == before
    db.execute_sql("DROP OWNED BY mechanic_of_reels")
    db.execute_sql("DROP ROLE mechanic_of_reels")


@pytest.mark.long
def test_an_empty_database_is_filled(yard: Any, copy: Path, postgres_server: Server) -> None:
    url = postgres_server.fresh()
    try:
        done = restoration.restore(url, copy, by="Mara", why=WHY, now=yard.now)
        assert (done.aside, done.brought_back) == (None, 0)
        with open_reader(url) as reader:
            assert prove(reader).findings == ()
            assert reader.terminal == done.terminal
        # and from there back into the register, by a copy on a server
        assert restore(yard, url).gone == ()
    finally:
        postgres_server.drop(url)


def test_a_register_in_a_file_goes_back_to_a_copy_on_a_server(yard: Any, tmp_path: Path) -> None:
    yard.run(0)
    place = tmp_path / "depot.db"
    done = restoration.restore(place, str(yard.place), by="Mara", why=WHY, now=yard.now)
    assert done.aside is None
    with open_reader(place) as reader:
        assert prove(reader).findings == ()

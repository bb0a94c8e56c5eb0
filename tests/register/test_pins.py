"""PINs: counted before they are tried, the same answer to all that is wrong, and nowhere to be seen."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.database.base import Database
from reelcare.register.database.models import PinRow, PinTryRow
from reelcare.register.database.opening import open_register
from reelcare.register.errors import CannotWrite, NotAllowed, Refused
from reelcare.register.exchange import carry_files
from reelcare.register.integrity import pins
from tests.register.conftest import sql
from tests.servers import in_a_file

PIN, OTHER = "739104", "884421"
ROLES = {"Mara": "supervisor", "Tove": "mechanic", "Olav": "operator"}


@dataclass
class Desk:
    """A database, who has signed in there, and a clock."""

    db: Database
    where: Path | str
    signed: set[str] = field(default_factory=set)
    now: datetime = datetime(2026, 5, 1, 6, tzinfo=UTC)

    def put(self, person: str, pin: str, *, by: str) -> None:
        pins.put(self.db, person, pin, by=by, roles=ROLES, signed=self.signed)

    def unlock(self, person: str, *, by: str) -> None:
        pins.unlock(self.db, person, by=by, roles=ROLES, signed=self.signed)

    def attempt(self, pin: str, *, name: str = "Olav", after: float = 0) -> str:
        """What is said to a PIN; '' where it is right."""
        self.now += timedelta(seconds=after)
        try:
            pins.check(self.db, name, pin, now=self.now, signed=self.signed)
        except NotAllowed as why:
            return str(why)
        return ""

    def again(self) -> "Desk":
        return Desk(open_register(self.where, _nothing, create=False).db, self.where, now=self.now)


def _nothing(_: Database) -> None:
    """There is nothing to rebuild."""


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same way with less work, so that tests are quick."""
    monkeypatch.setattr(pins, "WAY", "scrypt:16:8:1")


@pytest.fixture
def desk(place: Path | str) -> Iterator[Desk]:
    made = Desk(open_register(place, _nothing, create=True).db, place)
    yield made
    made.db.close()


@pytest.fixture
def locked(desk: Desk) -> Desk:
    """Olav has a PIN."""
    desk.put("Olav", PIN, by="Olav")
    return desk


def test_who_has_a_pin_must_sign_in_with_it_and_nobody_else(locked: Desk) -> None:
    assert [pins.has(locked.db, name) for name in ROLES] == [False, False, True]
    pins.must_have_signed(locked.db, "Tove", locked.signed)
    with pytest.raises(NotAllowed, match="signs with a PIN; it was not given"):
        pins.must_have_signed(locked.db, "Olav", locked.signed)
    assert locked.attempt(PIN) == ""
    assert locked.signed == {"Olav"}
    pins.must_have_signed(locked.db, "Olav", locked.signed)
    # a new PIN is to be signed in with as well
    locked.put("Olav", OTHER, by="Olav")
    assert locked.signed == set()


def test_wrong_and_unknown_get_the_same_answer(locked: Desk) -> None:
    assert locked.attempt("000001") == locked.attempt(PIN, name="Nobody") == pins.NOT_RIGHT
    assert locked.signed == set()


def test_attempts_wait_longer_and_longer_and_then_a_supervisor_unlocks(locked: Desk) -> None:
    for _ in range(pins.FREE):
        assert locked.attempt("wrong!") == pins.NOT_RIGHT
    assert locked.attempt(PIN) == "wait 5 s before the next try"
    # waiting does not help if it is too short, and a try while waiting is not counted
    assert "wait" in locked.attempt(PIN, after=3)
    assert locked.attempt("wrong!", after=3) == pins.NOT_RIGHT
    assert locked.attempt(PIN) == "wait 10 s before the next try"
    while "supervisor" not in (said := locked.attempt("wrong!", after=400)):
        assert said == pins.NOT_RIGHT
    # neither time nor the right PIN helps now
    assert "supervisor" in locked.attempt(PIN, after=1_000_000)
    with pytest.raises(NotAllowed, match="may not unlock anybody"):
        locked.unlock("Olav", by="Tove")
    with pytest.raises(Refused, match="not enrolled here; enrolled: Mara, Tove, Olav"):
        locked.unlock("Nobody", by="Mara")
    locked.unlock("Olav", by="Mara")
    assert locked.attempt(PIN) == ""


def test_a_supervisor_with_a_pin_signs_in_before_unlocking_or_setting_one(locked: Desk) -> None:
    locked.put("Mara", OTHER, by="Mara")
    with pytest.raises(NotAllowed, match="Mara signs with a PIN"):
        locked.unlock("Olav", by="Mara")
    with pytest.raises(NotAllowed, match="Mara signs with a PIN"):
        locked.put("Olav", OTHER, by="Mara")
    assert locked.attempt(OTHER, name="Mara") == ""
    locked.unlock("Olav", by="Mara")
    locked.put("Olav", OTHER, by="Mara")
    assert locked.attempt(OTHER) == ""


def test_a_restart_another_terminal_and_a_clock_set_back_take_no_attempt_back(locked: Desk) -> None:
    for _ in range(pins.FREE):
        locked.attempt("wrong!")
    again = locked.again()
    assert again.attempt(PIN) == "wait 5 s before the next try"
    assert again.attempt(PIN, after=-400 * 86_400) == "wait 5 s before the next try"
    assert again.attempt(PIN, after=400 * 86_400 + 6) == ""
    again.db.close()
    # the right one begins anew
    assert locked.attempt("wrong!", after=7) == pins.NOT_RIGHT


def test_guessing_over_many_names_waits_as_well(desk: Desk) -> None:
    said = [desk.attempt(PIN, name=f"Nobody {number}") for number in range(pins.FREE_OVER_ALL + 1)]
    assert said[-1].startswith("wait")


def test_an_attempt_that_cannot_be_counted_is_not_made(locked: Desk) -> None:
    locked.db.make_read_only()
    with pytest.raises((NotAllowed, CannotWrite), match="nothing was saved"):
        pins.check(locked.db, "Olav", PIN, now=locked.now, signed=locked.signed)
    assert locked.signed == set()


@pytest.mark.parametrize("pin", ["123", "0000", "1234", "1987", "7" * 6, "x" * 33, ""])
def test_poor_pins_are_refused(desk: Desk, pin: str) -> None:
    with pytest.raises(Refused, match="PIN"):
        desk.put("Olav", pin, by="Olav")
    assert not pins.has(desk.db, "Olav")


def test_a_raised_figure_in_a_pin_makes_no_year() -> None:
    assert pins.problem("20²5") == ""


def test_a_pin_is_set_by_oneself_or_a_supervisor_and_changed_only_with_the_old_one(locked: Desk) -> None:
    with pytest.raises(NotAllowed, match="only set their own PIN"):
        locked.put("Mara", "884422", by="Olav")
    with pytest.raises(NotAllowed, match="signs with a PIN"):
        locked.put("Olav", OTHER, by="Olav")
    locked.put("Olav", OTHER, by="Mara")
    assert locked.attempt(PIN) == pins.NOT_RIGHT
    assert locked.attempt(OTHER) == ""
    with pytest.raises(Refused, match="not enrolled"):
        locked.put("Nobody", OTHER, by="Mara")


def test_a_pin_kept_the_old_way_is_hashed_anew_when_it_is_given(locked: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = PinRow.select(PinRow.way, PinRow.salt)
    ((_, salt),) = locked.db.fetch(kept)
    monkeypatch.setattr(pins, "WAY", "scrypt:32:8:1")
    assert locked.attempt(PIN) == ""
    ((way, other),) = locked.db.fetch(kept)
    assert (way, other == salt) == ("scrypt:32:8:1", False)
    assert locked.attempt(PIN) == ""


@pytest.fixture
def signing(yard: Any) -> Any:
    """A whole register in which Olav has a PIN."""
    pins.put(yard.register.db, "Olav", PIN, by="Olav", roles=yard.register.roles(), signed=yard.register.signed)
    return yard


def test_who_has_a_pin_signs_with_it_and_others_as_before(signing: Any) -> None:
    note = e.Fault(part="pawl", says="spring gone")
    with pytest.raises(NotAllowed, match="signs with a PIN"):
        signing.add(note, by="Olav")
    signing.add(note, by="Tove")
    pins.check(signing.register.db, "Olav", PIN, now=signing.now, signed=signing.register.signed)
    signing.add(note, by="Olav")
    # a register that is opened again asks again
    with signing.again() as again, pytest.raises(NotAllowed):
        again.add(note, machine=signing.machine, by="Olav", now=signing.now)


def test_a_face_that_can_ask_is_asked(signing: Any) -> None:
    asked = []

    def ask(name: str) -> str:
        asked.append(name)
        return PIN

    signing.register.ask_pin = ask
    signing.add(e.Fault(part="pawl", says="x"), by="Olav")
    signing.add(e.Fault(part="pawl", says="y"), by="Olav")
    assert asked == ["Olav"]


@in_a_file
def test_a_pin_is_in_no_entry_no_carry_file_and_not_in_the_file_as_text(signing: Any, tmp_path: Path) -> None:
    import gzip

    pins.check(signing.register.db, "Olav", PIN, now=signing.now, signed=signing.register.signed)
    carry_files.carry_out(signing.register, tmp_path / "x.carry", now=signing.now)
    kept = sql(signing.register.db, "SELECT salt, hash FROM pin")[0]
    text = gzip.decompress((tmp_path / "x.carry").read_bytes())
    signing.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = signing.register.path.read_bytes()
    assert PIN.encode() not in text
    assert PIN.encode() not in whole
    assert not any(str(one).encode() in text for one in kept)


def test_the_hash_is_that_of_rfc_7914() -> None:
    # RFC 7914, section 12: scrypt(P="password", S="NaCl", N=1024, r=8, p=16), the first 32 bytes
    found = pins.hashed("password", b"NaCl", "scrypt:1024:8:16")
    assert found == "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
    with pytest.raises(Refused, match="does not know"):
        pins.hashed("x", b"", "rot13:1:1:1")


def test_a_lone_supervisor_who_is_locked_comes_back_with_the_code_and_an_entry_tells(yard: Any) -> None:
    code = yard.register.give_pin("Mara", "739104", by="Mara")
    assert len(code.replace("-", "")) == 20
    with yard.again() as register:
        for _ in range(pins.LOCKED):
            pins.count_try(register.db, "Mara", yard.now)
        register.db.write(PinTryRow.update(failed=pins.LOCKED).where(PinTryRow.person == "Mara"))
        register.db.write(PinTryRow.delete().where(PinTryRow.person == pins.ANYBODY))
        with pytest.raises(NotAllowed, match="a supervisor unlocks"):
            register.sign_in("Mara", "739104", now=yard.now)
        with pytest.raises(NotAllowed, match="name or recovery code is not right"):
            register.recover("Mara", "AAAAA-AAAAA-AAAAA-AAAAA", now=yard.now)
        entry = register.recover("Mara", code.lower().replace("-", " "), now=yard.now)
        assert (entry.what, entry.by) == (e.Recovered(name="Mara"), "Mara")
        with pytest.raises(NotAllowed, match="not right"):
            register.recover("Mara", code, now=yard.now)
        again = register.give_pin("Mara", "820415", by="Mara")
        assert again not in ("", code)
        register.sign_in("Mara", "820415", now=yard.now)


def test_only_a_supervisor_has_a_recovery_code_and_only_its_hash_is_kept(yard: Any) -> None:
    assert yard.register.give_pin("Olav", "739104", by="Olav") == ""
    code = yard.register.give_pin("Mara", "739104", by="Mara")
    kept = {name: value for name, value in yard.register.db.about().items() if name.startswith("recovery")}
    assert list(kept) == ["recovery Mara"]
    assert code.replace("-", "") not in str(kept)

"""PINs: counted before they are tried, the same answer to all that is wrong, and nowhere to be seen."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register import carry, pins, schema
from reelcare.register.errors import NotAllowed, Refused
from tests.servers import in_a_file

PIN = "739104"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same way with less work, so that tests are quick."""
    monkeypatch.setattr(pins, "WAY", "scrypt:16:8:1")


@pytest.fixture
def locked(yard: Any) -> Any:
    pins.put(yard.register.db, "Olav", PIN, by="Olav", roles=yard.register.roles(), signed=yard.register.signed)
    return yard


def put(yard: Any, person: str, pin: str, *, by: str) -> None:
    pins.put(yard.register.db, person, pin, by=by, roles=yard.register.roles(), signed=yard.register.signed)


def attempt(yard: Any, pin: str, *, name: str = "Olav", after: float = 0) -> str:
    yard.now += timedelta(seconds=after)
    try:
        pins.check(yard.register.db, name, pin, now=yard.now, signed=yard.register.signed)
    except NotAllowed as why:
        return str(why)
    return ""


def test_who_has_a_pin_signs_with_it_and_others_as_before(locked: Any) -> None:
    note = e.Fault(part="pawl", says="spring gone")
    with pytest.raises(NotAllowed, match="signs with a PIN"):
        locked.add(note, by="Olav")
    locked.add(note, by="Tove")
    assert attempt(locked, PIN) == ""
    locked.add(note, by="Olav")
    # a register that is opened again asks again
    with locked.again() as again, pytest.raises(NotAllowed):
        again.add(note, machine=locked.machine, by="Olav", now=locked.now)


def test_a_face_that_can_ask_is_asked(locked: Any) -> None:
    asked = []

    def ask(name: str) -> str:
        asked.append(name)
        return PIN

    locked.register.ask_pin = ask
    locked.add(e.Fault(part="pawl", says="x"), by="Olav")
    locked.add(e.Fault(part="pawl", says="y"), by="Olav")
    assert asked == ["Olav"]


def test_wrong_and_unknown_get_the_same_answer(locked: Any) -> None:
    assert attempt(locked, "000001") == attempt(locked, PIN, name="Nobody") == pins.NOT_RIGHT


def test_attempts_wait_longer_and_longer_and_then_a_supervisor_unlocks(locked: Any) -> None:
    for _ in range(pins.FREE):
        assert attempt(locked, "wrong!") == pins.NOT_RIGHT
    assert attempt(locked, PIN) == "wait 5 s before the next try"
    # waiting does not help if it is too short, and a try while waiting is not counted
    assert "wait" in attempt(locked, PIN, after=3)
    assert attempt(locked, "wrong!", after=3) == pins.NOT_RIGHT
    assert attempt(locked, PIN) == "wait 10 s before the next try"
    while "supervisor" not in (said := attempt(locked, "wrong!", after=400)):
        assert said == pins.NOT_RIGHT
    # neither time nor the right PIN helps now
    assert "supervisor" in attempt(locked, PIN, after=1_000_000)
    with pytest.raises(NotAllowed):
        pins.unlock(locked.register.db, "Olav", by="Tove", roles=locked.register.roles(), signed=locked.register.signed)
    pins.unlock(locked.register.db, "Olav", by="Mara", roles=locked.register.roles(), signed=locked.register.signed)
    assert attempt(locked, PIN) == ""


def test_a_restart_another_terminal_and_a_clock_set_back_take_no_attempt_back(locked: Any) -> None:
    for _ in range(pins.FREE):
        attempt(locked, "wrong!")
    with locked.again() as again:
        with pytest.raises(NotAllowed, match="wait 5 s"):
            pins.check(again.db, "Olav", PIN, now=locked.now, signed=again.signed)
        with pytest.raises(NotAllowed, match="wait 5 s"):
            pins.check(again.db, "Olav", PIN, now=locked.now - timedelta(days=400), signed=again.signed)
        pins.check(again.db, "Olav", PIN, now=locked.now + timedelta(seconds=6), signed=again.signed)
    # the right one begins anew
    assert attempt(locked, "wrong!", after=7) == pins.NOT_RIGHT


def test_guessing_over_many_names_waits_as_well(yard: Any) -> None:
    said = [attempt(yard, PIN, name=f"Nobody {number}") for number in range(pins.FREE_OVER_ALL + 1)]
    assert said[-1].startswith("wait")


@pytest.mark.parametrize("pin", ["123", "0000", "1234", "1987", "7" * 6, "x" * 33, ""])
def test_poor_pins_are_refused(yard: Any, pin: str) -> None:
    with pytest.raises(Refused, match="the PIN"):
        pins.put(yard.register.db, "Olav", pin, by="Olav", roles=yard.register.roles(), signed=yard.register.signed)


def test_a_pin_is_set_by_oneself_or_a_supervisor_and_changed_only_with_the_old_one(locked: Any) -> None:
    with pytest.raises(NotAllowed, match="no PIN but their own"):
        pins.put(
            locked.register.db,
            "Mara",
            "884422",
            by="Olav",
            roles=locked.register.roles(),
            signed=locked.register.signed,
        )
    with pytest.raises(NotAllowed, match="signs with a PIN"):
        pins.put(
            locked.register.db,
            "Olav",
            "884421",
            by="Olav",
            roles=locked.register.roles(),
            signed=locked.register.signed,
        )
    pins.put(
        locked.register.db, "Olav", "884421", by="Mara", roles=locked.register.roles(), signed=locked.register.signed
    )
    assert attempt(locked, PIN) == pins.NOT_RIGHT
    assert attempt(locked, "884421") == ""
    with pytest.raises(Refused, match="not enrolled"):
        pins.put(
            locked.register.db,
            "Nobody",
            "884421",
            by="Mara",
            roles=locked.register.roles(),
            signed=locked.register.signed,
        )


def test_a_pin_kept_the_old_way_is_hashed_anew_when_it_is_given(locked: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "WAY", "scrypt:32:8:1")
    assert attempt(locked, PIN) == ""
    assert schema.rows(locked.register.db, "SELECT way FROM pin")[0][0] == "scrypt:32:8:1"
    assert attempt(locked, PIN) == ""


@in_a_file
def test_a_pin_is_in_no_entry_no_carry_file_and_not_in_the_file_as_text(locked: Any, tmp_path: Path) -> None:
    import gzip

    attempt(locked, PIN)
    carry.carry_out(locked.register, tmp_path / "x.carry", now=locked.now)
    kept = schema.rows(locked.register.db, "SELECT salt, hash FROM pin")[0]
    text = gzip.decompress((tmp_path / "x.carry").read_bytes())
    locked.register.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = locked.register.path.read_bytes()
    assert PIN.encode() not in text
    assert PIN.encode() not in whole
    assert not any(str(one).encode() in text for one in kept)


def test_the_hash_is_that_of_rfc_7914() -> None:
    # RFC 7914, section 12: scrypt(P="password", S="NaCl", N=1024, r=8, p=16), the first 32 bytes
    found = pins.hashed("password", b"NaCl", "scrypt:1024:8:16")
    assert found == "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
    with pytest.raises(Refused, match="does not know"):
        pins.hashed("x", b"", "rot13:1:1:1")

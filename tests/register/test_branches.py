"""A copy of a register that wrote on: what is made of its branches is the same, whichever of them was here first."""

import itertools
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reelcare.core import entries as e
from reelcare.register.acts import people
from reelcare.register.database.models import EntryRow
from reelcare.register.exchange import carry_files, carry_format, copies, restoration
from reelcare.register.opening import open_writer
from reelcare.register.proof.proving import prove
from reelcare.register.reading import foreign
from reelcare.register.reading.branches import Branches
from reelcare.register.writing.writer import Writer
from tests.register.conftest import CARD, carry_in
from tests.register.test_foreign import OWN, forge
from tests.servers import in_a_file

DAY = timedelta(days=1)
pytestmark = in_a_file


@pytest.fixture
def branches(yard: Any, tmp_path: Path) -> list[carry_format.Bundle]:
    """Carry files of three copies of one register: its clock was ten days ahead at a service, one copy put it right at
    once, one of the others much later, and the last was made of that one."""
    here = yard.register
    here.add(e.Planned(plan=OWN), by="Mara", now=yard.now)
    carry_files.carry_out(here, tmp_path / "yard.carry", now=yard.now)
    found = []

    def write(register: Writer, what: e.Kind, days: float) -> None:
        forge(register, what, by="Tove", machine=yard.machine, at=yard.now + timedelta(days=days))

    def out(register: Writer, name: str) -> None:
        path = tmp_path / f"{name}.carry"
        carry_files.carry_out(register, path, now=yard.now)
        found.append(carry_format.read(path))

    with open_writer(tmp_path / "a.db") as a:
        people.enrol(a, "Ann", "supervisor", by="Ann", now=yard.now)
        carry_files.carry_in(a, carry_format.read(tmp_path / "yard.carry"), by="Ann", now=yard.now)
        write(a, e.Reading(counter="hours", value=100 * 3600), 0.1)
        write(a, e.Service(item="lube"), 10)
    for name in ("b", "c"):
        shutil.copy(tmp_path / "a.db", tmp_path / f"{name}.db")
    with open_writer(tmp_path / "a.db") as a:
        write(a, e.Noted(says="all well"), 20)
        out(a, "a")
    with open_writer(tmp_path / "b.db") as b:
        write(b, e.Noted(says="the clock was ahead"), 1)
        out(b, "b")
    with open_writer(tmp_path / "c.db") as c:
        write(c, e.Service(item="lube"), 12)
        out(c, "c")
    shutil.copy(tmp_path / "c.db", tmp_path / "d.db")
    for name, days in (("c", 13), ("d", 2)):
        with open_writer(tmp_path / f"{name}.db") as again:
            write(again, e.Noted(says=f"in {name}"), days)
            out(again, f"{name}-2")
    return found


def test_what_is_doubtful_is_the_same_in_any_order(
    yard: Any, branches: list[carry_format.Bundle], tmp_path: Path
) -> None:
    yard.register.close()
    seen = set()
    for number, order in enumerate(itertools.permutations(branches)):
        if number % 7:
            continue
        shutil.copy(yard.place, tmp_path / f"{number}.db")
        with open_writer(tmp_path / f"{number}.db") as register:
            for bundle in order:
                carry_files.carry_in(register, bundle, by="Mara", now=yard.now + 30 * DAY)
            state = register.state(yard.machine)
            services = [one for one in register.of_machine(yard.machine) if isinstance(one.what, e.Service)]
            doubtful = register.known().doubtful
            seen.add((tuple(sorted(doubtful.items())), state.cycles["lube"], len(list(Branches(register.db).all()))))
            assert {one.id for one in services} <= doubtful.keys()
            assert prove(register).whole
            assert register.rebuild() == []
    [(_doubtful, _cycle, columns)] = seen
    assert columns == 3


def test_what_another_copy_wrote_goes_on_to_wait_after_going_back(yard: Any, tmp_path: Path) -> None:
    """Whichever branch had come first: the one that was written here is brought back beside the other."""
    copies.copy(yard.register, tmp_path / "copy.db")
    yard.register.close()
    shutil.copy(yard.place, tmp_path / "twin.db")
    revised: dict[str, Path] = {}
    for path in (yard.place, tmp_path / "twin.db"):
        with open_writer(path) as one:
            entry = one.add(e.Carded(card={**CARD, "name": path.name}), machine=yard.machine, by="Mara", now=yard.now)
            ((digest,),) = one.db.fetch(EntryRow.select(EntryRow.digest).where(EntryRow.id == entry.id))
            revised[digest] = path
    # the branch of the lesser digest takes the name of the chain where both come at once
    (_, there), (_, here) = sorted(revised.items())
    with open_writer(there) as one:
        carry_files.carry_out(one, tmp_path / "there.carry", now=yard.now)
    with open_writer(here) as one:
        carry_in(one, tmp_path / "there.carry", yard.now)
        before = foreign.kept(one.db)
    assert list(before.values()) == ["waiting"]
    done = restoration.restore(here, tmp_path / "copy.db", by="Mara", why="the disk failed", now=yard.now)
    assert done.gone == ()
    with open_writer(here) as one:
        assert foreign.kept(one.db) == before
        assert one.state(yard.machine).card["name"] == here.name
        assert one.rebuild() == []
        assert prove(one).whole

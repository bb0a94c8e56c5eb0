"""Writers of one file take turns; the limit of waiting is for the one who holds it."""

import os
import threading
from pathlib import Path

import pytest

from reelcare.register.database import write_queue
from reelcare.register.database.opening import open_register
from reelcare.register.errors import Busy
from tests.register.database.conftest import nothing
from tests.servers import on_a_server


def test_who_waits_for_one_holder_too_long_is_told_and_then_gets_a_turn(tmp_path: Path) -> None:
    register = tmp_path / "r.db"
    refused = pytest.raises(Busy, match="another program is writing to it; nothing was saved")
    with write_queue.turn(register, lambda: 0.0), refused, write_queue.turn(register, lambda: 0.02):
        pytest.fail("two at once")
    with write_queue.turn(register, lambda: 0.0):
        pass
    assert write_queue.path_of(register).stat().st_mode & 0o777 == 0o600


@on_a_server
def test_on_a_server_many_holders_in_a_row_are_waited_for_longer_than_the_limit(place: str) -> None:
    """Each of twelve writers holds it for a third of the limit, so that the last waits four times as long as that."""
    limit, order = 0.15, []
    open_register(place, nothing, create=True).db.close()

    def write(number: int) -> None:
        db = open_register(place, nothing, create=False).db
        db.execute_sql(f"SET lock_timeout = {int(limit * 1000)}")
        with db.writing():
            order.append(number)
            threading.Event().wait(limit / 3)
            order.append(number)
        db.close()

    threads = [threading.Thread(target=write, args=(number,)) for number in range(12)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(order) == sorted([*range(12), *range(12)])
    assert order[::2] == order[1::2]


def test_many_holders_in_a_row_are_waited_for_longer_than_the_limit(tmp_path: Path) -> None:
    """Each of forty writers holds it for a tenth of the limit, so that the last waits four times as long as that."""
    register, limit, order = tmp_path / "r.db", 0.2, []

    def write(number: int) -> None:
        with write_queue.turn(register, lambda: limit):
            order.append(number)
            threading.Event().wait(limit / 10)
            order.append(number)

    threads = [threading.Thread(target=write, args=(number,)) for number in range(40)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(order) == sorted([*range(40), *range(40)])
    assert order[::2] == order[1::2]


def test_a_link_in_its_place_is_not_followed(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("mine")
    os.symlink(other, write_queue.path_of(tmp_path / "r.db"))
    with write_queue.turn(tmp_path / "r.db", lambda: 0.0):
        pass
    assert other.read_text() == "mine"

"""The witness takes a database and the path beside which it keeps the heads."""

import json
from pathlib import Path

from reelcare.register.database.opening import Opened
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.errors import Busy
from reelcare.register.integrity import witness
from reelcare.register.integrity.chain import Head
from tests.register.database.conftest import fill, row


def test_the_heads_are_the_last_entries_of_each_terminal(opened: Opened) -> None:
    assert witness.heads(opened.db) == ()
    fill(opened.db, 1, 2, 3)
    # the order of text is that of its bytes, in both databases: é after z, capitals before small letters
    for number, terminal in enumerate(("é", "Z", "a.b", "z"), 10):
        fill(opened.db, number, terminal=terminal)
    assert witness.heads(opened.db) == tuple(
        Head(terminal, place, row(place)["digest"])
        for terminal, place in (("Z", 11), ("a.b", 12), ("t", 3), ("z", 13), ("é", 10))
    )


def test_what_was_witnessed_and_is_gone_or_another_is_missing(opened: Opened) -> None:
    fill(opened.db, 1, 2)
    assert witness.missing(opened.db, witness.kept(opened.path) or ()) == []
    witness.keep(opened.db, opened.path)
    assert witness.kept(opened.path) == witness.heads(opened.db)
    assert witness.missing(opened.db, witness.kept(opened.path) or ()) == []
    on = "" if isinstance(opened.db, Sqlite) else " ON entry"
    opened.db.execute_sql(f"DROP TRIGGER entry_is_never_changed{on}")
    opened.db.execute_sql(f"DROP TRIGGER entry_is_never_removed{on}")
    opened.db.execute_sql("UPDATE entry SET digest = 'other' WHERE place = 2")
    assert witness.missing(opened.db, witness.kept(opened.path) or ()) == [
        ("t", "entry 2 is not the one that was here before")
    ]
    opened.db.execute_sql("DELETE FROM entry WHERE place = 2")
    assert witness.missing(opened.db, witness.kept(opened.path) or ()) == [
        ("t", "2 entries were here before, and the last of them is missing now")
    ]


def test_it_is_kept_private_and_whole_and_a_failure_denies_nothing(opened: Opened, tmp_path: Path) -> None:
    fill(opened.db, 1)
    witness.keep(opened.db, opened.path)
    path = witness.path_of(opened.path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert json.loads(path.read_text()) == {"t": [1, row(1)["digest"]]}
    witness.keep(opened.db, tmp_path / "no folder" / "r.db")
    assert witness.kept(tmp_path / "no folder" / "r.db") is None


def test_where_the_heads_cannot_be_read_what_was_kept_stays(opened: Opened) -> None:
    fill(opened.db, 1)
    witness.keep(opened.db, opened.path)
    before = witness.path_of(opened.path).read_bytes()

    class Failing:
        def fetch(self, _: object) -> list[tuple[object, ...]]:
            raise Busy("r.db: another program is writing to it; nothing was saved, try again")

    witness.keep(Failing(), opened.path)  # type: ignore[arg-type]  # only what keep asks of a database
    assert witness.path_of(opened.path).read_bytes() == before

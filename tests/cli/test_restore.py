"""`restore`: going back to a copy by command, and what is said of it."""

import shutil
from pathlib import Path
from typing import Any


def test_going_back_keeps_what_the_register_has_and_is_told(farm: Any, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    farm("copy", str(copy))
    farm("log", "fault", "R1", "pawl", "--says", "spring gone", "--hold", "--by", "Mara")
    done = farm("restore", str(copy), "--by", "Mara", "--why", "the disk failed", "--json")
    assert done.code == 0
    assert done.json["brought_back"] == 1
    assert Path(done.json["set_aside"]).exists()
    assert done.json["terminal"] not in {one["terminal"] for one in done.json["before"]}
    assert farm("yard", "--json").json[0]["standing"]["run"] == "held"
    assert farm("prove").code == 0
    (one,) = farm("corrections", "--json").json["restores"]
    assert (one["by"], one["why"]) == ("Mara", "the disk failed")
    assert "the disk failed" in farm("corrections").err


def test_who_is_no_supervisor_ends_with_6_and_what_is_no_copy_with_3(farm: Any, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    farm("copy", str(copy))
    assert farm("restore", str(copy), "--by", "Olav", "--why", "the disk failed").code == 6
    assert farm("restore", str(tmp_path / "none.db"), "--by", "Mara", "--why", "the disk failed").code == 3
    (tmp_path / "text.db").write_text("no copy")
    assert farm("restore", str(tmp_path / "text.db"), "--by", "Mara", "--why", "the disk failed").code == 3
    assert farm("corrections", "--json").json["restores"] == []


def test_a_copy_put_over_by_hand_is_told_until_somebody_answers(farm: Any, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    farm("copy", str(copy))
    farm("log", "fault", "R1", "pawl", "--says", "spring gone", "--hold", "--by", "Mara")
    register = Path(farm("paths", "--json").json["register"])
    for end in ("-wal", "-shm"):
        register.with_name(register.name + end).unlink(missing_ok=True)
    shutil.copy(copy, register)
    assert farm("prove").code == 5
    farm("log", "reading", "R1", "hours", "10", "--by", "Mara")
    assert farm("prove").code == 5
    done = farm("restore", str(copy), "--by", "Mara", "--why", "a copy was put over it")
    assert done.code == 0
    assert "missing: terminal" in done.err
    assert farm("prove").code == 0


def test_to_look_only_nothing_goes_back(farm: Any, tmp_path: Path) -> None:
    copy = str(tmp_path / "copy.db")
    assert farm("copy", copy).code == 0
    before = sorted(one.name for one in tmp_path.iterdir())
    told = farm("restore", copy, "--by", "Mara", "--why", "to try it", "--view")
    assert (told.code, told.out) == (6, "")
    assert "open view only" in told.err
    assert sorted(one.name for one in tmp_path.iterdir()) == before

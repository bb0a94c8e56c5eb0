"""Where several things are meant or equally far, each is named, and always in the same order."""

from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def alike(cli: Any, tmp_path: Path) -> Any:
    """Four machines with one history, whose places stand in another order than their tags."""
    assert cli("people", "add", "Mara", "--role", "supervisor", "--at", "2026-03-01").code == 0
    for tag, place in (("R3", "A"), ("R1", "D"), ("R4", "B"), ("R2", "C")):
        card = tmp_path / f"{tag}.toml"
        card.write_text(
            f'tag = "{tag}"\nplace = "{place}"\nin_use_since = 2026-03-01\n[hose]\nlength = "300 m"\n', "utf-8"
        )
        assert cli("machine", "add", str(card), "--by", "Mara", "--at", "2026-03-01").code == 0
        said = ("--metres", "250 m", "--by", "Mara")
        for day in ("2026-03-02", "2026-03-03"):
            began, ended = f"{day}T06:00", f"{day}T16:00"
            assert cli("log", "run", tag, "--started", began, "--ended", ended, *said).code == 0
    return cli


def test_lines_that_are_equally_far_stand_by_tag_and_then_by_item(alike: Any) -> None:
    order = ("overdue", "unknown", "due", "soon", "ok")

    def key(one: Any) -> tuple[int, float, str, str]:
        return order.index(one["state"]), -(one["life"] or 0), one["machine"], one["item"]

    for words in ((), ("--overdue",), ("--as-of", "2026-06-01"), ("--within", "30")):
        lines = alike("due", "--json", *words).json["items"]
        assert {one["machine"] for one in lines} == {"R1", "R2", "R3", "R4"}
        assert [order.index(one["state"]) for one in lines] == sorted(order.index(one["state"]) for one in lines)
        known = [one for one in lines if one["state"] != "unknown"]  # of the others what stops a machine comes first
        assert known == sorted(known, key=key), words
        assert len(known) < len(lines)


def test_where_several_faults_are_open_each_is_named_with_its_part(farm: Any) -> None:
    for part, says in (("hose", "weeps"), ("pawl", "spring gone")):
        assert farm("log", "fault", "R1", part, "--says", says, "--by", "Olav").code == 0
    refused = farm("log", "repair", "R1", "--says", "done", "--by", "Tove")
    assert refused.code != 0
    assert "R1: 2 faults are open" in refused.err
    book = farm("book", "R1", "--json").json
    for one in book[:2]:
        assert f"{one['entry'][-8:]} {one['body']['part']}: {one['body']['says']}" in refused.err
    assert farm("log", "repair", "R1", "pawl", "--says", "done", "--by", "Tove").code == 0
    assert farm("log", "repair", book[1]["entry"][-8:], "--says", "clamped", "--by", "Tove").code == 0
    assert farm("log", "repair", "R1", "chain", "--says", "done", "--by", "Tove").err.count(
        "no open fault on the chain"
    )

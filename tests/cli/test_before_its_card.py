"""What happened before a machine was carded is shown with its first card, and hides no other machine."""

from typing import Any

import pytest

BEFORE, BETWEEN, AFTER = "2026-02-20T12:00", "2026-03-10", "2026-04-10"


@pytest.fixture
def carded_late(farm: Any, tmp_path: Any) -> Any:
    """The farm of March, with a machine carded in April that has readings and a fault of February."""
    card = tmp_path / "late.toml"
    text = 'tag = "R2"\nname = "Late One"\nplace = "South"\nin_use_since = "2025-04-01"\n'
    card.write_text(text, "utf-8")
    assert farm("machine", "add", str(card), "--by", "Mara", "--at", "2026-04-01").code == 0
    assert farm("log", "reading", "R2", "hours", "70", "--by", "Olav", "--at", BEFORE).code == 0
    at = "2026-02-21"
    assert farm("log", "fault", "R2", "hose", "--says", "weeps", "--hold", "--by", "Olav", "--at", at).code == 0
    card.write_text(text.replace("Late One", "Late One, renamed").replace("South", "West"), "utf-8")
    assert farm("machine", "revise", "R2", str(card), "--by", "Mara", "--at", "2026-05-01").code == 0
    return farm


def test_the_yard_of_a_moment_before_a_carding_shows_the_machine_by_its_first_card(carded_late: Any) -> None:
    (one,) = carded_late("yard", "--json", "--as-of", "2026-02-20").json
    assert (one["machine"], one["name"], one["place"]) == ("R2", "Late One", "South")
    assert (one["hours"], one["standing"]["run"]) == (70.0, "check due")
    assert "R2" in carded_late("yard", "--as-of", "2026-02-20").out


def test_it_stands_beside_those_that_were_carded_before(carded_late: Any) -> None:
    then = {one["machine"]: one for one in carded_late("yard", "--json", "--as-of", BETWEEN).json}
    assert {tag: one["name"] for tag, one in then.items()} == {"R1": "Long Reach", "R2": "Late One"}
    assert then["R2"]["standing"] == {"run": "held", "road": "held", "gate": None, "held_as": "machine"}
    assert any("weeps" in says for says in then["R2"]["because"])
    for when, name in ((AFTER, "Late One"), ("2026-05-10", "Late One, renamed")):
        names = {one["machine"]: one["name"] for one in carded_late("yard", "--json", "--as-of", when).json}
        assert names == {"R1": "Long Reach", "R2": name}


def test_what_was_due_then_and_what_may_be_done_are_told_too(carded_late: Any) -> None:
    items = carded_late("due", "--json", "--as-of", BETWEEN).json["items"]
    assert {one["machine"] for one in items} == {"R1", "R2"}
    assert carded_late("may", "R2", "--json", "--as-of", BETWEEN).json["standing"]["run"] == "held"
    assert [one["kind"] for one in carded_late("book", "R2", "--json", "--as-of", BETWEEN).json] == ["fault", "reading"]

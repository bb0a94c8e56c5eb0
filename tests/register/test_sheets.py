"""Finding and reading sheets: one's own before the shipped ones, and a bad file never in the way of the others."""

from pathlib import Path

import pytest

from reelcare import files
from reelcare.core.service.plan_table import read_plan
from reelcare.register import sheets

GOOD = """
id = "{id}"
title = "{title}"
for = "run"
[[stages]]
id = "one"
title = "One"
[[stages.questions]]
id = "q"
ask = "?"
kind = "seen"
part = "drum"
if_not = "note"
choices = [{{ id = "a", says = "a", right = true }}, {{ id = "b", says = "b" }}]
"""


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    own, shipped = tmp_path / "own", tmp_path / "shipped"
    own.mkdir()
    shipped.mkdir()
    for name in ("pre-start", "road"):
        (shipped / f"{name}.toml").write_text(GOOD.format(id=name, title="shipped"), "utf-8")
    return own, shipped


def test_ones_own_sheet_takes_the_place_of_the_shipped_one(folders: tuple[Path, Path]) -> None:
    own, shipped = folders
    (own / "mine.toml").write_text(GOOD.format(id="pre-start", title="mine"), "utf-8")
    found = sheets.load(own, shipped)
    assert {id: one.title["en"] for id, one in found.by_id.items()} == {"pre-start": "mine", "road": "shipped"}
    assert found.problems == ()


def test_no_folder_of_ones_own_is_needed(folders: tuple[Path, Path], tmp_path: Path) -> None:
    assert set(sheets.load(tmp_path / "nowhere", folders[1]).by_id) == {"pre-start", "road"}


def test_a_byte_order_mark_and_a_name_with_accents_are_read(folders: tuple[Path, Path]) -> None:
    own, shipped = folders
    (own / "é.toml").write_text(GOOD.format(id="own", title="Señal"), "utf-8-sig")
    assert sheets.load(own, shipped).by_id["own"].title["en"] == "Señal"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"id = \n", "line 1"),
        (b'id = "x"\ntitle = "\xff"', "not UTF-8"),
        (b"x" * (sheets.LARGEST + 1), "at most 256 KiB"),
        (b"a" + b".a" * 5000 + b" = 1", "parts"),
        (b"x = " + b"[" * 50_000, "TOML"),
        (b'id = "x"', "title: missing"),
        (GOOD.format(id="x", title="x").replace('"drum"', '"wing"').encode(), "(q).part: 'wing'"),
    ],
)
def test_a_bad_file_is_named_with_its_place_and_the_others_load(
    folders: tuple[Path, Path], content: bytes, says: str
) -> None:
    own, shipped = folders
    (own / "bad.toml").write_bytes(content)
    found = sheets.load(own, shipped)
    assert set(found.by_id) == {"pre-start", "road"}
    assert found.problems
    assert all("bad.toml" in one for one in found.problems)
    assert any(says in one for one in found.problems)


def test_two_files_with_one_id_are_told(folders: tuple[Path, Path]) -> None:
    own, shipped = folders
    for name in ("a.toml", "b.toml"):
        (own / name).write_text(GOOD.format(id="own", title=name), "utf-8")
    found = sheets.load(own, shipped)
    assert found.by_id["own"].title["en"] == "a.toml"
    assert "b.toml" in found.problems[0]


def test_the_default_plan_is_the_shipped_one_unless_there_is_ones_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, table = sheets.default_plan()
    assert plan.id == "default"
    assert read_plan(table) == plan
    own = tmp_path / sheets.OWN
    own.mkdir()
    (own / sheets.DEFAULT_PLAN).write_text(
        'id = "mine"\n[[items]]\nid = "a"\nwhat = "a"\nevery = { hours = 1 }\n', "utf-8"
    )
    monkeypatch.setattr(files, "config_folder", lambda: tmp_path)
    assert sheets.default_plan()[0].id == "mine"
    (own / sheets.DEFAULT_PLAN).write_text('id = "mine"\n', "utf-8")
    with pytest.raises(sheets.FileError, match="items: none"):
        sheets.default_plan()


def test_a_limit_of_another_quantity_is_told_with_its_file(folders: tuple[Path, Path]) -> None:
    own, shipped = folders
    text = GOOD.format(id="mine", title="mine").partition("choices")[0].replace('"seen"', '"reading"')
    (own / "mine.toml").write_text(text + 'quantity = "pressure"\nat_most = "card.hose.length"\n', "utf-8")
    found = sheets.load(own, shipped)
    assert found.problems == (
        f"{own / 'mine.toml'}: q.at_most: 'card.hose.length' measures length, and pressure is asked for",
    )
    assert set(found.by_id) == {"pre-start", "road"}


# --- one's own model of the machine, and sheets against it

CHECKLISTS = files.folder("checklists")


def with_sets(id: str, *sets: str) -> str:
    head, _, question = GOOD.format(id=id, title="mine").partition("[[stages.questions]]")
    return head + "".join(
        "[[stages.questions]]" + question.replace('"q"', f'"q{number}"') + f'sets = "{one}"\n'
        for number, one in enumerate(sets)
    )


@pytest.mark.parametrize(
    ("sets", "says"),
    [
        (("wings=out",), "q0.sets: 'wings' is no part of the machine; parts are drum heading"),
        (("pawl=sideways",), "q0.sets: pawl cannot be 'sideways'; choose from down, up"),
        (("legs=set", "hose=out"), ""),
        (("pawl=up", "drum block=off"), "q1: drum block found on cannot be put right here"),
    ],
)
def test_ones_own_sheet_that_contradicts_the_model_gives_way_to_the_shipped_one(
    folders: tuple[Path, Path], sets: tuple[str, ...], says: str
) -> None:
    own, shipped = folders
    (own / "mine.toml").write_text(with_sets("pre-start", *sets), "utf-8")
    found = sheets.load(own, shipped)
    assert found.by_id["pre-start"].title["en"] == ("shipped" if says else "mine")
    assert all(str(own / "mine.toml") in one for one in found.problems)
    assert says in "\n".join(found.problems)
    assert bool(says) == bool(found.problems)


def test_ones_own_model_that_contradicts_itself_gives_way_to_the_shipped_one(
    folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    own, shipped = folders
    monkeypatch.setattr(files, "config_folder", lambda: own.parent)
    monkeypatch.setattr(sheets, "OWN", own.name)
    text = (CHECKLISTS / "machine.toml").read_text("utf-8")
    (own / "machine.toml").write_text(
        text.replace('id = "trip the stop bar"', 'id = "trip the stop bar"\nneeds = { pawl = "down" }')
    )
    (own / "positions.toml").write_text("")
    told = "\n".join(sheets.load(own, shipped).problems)
    assert (
        "machine.toml: activities (trip the stop bar).needs: stopping is never forbidden; a stop needs nothing" in told
    )
    assert "positions.toml: no longer read" in told
    assert not sheets.machine_model().activities["trip the stop bar"].needs
    (own / "machine.toml").write_text(text.replace('en = "Turn the water off"', 'en = "Shut it"'))
    assert sheets.machine_model().activities["close the water"].says["en"] == "Shut it"

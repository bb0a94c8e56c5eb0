"""The command line run in this process, on a register of its own."""

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli import main
from tests import estates

CARD = """
tag = "R1"
name = "Long Reach"
place = "North"
in_use_since = 2026-03-01
[hose]
length = "400 m"
[legs]
kind = "hydraulic"
[drive]
kind = "turbine"
most_loss = "10 psi"
[cart]
kind = "gun"
"""


ESTATE_AT = ("--as-of", "2026-07-01T09:00Z")


@dataclass
class Said:
    """What a command gave back."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Cli = Callable[..., Said]


@pytest.fixture(scope="session")
def estate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo estate at a fixed moment, to look at only."""
    return estates.estate(tmp_path_factory)


@pytest.fixture
def cli(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Cli:
    monkeypatch.setenv("REELCARE_REGISTER", str(tmp_path / "register.db"))
    monkeypatch.setenv("TZ", "UTC")

    def run(*words: str) -> Said:
        capsys.readouterr()
        code = main(list(words))
        told = capsys.readouterr()
        is_table = words[:1] == ("bring",) or words[:2] == ("machine", "add")  # each refused cell is a line of its own
        assert told.err.count("\n") <= 1 or code == 0 or is_table, "an error is one line"
        return Said(code, told.out, told.err)

    return run


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what `farm` begins with, to be copied: a copy costs a tenth of four commands."""
    folder = tmp_path_factory.mktemp("farm")
    card = folder / "card.toml"
    card.write_text(CARD, "utf-8")
    commands = [
        ("people", "add", "Mara", "--role", "supervisor", "--at", "2026-03-01"),
        ("people", "add", "Tove", "--role", "mechanic", "--by", "Mara"),
        ("people", "add", "Olav", "--role", "operator", "--by", "Mara"),
        ("machine", "add", str(card), "--by", "Mara", "--at", "2026-03-01"),
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "UTC")
        for words in commands:
            assert main(["--register", str(folder / "register.db"), *words]) == 0
    return folder


@pytest.fixture
def farm(furnished: Path, cli: Cli, tmp_path: Path) -> Cli:
    """A register with three people and a machine in use since spring."""
    shutil.copytree(furnished, tmp_path, dirs_exist_ok=True)
    return cli


def held_by(farm: Cli, folder: Path, plan: str, item: str) -> Cli:
    """The farm under a plan with one stop item, which was done once before a run of 12 h and 300 m took it past."""
    table = folder / "plan.toml"
    table.write_text(plan, "utf-8")
    drop = [word for one in farm("plan", "--json").json["items"] if one.get("stop") for word in ("--drop", one["id"])]
    assert farm("plan", "--use", str(table), *drop, "--by", "Mara", "--at", "2026-03-02").code == 0
    assert farm("log", "service", "R1", item, "--by", "Tove", "--at", "2026-05-01T08:00").code == 0
    times = ("--started", "2026-05-02T06:00", "--ended", "2026-05-02T18:00")
    assert farm("log", "run", "R1", *times, "--metres", "300 m", "--by", "Olav").code == 0
    return farm

"""What stands in the help as an example holds in the demo, as far as it only looks."""

import shlex
from pathlib import Path
from typing import Any

import pytest

from reelcare.cli import common, main
from reelcare.cli.parser import parse
from tests.cli.test_parser import EXAMPLES
from tests.estates import NOW

ELSEWHERE = (
    "night",
    "report night",
    "carry in",
    "serve",
    "report due lists --watch",
    "copy",
    "begin",
    "demo",
    "rebuild",
)
"""Examples that need more than the demo has: a field, a file, a server, or a register that may be written to."""


def looks(example: str) -> bool:
    asked = parse(shlex.split(example))
    return not asked.writes(asked) and not example.startswith(ELSEWHERE)


LOOKING = [
    pytest.param(one, marks=pytest.mark.long if one.endswith(".pdf") else ())
    for one in sorted({one for one in EXAMPLES if looks(one)})
]
"""A page of a PDF takes seconds to set."""


@pytest.mark.parametrize("example", LOOKING)
def test_an_example_holds_in_the_demo(
    example: str, estate: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """`--place North` warned that no machine is there; the demo has the North Field."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(common, "now", lambda: NOW)
    assert main(["--register", str(estate), *shlex.split(example)]) in (0, 1)
    assert "warning" not in capsys.readouterr().err

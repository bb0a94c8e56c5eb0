"""Commands run in this process at a moment of the test's choosing, as the tests of whole registers need them.

Nothing here knows more of the program than its command line and the one function by which it asks the clock.
"""

import contextlib
import io
import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from unittest import mock

from reelcare.cli import common, main

OWN = ("REELCARE_", "TEXTUAL_")


@dataclass(frozen=True)
class Result:
    """What a command returned and wrote."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


class Typist:
    """A standard input that answers what was written to standard output since the last question."""

    def __init__(self, seen: io.StringIO, answer: Callable[[str], str | None]) -> None:
        self._seen = seen
        self._answer = answer
        self._read = 0

    def isatty(self) -> bool:
        return False

    def readline(self) -> str:
        asked = self._seen.getvalue()[self._read :]
        self._read += len(asked)
        typed = self._answer(asked)
        return "" if typed is None else f"{typed}\n"


Answer = Callable[[str], str | None]


def run(register: Path | str, at: datetime, *words: str, answer: Answer = lambda _: None) -> Result:
    """Run one command on a register as if it were `at`; `answer` is given each question and returns what is typed,
    None for the end of the input."""
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(common, "now", return_value=at),
        mock.patch("sys.stdin", Typist(out, answer)),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        code = main(["--register", str(register), *words])
    return Result(code, out.getvalue(), err.getvalue())


@contextlib.contextmanager
def plain_environment(zone: str = "UTC") -> Iterator[None]:
    """No setting of whoever runs this, and a zone for registers made inside."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(OWN)}
    with mock.patch.dict(os.environ, {**kept, "TZ": zone, "REELCARE_LANGUAGE": "en"}, clear=True):
        yield


def cell_back(text: str) -> str:
    """The text that a cell of a CSV report was written from."""
    return text[1:] if text.startswith("'") else text

"""A plugin of pytest that writes which tests run which lines, for `tests/mutation.py`.

`MUTATION_LINES` names a JSON file with the lines that are asked for ({file: [lines]}, from the root), and
`MUTATION_TRACE` the file that gets one line of JSON for each test that passed.
"""

import json
import os
import sys
import threading
import time
from collections.abc import Generator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

ROOT = f"{Path(__file__).resolve().parent.parent}{os.sep}"
ASKED = Path(os.environ.get("MUTATION_LINES", os.devnull)).read_text() or "{}"
LINES = {ROOT + file: frozenset(lines) for file, lines in json.loads(ASKED).items()}
TRACE = Path(os.environ.get("MUTATION_TRACE", os.devnull))
PASSED = pytest.StashKey[bool]()

ran: set[tuple[str, int]] = set()
entered: set[str] = set()
asked: dict[CodeType, bool] = {}


def _line(frame: FrameType, event: str, _: Any) -> Any:
    if event == "line":
        ran.add((frame.f_code.co_filename, frame.f_lineno))
    return _line


def _call(frame: FrameType, _event: str, _: Any) -> Any:
    """Watch the lines of a function only where one of them is asked for; of others, note the file at most."""
    code = frame.f_code
    if (lines := LINES.get(code.co_filename)) is None:
        return None
    entered.add(code.co_filename)
    if code not in asked:
        asked[code] = any(line in lines for _, _, line in code.co_lines())
    return _line if asked[code] else None


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    ran.clear()
    entered.clear()
    began = time.process_time()
    threading.settrace(_call)
    sys.settrace(_call)
    try:
        return (yield)
    finally:
        sys.settrace(None)
        threading.settrace(None)
        if item.stash.get(PASSED, False):
            own = {
                "test": item.nodeid,
                "seconds": time.process_time() - began,
                "files": sorted(file.removeprefix(ROOT) for file in entered),
                "lines": sorted((file.removeprefix(ROOT), line) for file, line in ran if line in LINES[file]),
            }
            with TRACE.open("a") as file:
                print(json.dumps(own), file=file)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if report.when == "call":
        item.stash[PASSED] = report.passed
    elif report.failed:
        item.stash[PASSED] = False
    return report

"""Puts small faults into the core and the register and tells which no test sees: `python -m tests.mutation`.

Each mutant (`tests/mutants.py`) changes one place. It is tried in a copy of the tree, first by the doctests of its
module and the test file that mirrors it, then by the tests of its folder, of its room, and of the rooms above; the
first that fails, or takes far longer than without the mutant, kills it. What survives is printed with its place and
difference, and read by somebody: it is a gap, or a change that nobody could see, which `tests/equivalent-mutants.toml`
names with its reason.

Results are kept in a file as they come, so that a run that was stopped goes on where it was. The public libraries for
this know neither a seeded sample nor tests nearest first.
"""

import argparse
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import tomllib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Any, ClassVar

from tests.mutants import ROOT, Mutant, chosen

EQUIVALENT = Path(__file__).with_name("equivalent-mutants.toml")
SHORTEST = 60.0
"""Seconds that tests may always take, however fast they are without a mutant."""
LEFT_ALONE = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", "*.jsonl")


def stages(file: str) -> list[list[str]]:
    """Which tests are asked of a mutant in a file, the nearest first."""
    parts = Path(file).parts[1:]
    mirror = Path("tests", *parts[:-1])
    mirrored = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / mirror).glob(f"test_{Path(file).stem}*.py"))
    folders = [one for one in (mirror, *mirror.parents) if len(one.parts) >= 2 and (ROOT / one).is_dir()]
    rooms = [
        [one.as_posix(), *(f"--ignore={done.as_posix()}" for done in folders[:number])]
        for number, one in enumerate(folders)
    ]
    above = ["tests/tui/widgets"] if "drawing" in parts else ["tests/register", "tests/cli"][parts[0] != "core" :]
    return [[file, *mirrored], *rooms, above]


@dataclass
class Baseline:
    """How long tests take without a mutant, once somebody has measured it."""

    lock: threading.Lock
    seconds: float | None = None


class Copy:
    """A copy of the tree, in which one mutant at a time is tried."""

    baselines: ClassVar[dict[tuple[str, ...], Baseline]] = {}
    lock: ClassVar = threading.Lock()

    def __init__(self, folder: Path) -> None:
        self.root = folder / "tree"
        shutil.copytree(ROOT, self.root, ignore=LEFT_ALONE)
        self.own = {**os.environ, "PYTHONPATH": str(self.root), "PYTHONDONTWRITEBYTECODE": "1", "CI": "true"}
        told = subprocess.run(
            [sys.executable, "-c", "import reelcare; print(reelcare.__file__)"], cwd=self.root, env=self.own,
            capture_output=True, text=True, check=True,
        ).stdout  # fmt: skip
        if not told.startswith(str(self.root)):
            raise SystemExit(f"the tests would not see the copy, but {told}")

    def passed(self, tests: Sequence[str], most: float) -> bool | None:
        """Whether tests pass; None where they take more than `most` seconds."""
        words = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests]
        nothing: Any = subprocess.DEVNULL
        with subprocess.Popen(words, cwd=self.root, env=self.own, stdin=nothing, stdout=nothing, stderr=nothing,
                              start_new_session=True) as done:  # fmt: skip
            try:
                return done.wait(most) in (0, 5)  # 5: there is no test there
            except subprocess.TimeoutExpired:
                os.killpg(done.pid, signal.SIGKILL)
                return None

    def limit(self, tests: Sequence[str]) -> float:
        """The seconds that tests may take, from what they took without a mutant, when they are asked first."""
        with self.lock:
            known = self.baselines.setdefault(tuple(tests), Baseline(threading.Lock()))
        with known.lock:  # while it is measured, only who asks the same tests waits
            if known.seconds is None:
                began = time.monotonic()
                if self.passed(tests, 3600) is not True:
                    raise SystemExit(f"{' '.join(tests)}: these fail without any mutant")
                known.seconds = time.monotonic() - began
            return max(SHORTEST, 8 * known.seconds)

    def tried(self, mutant: Mutant) -> str:
        """What became of a mutant: at which stage it was killed, or 'survived'."""
        file = self.root / mutant.file
        source = file.read_bytes()
        for number, tests in enumerate(stages(mutant.file), 1):
            most = self.limit(tests)
            try:
                file.write_bytes(mutant.applied(source))
                passed = self.passed(tests, most)
            finally:
                file.write_bytes(source)
            if passed is not True:
                return f"killed at stage {number}" + (" by time" if passed is None else "")
        return "survived"


def equivalent(mutant: Mutant) -> str:
    """Why nobody could see this mutant; '' where nothing says so."""
    line = (ROOT / mutant.file).read_text("utf-8").splitlines()[mutant.line - 1].strip()
    known = tomllib.loads(EQUIVALENT.read_text("utf-8")).get("mutant", [])
    key = {"file": mutant.file, "line": line, "becomes": mutant.becomes}
    return next((str(one["because"]) for one in known if {**one, **key} == one), "")


def play(mutants: Sequence[Mutant], results: Path, workers: int) -> dict[Mutant, str]:
    """Try all mutants that the file of results does not have yet; each result goes into it at once."""
    done: dict[Mutant, str] = {}
    if results.exists():
        for line in results.read_text("utf-8").splitlines():
            one = json.loads(line)
            done[Mutant(**one["mutant"])] = one["result"]
    left = [one for one in mutants if one not in done]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(workers) as pool, results.open("a") as file:
        copies: SimpleQueue[Copy] = SimpleQueue()
        for number in range(min(workers, len(left))):
            copies.put(Copy(Path(folder, str(number))))

        def attempt(mutant: Mutant) -> None:
            here = copies.get()
            try:
                done[mutant] = "equivalent" if equivalent(mutant) else here.tried(mutant)
            finally:
                copies.put(here)
            with Copy.lock:
                print(json.dumps({"mutant": asdict(mutant), "result": done[mutant]}), file=file, flush=True)
                print(f"{mutant.file}:{mutant.line}: {mutant.becomes}: {done[mutant]}", file=sys.stderr, flush=True)

        for _ in pool.map(attempt, left):
            pass
    return {one: done[one] for one in mutants}


def main() -> int:
    """Print what survived and a summary; 1 where anything survived."""
    parser = argparse.ArgumentParser(description="Try whether tests fail on small faults.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument(
        "--only", action="append", metavar="PATH", help="a folder or file below the root; may be repeated"
    )
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--results", type=Path, default=Path("mutants.jsonl"), help="kept as they come, and gone on from"
    )
    asked = parser.parse_args()
    mutants = chosen(asked.only or ["reelcare/core", "reelcare/register"], asked.seed, asked.count)
    found = play(mutants, asked.results, asked.workers)
    survived = sorted((one for one in found if found[one] == "survived"), key=lambda one: (one.file, one.start))
    for one in survived:
        print(f"\nsurvived: {one.file}:{one.line}\n{one.difference((ROOT / one.file).read_bytes())}")
    counts = {result: list(found.values()).count(result) for result in sorted(set(found.values()))}
    visible = len(found) - counts.get("equivalent", 0)
    killed = round(100 * (visible - len(survived)) / visible, 1) if visible else None
    print(json.dumps({"seed": asked.seed, "mutants": len(found), "killed_percent": killed, **counts}))
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())

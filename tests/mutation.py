"""Puts small faults into the core and the register and tells which no test sees: `python -m tests.mutation`.

Each mutant (`tests/mutants.py`) changes one place. In a copy of the tree the tests of each room run once and are traced
(`tests/mutation_trace.py`). Then each mutant is tried by those tests that run its line, of the core, then of the
register, then of the command line; of each room those of the file that mirrors its module first, and the quickest. The
first that fails, or takes far longer than without the mutant, kills it. These are the tests of the quick suite: what
survives is printed with its place and difference, tried by the long tests and the pictures that show it, and read by
somebody. It is a gap, or a change that nobody could see, which `tests/equivalent-mutants.toml` names with its reason.

Results are kept in a file as they come, so that a run that was stopped goes on where it was. The public libraries for
this know neither a seeded sample nor tests nearest first.
"""

import argparse
import ast
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

from tests.mutants import ROOT, Mutant, chosen

EQUIVALENT = Path(__file__).with_name("equivalent-mutants.toml")
ROOMS = (("reelcare/core", "tests/core"), ("tests/register",), ("tests/cli",))
"""Whose tests are asked, one after the other."""
WHOLE = "--hypothesis-profile=whole"
"""Property tests try all their examples, and not the few of the quick suite."""
MOST = 20.0
"""Seconds of tests that a mutant is tried by in each room."""
SHORTEST = 60.0
"""Seconds that tests may always take, however fast they are without a mutant."""
LEFT_ALONE = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", "*.jsonl")


@dataclass(frozen=True)
class Traced:
    """A test that passes without a mutant: the seconds it takes, and what it runs of the files with mutants."""

    test: str
    seconds: float
    files: frozenset[str]
    lines: frozenset[tuple[str, int]]


def lines_of(mutant: Mutant, source: bytes) -> range:
    """The lines of a mutant's place, from the first one of its statement on."""
    statements = [one for one in ast.walk(ast.parse(source)) if isinstance(one, ast.stmt)]
    first = max(one.lineno for one in statements if one.lineno <= mutant.line <= (one.end_lineno or 0))
    return range(first, mutant.line + source[mutant.start : mutant.end].count(b"\n") + 1)


def asked_of(mutant: Mutant, source: bytes, traced: Iterable[Traced]) -> list[Traced]:
    """The tests that run a mutant's line, and those of the file that mirrors its module, which may have its result
    from a cache or from an import; where there are none, those that enter its file. The nearest and quickest first."""
    places = {(mutant.file, line) for line in lines_of(mutant, source)}
    stem = Path(mutant.file).stem
    near = {one.test: stem in one.test.partition("::")[0] for one in traced}
    entering = [one for one in traced if mutant.file in one.files or near[one.test]]
    reach = [one for one in entering if one.lines & places or near[one.test]] or entering
    found, seconds = [], 0.0
    for one in sorted(reach, key=lambda one: (not near[one.test], not one.lines & places, one.seconds)):
        if seconds + one.seconds <= MOST:
            found.append(one)
            seconds += one.seconds
    return found


class Copy:
    """A copy of the tree, in which one mutant at a time is tried."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.root = folder, folder / "tree"
        shutil.copytree(ROOT, self.root, ignore=LEFT_ALONE)
        self.own = {**os.environ, "PYTHONPATH": str(self.root), "CI": "true"}
        told = subprocess.run(
            [sys.executable, "-c", "import reelcare; print(reelcare.__file__)"], cwd=self.root, env=self.own,
            capture_output=True, text=True, check=True,
        ).stdout  # fmt: skip
        if not told.startswith(str(self.root)):
            raise SystemExit(f"the tests would not see the copy, but {told}")

    def ran(self, words: Sequence[str], most: float, **own: str) -> tuple[int | None, str]:
        """How pytest ends, None where it takes more than `most` seconds, and what it prints."""
        whole = [WHOLE] if any(one.startswith("tests/") for one in words) else []  # they name that profile
        words = [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", "--tb=no", *whole, *words]
        printed = self.folder / "printed.txt"
        with (
            printed.open("w") as out,
            subprocess.Popen(
                words, cwd=self.root, env={**self.own, **own}, stdin=subprocess.DEVNULL, stdout=out,
                stderr=subprocess.STDOUT, start_new_session=True,
            ) as done,
        ):  # fmt: skip
            try:
                ended = done.wait(most)
            except subprocess.TimeoutExpired:
                os.killpg(done.pid, signal.SIGKILL)
                return None, ""
        return ended, printed.read_text("utf-8", "replace")

    def traced(self, room: Sequence[str], mutants: Iterable[Mutant]) -> list[Traced]:
        """What the tests of a room run; this also compiles all modules for the runs to come."""
        wanted: dict[str, set[int]] = {}
        for one in mutants:
            wanted.setdefault(one.file, set()).update(lines_of(one, (self.root / one.file).read_bytes()))
        lines, trace = self.folder / "lines.json", self.folder / "trace.jsonl"
        lines.write_text(json.dumps({file: sorted(found) for file, found in wanted.items()}))
        trace.write_text("")
        self.ran(["-p", "tests.mutation_trace", *room], 3600, MUTATION_LINES=str(lines), MUTATION_TRACE=str(trace))
        found = [json.loads(line) for line in trace.read_text().splitlines()]
        if not found:
            raise SystemExit(f"{' '.join(room)}: no test passes without a mutant")
        return [
            Traced(one["test"], one["seconds"], frozenset(one["files"]), frozenset(map(tuple, one["lines"])))
            for one in found
        ]

    def tried(self, mutant: Mutant, traced: Iterable[Traced]) -> str:
        """What kills a mutant; '' where no test of these does."""
        file = self.root / mutant.file
        source, when = file.read_bytes(), file.stat().st_mtime
        tests = asked_of(mutant, source, traced)
        if not tests:
            return ""
        listed = self.folder / "tests.txt"
        listed.write_text("\n".join(one.test for one in tests))
        try:
            file.write_bytes(mutant.applied(source))
            os.utime(file, (0, 0))  # what was compiled without the mutant is seen to be of another file
            most = max(SHORTEST, 8 * sum(one.seconds for one in tests))
            ended, told = self.ran(["-x", f"@{listed}"], most, PYTHONDONTWRITEBYTECODE="1")
        finally:
            file.write_bytes(source)
            os.utime(file, (when, when))
        if ended is None:
            return "killed by time"
        failed = [line.partition(" - ")[0] for line in told.splitlines() if line.startswith(("FAILED ", "ERROR "))]
        return "" if ended == 0 else f"killed by {failed[0].split(maxsplit=1)[1] if failed else f'exit {ended}'}"


@cache
def known_equivalents() -> dict[tuple[str, str, str], str]:
    """Why nobody could see a mutant, by its file, what it becomes, and its line."""
    known = tomllib.loads(EQUIVALENT.read_text("utf-8")).get("mutant", [])
    return {(one["file"], one["becomes"], one["line"]): str(one["because"]) for one in known}


def equivalent(mutant: Mutant) -> str:
    """Why nobody could see this mutant; '' where nothing says so."""
    if (mutant.file, mutant.becomes) not in {key[:2] for key in known_equivalents()}:
        return ""
    line = (ROOT / mutant.file).read_text("utf-8").splitlines()[mutant.line - 1].strip()
    return known_equivalents().get((mutant.file, mutant.becomes, line), "")


def play(mutants: Sequence[Mutant], results: Path) -> dict[Mutant, str]:
    """Try all mutants that the file of results does not have yet; each result goes into it at once."""
    done: dict[Mutant, str] = {}
    if results.exists():
        for line in results.read_text("utf-8").splitlines():
            one = json.loads(line)
            done[Mutant(**one["mutant"])] = one["result"]

    def keep(mutant: Mutant, result: str) -> None:
        done[mutant] = result
        with results.open("a") as file:
            print(json.dumps({"mutant": asdict(mutant), "result": result}), file=file)
        print(f"{mutant.file}:{mutant.line}: {mutant.becomes}: {result}", file=sys.stderr, flush=True)

    for one in mutants:
        if one not in done and equivalent(one):
            keep(one, "equivalent")
    left = [one for one in mutants if one not in done]
    with tempfile.TemporaryDirectory() as folder:
        for room in ROOMS:
            if not left:
                break
            copy = Copy(Path(folder, room[0]))
            traced = copy.traced(room, left)
            for one in left:
                if result := copy.tried(one, traced):
                    keep(one, result)
            left = [one for one in left if one not in done]
    for one in left:
        keep(one, "survived")
    return {one: done[one] for one in mutants}


def main() -> int:
    """Print what survived and a summary; 1 where anything survived."""
    parser = argparse.ArgumentParser(description="Try whether tests fail on small faults.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument(
        "--only", action="append", metavar="PATH", help="a folder or file below the root; may be repeated"
    )
    parser.add_argument(
        "--results", type=Path, default=Path("mutants.jsonl"), help="kept as they come, and gone on from"
    )
    asked = parser.parse_args()
    mutants = chosen(asked.only or ["reelcare/core", "reelcare/register"], asked.seed, asked.count)
    found = play(mutants, asked.results)
    survived = sorted((one for one in found if found[one] == "survived"), key=lambda one: (one.file, one.start))
    for one in survived:
        print(f"\nsurvived: {one.file}:{one.line}\n{one.difference((ROOT / one.file).read_bytes())}")
    ends = [result.partition(" ")[0] for result in found.values()]
    counts = {end: ends.count(end) for end in sorted(set(ends))}
    visible = len(found) - counts.get("equivalent", 0)
    killed = round(100 * (visible - len(survived)) / visible, 1) if visible else None
    print(json.dumps({"seed": asked.seed, "mutants": len(found), "killed_percent": killed, **counts}))
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())

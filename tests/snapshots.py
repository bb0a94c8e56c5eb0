"""What registers of every version, and the demo of a fixed day, say by their commands: kept, and compared.

`python -m tests.snapshots` makes the kept answers anew and prints what is another one now; that is right only where a
change was meant. The answers are the commands' own JSON, at a fixed moment and as of moments past, so that they hold
whatever stands behind the commands. A key that is new is let be; one that was there keeps its value.
"""

import json
import lzma
import math
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.commands import plain_environment, run

FOLDER = Path(__file__).parent / "register"
ANSWERS = FOLDER / "snapshots"
"""The kept answers, a file for each register."""


@dataclass(frozen=True)
class Subject:
    """A register that is asked: its name, the moment of its commands, and the moments past that it is asked about."""

    name: str
    now: datetime
    past: tuple[str, ...]

    @property
    def file(self) -> Path:
        return ANSWERS / f"{self.name}.json.xz"

    @property
    def kept(self) -> Any:
        """The answers that were kept."""
        return json.loads(lzma.decompress(self.file.read_bytes()))

    def put(self, register: Path) -> None:
        """Put the register where it can be asked: a copy of the kept one, or the demo, played up to its moment."""
        if self.name != "demo":
            shutil.copy(FOLDER / "versions" / f"{self.name}.db", register)
            return
        with plain_environment():
            made = run("", self.now, "demo", "--no-app", "--at", str(register))
        assert made.code == 0, made.err


OF_A_VERSION = {
    "now": datetime(2026, 5, 5, 5, tzinfo=UTC),
    "past": ("2026-04-30T12:00Z", "2026-05-02T13:20Z", "2026-05-03", "2026-05-04T05:00Z", "2026-05-20"),
}
SUBJECTS = (
    *(Subject(path.stem, **OF_A_VERSION) for path in sorted((FOLDER / "versions").glob("*.db"))),  # type: ignore[arg-type]
    Subject(
        "demo", datetime(2026, 7, 1, 9, tzinfo=UTC), ("2025-03-01", "2025-08-15T10:00Z", "2026-05-31", "2026-06-29")
    ),
)


def answers(register: Path, subject: Subject) -> dict[str, Any]:
    """What a register says: by command, and by moment where it is asked about one past."""
    found = {"prove": asked(register, subject, "prove"), "people": asked(register, subject, "people")}
    for moment in ("", *subject.past):
        past = ("--as-of", moment) if moment else ()
        for words in (("yard",), ("due",)):
            found[" ".join((*words, *past))] = asked(register, subject, *words, *past)
        for machine in found["yard"]:
            book = ("book", machine["machine"], *past)
            found[" ".join(book)] = asked(register, subject, *book)
    found["prove"].pop("not_looked_at", None)  # another one where a register is looked at only, or has no heads yet
    if subject.name == "demo":
        # its ids are other ones every time
        found["prove"] = {name: found["prove"][name] for name in ("whole", "entries")}
        found = numbered(found)
    return found


def asked(register: Path, subject: Subject, *words: str) -> Any:
    """The JSON that a command prints; its exit code and what it says where it prints none."""
    done = run(register, subject.now, *words, "--json")
    return done.json if done.code == 0 else {"code": done.code, "says": done.err}


ID = r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b"
TERMINAL = r'(?<=")[0-9a-f]{12}(?=")'
END_OF_AN_ID = r"(?<=takes back )[0-9a-f]{8}"


def numbered(value: Any) -> Any:
    """The same with each id and each terminal's name replaced by the number of its first appearance."""
    text = json.dumps(value, ensure_ascii=False)
    ids = dict.fromkeys(re.findall(f"{ID}|{TERMINAL}", text))
    numbers = {one: f"#{number}" for number, one in enumerate(ids)}
    ends = {one[-8:]: number for one, number in numbers.items()}
    text = re.sub(f"{ID}|{TERMINAL}", lambda found: numbers[found[0]], text)
    return json.loads(re.sub(END_OF_AN_ID, lambda found: ends[found[0]], text))


def differences(was: Any, now: Any, place: str = "") -> Iterator[str]:
    """Where an answer is another one than it was, a line for each place."""
    if isinstance(was, dict) and isinstance(now, dict):
        for name in was:
            if name in now:
                yield from differences(was[name], now[name], f"{place}[{name!r}]")
            else:
                yield f"{place}: {name!r} is missing"
    elif isinstance(was, list) and isinstance(now, list):
        if len(was) != len(now):
            yield f"{place}: {len(was)} before, {len(now)} now"
        for number, (one, other) in enumerate(zip(was, now, strict=False)):
            yield from differences(one, other, f"{place}[{number}]")
    elif not same(was, now):
        yield f"{place}: was {was!r}, is {now!r}"


def same(was: Any, now: Any) -> bool:
    """Whether two plain values are one: of the same type, and floats to the accuracy of their reckoning."""
    if isinstance(was, float) and isinstance(now, float):
        return math.isclose(was, now, rel_tol=1e-9, abs_tol=1e-12)
    return type(was) is type(now) and was == now


def keep() -> None:
    """Make all kept answers anew, and print what is another one now."""
    ANSWERS.mkdir(exist_ok=True)
    for subject in SUBJECTS:
        with tempfile.TemporaryDirectory() as folder, plain_environment():
            register = Path(folder) / "register.db"
            subject.put(register)
            found = answers(register, subject)
        if subject.file.exists():
            for line in differences(subject.kept, found):
                print(subject.name, line)
        text = json.dumps(found, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        subject.file.write_bytes(lzma.compress(text.encode(), preset=9))
        print(f"{subject.file.name}: {subject.file.stat().st_size} bytes", file=sys.stderr)


if __name__ == "__main__":
    keep()

"""How many bytes the app sends to its terminal: at its start, a row down, the due list, a page down, all of
it drawn again; as usual and with `--slow`.

Run it with `python tests/bench_bytes.py`. Over a serial line of 9600 baud a second carries 960 of them. It builds the
demo estate in a folder of its own and uses a pseudo-terminal of 80 x 24. Nothing is asserted.
"""

from __future__ import annotations

import os
import select
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.bench_start import DOWN, PAGE_DOWN, Terminal

AGAIN = b"\x0c"
BAUD = 960


class Counted(Terminal):
    """A program whose bytes are counted."""

    def until_quiet_counted(self, seconds: float = 0.6) -> int:
        """How many bytes come before a pause."""
        count = 0
        while select.select([self.screen], [], [], seconds)[0]:
            count += len(os.read(self.screen, 65536))
        return count

    def sent_by(self, key: bytes) -> int:
        """How many bytes a key causes."""
        os.write(self.screen, key)
        return self.until_quiet_counted()


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        register = str(Path(folder) / "demo.db")
        ours = [sys.executable, "-m", "reelcare", "--register", register]
        subprocess.run([*ours[:3], "demo", "--no-app", "--at", register], check=True, stderr=subprocess.DEVNULL)
        heads = f"{'start':>10}{'row down':>12}{'due list':>12}{'page down':>12}{'again':>12}"
        print(f"{'':12}{heads}   (bytes; seconds at 9600 baud)")
        for name, more in (("as usual", []), ("--slow", ["--slow"]), ("--slow --ascii", ["--slow", "--ascii"])):
            app = Counted([*ours, *more], size=(24, 80))
            start = app.until_quiet_counted(4)
            row = min(app.sent_by(DOWN) for _ in range(4))
            due = app.sent_by(b"d")
            page = max(app.sent_by(PAGE_DOWN) for _ in range(3))
            again = app.sent_by(AGAIN)
            app.end()
            print(f"{name:14}" + "".join(f"{one:7} {one / BAUD:4.1f}" for one in (start, row, due, page, again)))


if __name__ == "__main__":
    main()

"""How long a settings sheet takes, beside reading a small TOML table of the same process.

Run it with `python tests/bench_set_up.py`. Nothing is asserted: what may be reached stands in DEVELOPERS.md, under
Budgets.
"""

from __future__ import annotations

import timeit
import tomllib
from pathlib import Path

from reelcare.core.machine.card import read_card
from reelcare.core.settings.set_limits import read_set_limits
from reelcare.core.settings.set_request import Wishes
from reelcare.core.settings.setting import work_out

CARD = {
    "tag": "R1",
    "drum": {"core_diameter": "1.5 m", "coils_per_layer": 11, "layers": 6, "packing": 0.95},
    "hose": {"outside": "110 mm", "inside": "93.8 mm", "length": "400 m", "material": "PE80"},
    "drive": {"kind": "turbine", "most_loss": "10 psi"},
    "cart": {"kind": "gun", "nozzle": "23.3 mm", "arc": 320, "mass": 600},
}


def main() -> None:
    """Print the time of one sheet, solved from the inlet, and its ratio to the yardstick."""
    text = Path("checklists/set-limits.toml").read_text("utf-8")
    card, limits = read_card(CARD), read_set_limits(tomllib.loads(text))
    wishes = Wishes(spacing=68, out=380, depth=0.025, inlet=6.9e5, drive_loss=0.5e5, rise=5, wind=2)
    times = 300
    sheet = min(timeit.repeat(lambda: work_out(card, wishes, limits), number=times, repeat=5)) / times
    yardstick = min(timeit.repeat(lambda: tomllib.loads(text), number=times, repeat=5)) / times
    print(f"settings sheet {1000 * sheet:.3f} ms, {sheet / yardstick:.2f} x reading its table of limits")


if __name__ == "__main__":
    main()

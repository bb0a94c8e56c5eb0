"""`carry out`, `carry in` and `copy`: what takes a register from one place to another."""

from __future__ import annotations

import argparse
from datetime import timedelta
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.register.exchange import carry_files, carry_format, copies
from reelcare.register.exchange.carry_files import Look

CLOCKS = timedelta(minutes=5)
"""How far another terminal's clock may be ahead before it is told."""


def out(asked: argparse.Namespace) -> int:
    """Write a carry file."""
    with common.open_register(asked, create=False) as register:
        count = carry_files.carry_out(register, Path(asked.file), now=common.now())
    if asked.json:
        common.print_json({"file": asked.file, "entries": count})
    else:
        common.say(f"{asked.file}: {count} entries")
    return 0


def in_(asked: argparse.Namespace) -> int:
    """Bring a carry file in, or only look at what it would bring."""
    bundle = carry_format.read(Path(asked.file))
    with common.open_register(asked) as register:
        found = carry_files.look(register, bundle) if asked.look else carry_files.carry_in(register, bundle)
    ahead = carry_files.clock_ahead(bundle, common.now())
    if ahead > CLOCKS:
        found.warnings.append(f"the clock of the other terminal is ahead by {ahead}; look at both")
    if asked.json:
        common.print_json(_look_json(found, looked=asked.look))
    else:
        _print(found, looked=asked.look)
    return 0


def _look_json(found: Look, *, looked: bool) -> dict[str, Any]:
    return {
        "brought": not looked,
        "new": found.new,
        "known": found.known,
        "kinds": found.kinds,
        "machines": found.machines,
        "holds": found.holds,
        "people": found.people,
        "heed": found.warnings,
    }


def _print(found: Look, *, looked: bool) -> None:
    kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(found.kinds.items()))
    print(
        f"{'it would bring' if looked else 'brought'} {found.new} entries ({kinds or 'none'}); {found.known} are here"
    )
    for label, rows in (
        ("machine", found.machines),
        ("HOLD", found.holds),
        ("person", found.people),
        ("!", found.warnings),
    ):
        for row in rows:
            print(f"  {label}  {row}")


def copy(asked: argparse.Namespace) -> int:
    """Make a verified copy while the register is in use."""
    with common.open_register(asked, create=False) as register:
        heads = copies.copy(register, asked.path, common.tell_how_far("proving the copy"))
    if asked.json:
        common.print_json(
            {
                "copy": asked.path,
                "heads": [{"terminal": one.terminal, "count": one.count, "digest": one.digest} for one in heads],
            }
        )
    else:
        common.say(f"{asked.path}: a whole copy")
        for one in heads:
            print(f"head of {one.terminal}: {one.count} entries, {one.digest}")
    return 0

"""`carry out`, `carry in`, `copy` and `restore`: what takes a register from one place to another."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import timedelta
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.cli.keep import waiting
from reelcare.core.clean import clean
from reelcare.core.text import _, plural
from reelcare.core.wording import how_long
from reelcare.register.database.opening import on_a_server, shown
from reelcare.register.errors import NotAllowed
from reelcare.register.exchange import carry_files, carry_format, copies, restoration
from reelcare.register.exchange import waiting as carried
from reelcare.register.exchange.carry_files import CarryPreview
from reelcare.register.exchange.waiting import WaitingEntry

CLOCKS = timedelta(minutes=5)
"""How far another terminal's clock may be ahead before it is told."""


def out(asked: argparse.Namespace) -> int:
    """Write a carry file."""
    with common.open_register(asked) as register:
        count = carry_files.carry_out(register, Path(asked.file), now=common.now())
    told = plural("{file}: {n} entry", "{file}: {n} entries", count, file=asked.file)
    return common.answer(asked, {"file": asked.file, "entries": count}, told)


def in_(asked: argparse.Namespace) -> int:
    """Bring a carry file in, or only look at what it would bring."""
    bundle = carry_format.read(Path(asked.file))
    waits: list[WaitingEntry] = []
    with common.open_register(asked) as register:
        if asked.look:
            found = carry_files.look(register, bundle)
        else:
            found = carry_files.carry_in(register, bundle, by=common.by(asked), now=common.now())
            waits = carried.waiting(register, common.now())
    ahead = carry_files.clock_ahead(bundle, common.now())
    if ahead > CLOCKS:
        told = how_long(ahead)
        found.warnings.append(_("the clock of the other terminal is ahead by {ahead}; check both clocks", ahead=told))
    if asked.json:
        brought = _look_json(found, looked=asked.look)
        common.print_json(brought if asked.look else {**brought, "waiting": [waiting.as_json(one) for one in waits]})
    else:
        _print(found, looked=asked.look)
        _print_waiting(waits)
    return 0


def _look_json(found: CarryPreview, *, looked: bool) -> dict[str, Any]:
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


def _print_waiting(waits: list[WaitingEntry]) -> None:
    for one in waits:
        common.print_text(_("  waits  {id}  {says}", id=one.id[-carried.SHORT :], says=one.says))
    if waits:
        common.say(
            _("what waits counts once a supervisor accepts it: `reelcare carry accept ID ... --by NAME --why TEXT`")
        )


def _print(found: CarryPreview, *, looked: bool) -> None:
    kinds = ", ".join(f"{count} {_(kind)}" for kind, count in sorted(found.kinds.items())) or _("none")
    more = {"kinds": kinds, "known": found.known}
    common.print_text(
        plural(
            "it would bring {n} entry ({kinds}); {known} are here",
            "it would bring {n} entries ({kinds}); {known} are here",
            found.new,
            **more,
        )
        if looked
        else plural(
            "brought {n} entry ({kinds}); {known} are here",
            "brought {n} entries ({kinds}); {known} are here",
            found.new,
            **more,
        )
    )
    for label, rows in (
        (_("machine"), found.machines),
        (_("HOLD"), found.holds),
        (_("person"), found.people),
        ("!", found.warnings),
    ):
        for row in rows:
            common.print_text(f"  {label}  {row}")


def copy(asked: argparse.Namespace) -> int:
    """Make a verified copy while the register is in use."""
    with common.open_register(asked) as register:
        heads = copies.copy(register, asked.path, common.tell_how_far(_("proving the copy")), own=asked.own)
        still_demo = register.is_demo and not asked.own
    if asked.json:
        common.print_json({"copy": asked.path, "heads": [asdict(one) for one in heads]})
    else:
        common.say(_("{path}: an intact copy", path=asked.path))
        if still_demo:
            common.say(_("it is a demo, too; `copy PATH --own` keeps it as a register of your own"))
        for one in heads:
            common.print_text(
                plural(
                    "head of {terminal}: {n} entry, {digest}",
                    "head of {terminal}: {n} entries, {digest}",
                    one.count,
                    terminal=one.terminal,
                    digest=one.digest,
                )
            )
    return 0


def restore(asked: argparse.Namespace) -> int:
    """Go back to a copy."""
    where = common.where(asked)
    if asked.view:  # the register that is gone back from is not opened
        raise NotAllowed(_("{where}: open view only; nothing was saved", where=shown(where)))
    done = restoration.restore(
        where,
        asked.copy if on_a_server(asked.copy) else Path(asked.copy).expanduser(),
        by=common.by(asked),
        why=clean(asked.why),
        now=common.now(),
        ask_pin=common.ask_pin,
        progress=common.tell_how_far(_("proving the copy")),
    )
    aside = str(done.aside) if done.aside is not None else None
    told = [
        plural(
            "went back to {copy}; {n} entry that it had not was brought back",
            "went back to {copy}; {n} entries that it had not were brought back",
            done.brought_back,
            copy=asked.copy,
        )
    ]
    if isinstance(done.aside, Path):
        told.append(_("the register as it was is kept: {aside}", aside=aside))
    elif aside is not None:
        told.append(_("the register as it was is kept: its tables are in the schema {aside}", aside=aside))
    told += (
        plural(
            "missing: terminal {terminal} had {n} entry; look at {aside} before it is deleted",
            "missing: terminal {terminal} had {n} entries; look at {aside} before it is deleted",
            one.count,
            terminal=one.terminal,
            aside=aside,
        )
        for one in done.gone
    )
    before, after = ([asdict(one) for one in heads] for heads in (done.before, done.after))
    data = {"restored": asked.copy, "set_aside": aside, "brought_back": done.brought_back, "terminal": done.terminal}
    return common.answer(asked, {**data, "before": before, "after": after}, *told)

"""`carry waiting`, `carry accept` and `carry refuse`: what was carried in and waits to be accepted here."""

from __future__ import annotations

import argparse
from typing import Any

from reelcare.cli import common
from reelcare.cli.table import TextColumn
from reelcare.core.text import _, mark, plural
from reelcare.register.exchange import waiting as carried
from reelcare.register.exchange.waiting import SHORT, WaitingEntry

HEADS = (
    TextColumn(mark("id"), whole=True), mark("machine"), TextColumn(mark("from"), whole=True),
    TextColumn(mark("to"), whole=True), mark("because"), TextColumn(mark("by"), 2), TextColumn(mark("terminal"), 3),
)  # fmt: skip


def waiting(asked: argparse.Namespace) -> int:
    """List what waits."""
    with common.open_register(asked) as register:
        found = carried.waiting(register, common.now())
    if asked.json:
        common.print_json([as_json(one) for one in found])
        return 0
    rows = [(one.id[-SHORT:], one.machine, *one.words, one.because, one.entry.by, one.terminal) for one in found]
    common.print_table(HEADS, rows, empty=_("nothing waits to be accepted here"))
    return 0


def accept(asked: argparse.Namespace) -> int:
    """Accept what waits: it counts from now on."""
    return _decide(asked, accepted=True)


def refuse(asked: argparse.Namespace) -> int:
    """Refuse what waits: it never counts."""
    return _decide(asked, accepted=False)


def _decide(asked: argparse.Namespace, *, accepted: bool) -> int:
    with common.open_register(asked, create=False) as register:
        now = common.now()
        before = carried.waiting(register, now)
        entry, ids = carried.decide(register, asked.ids, accepted=accepted, why=asked.why, by=common.by(asked), now=now)
        left = carried.waiting(register, now)
        stays = carried.still_held(register, ids) if accepted else []
    told = [one for one in before if one.id in ids]
    if asked.json:
        waits = [as_json(one) for one in left]
        common.print_json({"entry": entry.id, "accepted": accepted, "entries": ids, "held": stays, "waiting": waits})
        return 0
    for one in told:
        done = _("accepted") if accepted else _("refused")
        common.print_text(f"{done}  {one.says}")
    common.say(plural("{n} entry decided", "{n} entries decided", len(ids)))
    for line in stays:
        common.say(line)
    if left:
        common.say(plural("{n} line waits still", "{n} lines wait still", len(left)))
    return 0


def as_json(one: WaitingEntry) -> dict[str, Any]:
    """What waits, for other programs."""
    return {
        "id": one.id,
        "machine": one.machine or None,
        "kind": one.entry.what.kind,
        "from": one.before or None,
        "to": one.after or None,
        "because": one.because,
        "terminal": one.terminal,
        "person": one.entry.by,
    }

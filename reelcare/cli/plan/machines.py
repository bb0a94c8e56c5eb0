"""`machine` and `plan`: cards and service plans."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from functools import reduce
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_table import to_plain
from reelcare.core.text import _, mark, plural
from reelcare.register import sheets
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer

_USE = mark("write `machine [TAG]`, `machine add CARD.toml` or `machine revise TAG CARD.toml`")


CARDS = (
    mark("machine"), TextColumn(mark("name"), 2), mark("place"), TextColumn(mark("hose"), 3),
    TextColumn(mark("drive"), 4), TextColumn(mark("legs"), 4),
)  # fmt: skip
ITEMS = (
    TextColumn(mark("part"), band=True), mark("what"), TextColumn(mark("every"), amounts=True),
    TextColumn(mark("first"), 3, amounts=True), TextColumn(mark("grace"), 4, figures=True),
    TextColumn(mark("past grace"), 5),
    TextColumn(mark("item"), 2),
)  # fmt: skip


def machine(asked: argparse.Namespace) -> int:
    """Show cards, add a machine, or revise its card."""
    words = asked.words
    with common.open_register(asked) as register:
        if words[:1] == ["add"] and len(words) == 2:
            return _write_card(asked, register, Path(words[1]), None)
        if words[:1] == ["revise"] and len(words) == 3:
            return _write_card(asked, register, Path(words[2]), register.machine_id(words[1]))
        if len(words) > 1 or words[:1] in (["add"], ["revise"]):
            raise Problem(_(_USE))
        return _show_cards(asked, register, words)


def _write_card(asked: argparse.Namespace, register: Writer, path: Path, machine: str | None) -> int:
    table = sheets.toml_table(path)
    now = common.now()
    # TOML dates become text, as entries are plain JSON
    plain = {
        key: value if isinstance(value, (str, dict, int, float, list)) else str(value) for key, value in table.items()
    }
    try:
        entry = register.add(
            e.Carded(card=plain), machine=machine, by=common.by(asked), now=now,
            happened=common.happened(asked, register, now),
        )  # fmt: skip
    except ValueError as why:
        raise Problem(f"{path}: {why}") from None
    except Exception as why:
        if getattr(why, "exit_code", 0) == 2:
            raise Problem(f"{path}: {why}") from None
        raise
    if asked.json:
        common.print_json({"entry": entry.id, "machine": table["tag"]})
    else:
        common.say(
            _("{tag} is added", tag=table["tag"]) if machine is None else _("{tag} is revised", tag=table["tag"])
        )
    return 0


def _show_cards(asked: argparse.Namespace, register: Writer, words: list[str]) -> int:
    at, past = common.as_of(asked, register, common.now())
    if words:
        found = [yard.machine_now(register, register.machine_id(words[0]), at, past=past, forecasts=False)]
    else:
        found = sorted(yard.yard(register, at, past=past), key=lambda one: one.tag)
    if asked.json:
        cards = [dict(one.state.card) for one in found]
        common.print_json(cards[0] if words else cards)
    elif words:
        for key, value in _flat(found[0].state.card):
            common.print_text(f"{key:<28}{value}")
    else:
        common.print_table(
            CARDS,
            [
                (
                    one.tag,
                    one.card.name,
                    one.card.place,
                    units.show(one.card.hose.length, "length", common.system(asked)) if one.card.hose.length else "",
                    _(one.card.drive.kind) if one.card.drive.kind else "",
                    _(one.card.legs.kind) if one.card.legs.kind else "",
                )
                for one in found
            ],
            empty=_("no machine yet; `reelcare machine add CARD.toml --by NAME` adds one"),
        )
    return 0


def _flat(table: Any, before: str = "") -> list[tuple[str, str]]:
    found = []
    for key, value in table.items():
        if isinstance(value, dict):
            found += _flat(value, f"{before}{key}.")
        else:
            found.append((f"{before}{key}", str(value)))
    return found


def plan(asked: argparse.Namespace) -> int:
    """Show the service plan, or put one in force."""
    with common.open_register(asked) as register:
        now = common.now()
        machine = register.machine_id(asked.tag) if asked.tag else None
        if asked.use:
            _id, table = sheets.plan_file(Path(asked.use))
            entry = register.add(
                e.Planned(plan=table), machine=machine, by=common.by(asked), now=now,
                happened=common.happened(asked, register, now),
            )  # fmt: skip
            if asked.json:
                common.print_json({"entry": entry.id, "plan": table["id"]})
            else:
                common.say(
                    _(
                        "plan {id} is in force for {tag}",
                        id=table["id"],
                        tag=asked.tag or _("all machines without one of their own"),
                    )
                )
            return 0
        at, _past = common.as_of(asked, register, now)
        found = register.plans().at(machine or "", at)
    _print_plan(found, asked)
    return 0


def _print_plan(found: Plan, asked: argparse.Namespace) -> None:
    if asked.json:
        common.print_json(to_plain(found))
        return
    shown = [item for item in found.items if asked.all or not item.each_time]
    parts = list(dict.fromkeys(item.part for item in shown))
    tables, system = {table["id"]: table for table in to_plain(found)["items"]}, common.system(asked)
    common.print_table(
        ITEMS,
        [
            (
                _(item.part),
                item.title(common.language(asked)),
                _interval(tables[item.id]["every"], system),
                _interval(tables[item.id].get("first", {}), system),
                f"{item.grace} %",
                _("holds") if item.stop else "",
                item.id,
            )
            for item in sorted(shown, key=lambda item: parts.index(item.part))
        ],
        empty="" if found.items else _("no plan is in force; `reelcare plan --use PLAN.toml --by NAME` sets one"),
    )
    if left_out := len(found.items) - len(shown):
        common.say(
            plural(
                "{n} more is done at each check: --all shows it", "{n} more are done at each check: --all shows them",
                left_out,
            )
        )  # fmt: skip


AMOUNTS: Mapping[str, Callable[[Any, units.System], str]] = {
    "hours": lambda many, system: f"{many} h",
    "metres": lambda many, system: units.show(many, "length", system),
    "runs": lambda many, system: plural("{n} run", "{n} runs", many),
    "months": lambda many, system: plural("{n} month", "{n} months", many),
}


def _interval(table: dict[str, Any], system: units.System) -> str:
    """Whichever comes first of the amounts, in words; '' for none."""
    told = [AMOUNTS[key](many, system) for key, many in table.items()]
    return reduce(lambda one, other: _("{one} or {other}", one=one, other=other), told) if told else ""

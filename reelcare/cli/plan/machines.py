"""`machine` and `plan`: cards and service plans."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import reduce
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.cli.look.show import NO_MACHINE
from reelcare.cli.plan.commands import CHANGES
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.cli.terminal import progress_bar
from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.clean import clean
from reelcare.core.machine.card import Card
from reelcare.core.machine.card_toml import differences, to_toml
from reelcare.core.machine.particulars import particulars
from reelcare.core.service.plan import Plan
from reelcare.core.service.plan_change import PlanChange
from reelcare.core.service.plan_table import to_plain
from reelcare.core.text import _, mark, plural
from reelcare.register import sheets
from reelcare.register.acts import plans
from reelcare.register.errors import Refused
from reelcare.register.exchange import spreadsheets
from reelcare.register.exchange.run_logs import Brought
from reelcare.register.reading import yard
from reelcare.register.writing.writer import Writer

_USE = mark(
    "write `machine [TAG]`, `machine add CARD.toml`, `machine revise TAG CARD.toml`, `machine move TAG PLACE` or "
    "`machine retire TAG --why TEXT`"
)


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
    """Show cards, add a machine, revise its card, move it, or take it out of the yard."""
    words, first = asked.words, asked.words[0] if asked.words else ""
    if len(words) != CHANGES.get(first, min(len(words), 1)):
        raise Problem(_(_USE))
    if asked.toml and (not words or first in CHANGES):
        raise Problem(_("--toml shows the card of one machine: `machine TAG --toml`"))
    if asked.why is not None and first != "retire":
        raise Problem(_("--why goes with `machine retire TAG`"))
    with common.open_register(asked) as register:
        if first == "add" and words[1].casefold().endswith((".csv", ".tsv", ".txt", *spreadsheets.WORKBOOKS)):
            return add_list(asked, register, Path(words[1]))
        if first == "add":
            return _write_card(asked, register, Path(words[1]), None)
        if first == "revise":
            return _write_card(asked, register, Path(words[2]), register.machine_id(words[1]))
        if first == "move":
            moved = e.Moved(place=clean(words[2]))
            return _write(asked, register, words[1], moved, mark("{tag} is at {place} now"), place=moved.place)
        if first == "retire":
            if not asked.why:
                raise Problem(_("say why the machine leaves the yard: --why TEXT"))
            return _write(
                asked, register, words[1], e.Retired(why=asked.why), mark("{tag} left the yard; its book stays")
            )
        return _show_cards(asked, register, words)


def add_list(asked: argparse.Namespace, register: Writer, path: Path) -> int:
    """Add the machines of a list, all or none."""
    done = bring_list(asked, register, path, by=common.by(asked))
    if asked.json:
        common.print_json({"added": done.brought, "skipped": done.skipped})
    else:
        tell_list(done)
    return 0


def tell_list(done: Brought) -> None:
    """Say what became of the machines of a list."""
    common.say_brought(plural("{n} machine added", "{n} machines added", done.brought), done.skipped)


def bring_list(asked: argparse.Namespace, register: Writer, path: Path, *, by: str) -> Brought:
    """The machines of a list, brought in, all or none. Each bad cell is named on standard error."""
    matching = spreadsheets.matching_in(asked.matching)
    done = spreadsheets.bring_machines(register, path, matching, by=by, now=common.now(), progress=progress_bar())
    for one in done.bad:
        common.say(f"{path}, {one}")
    if done.bad:
        raise Problem(
            plural(
                "{path}: {n} cell has an error; no machine was added",
                "{path}: {n} cells have errors; no machine was added",
                len(done.bad), path=path,
            )
        )  # fmt: skip
    common.say_not_read(str(path), done.not_read)
    return done


def _write(asked: argparse.Namespace, register: Writer, tag: str, what: e.Kind, told: str, **values: str) -> int:
    """Write something of a machine, and tell what it did."""
    machine = register.machine_id(tag)
    tag = register.tags()[machine]
    entry = common.add(asked, register, what, machine)
    return common.answer(asked, {"entry": entry.id, "machine": tag}, _(told, tag=tag, **values))


def _stop_unless_meant(tag: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
    """Say what falls away from a card and what changes; on a terminal ask before anything falls away."""
    changes = list(differences(before, after))
    gone = [(key, old) for key, old, new in changes if not new]
    for key, old in gone:
        common.say(_("{key}: {old} is removed, as it is not in the file", key=key, old=old))
    for key, old, new in changes:
        if new:
            common.say(_("{key}: {new} in place of {old}", key=key, new=new, old=old or _("nothing")))
    if gone and common.can_ask():
        typed = common.ask(_("Revise it so? (y/N) "))
        if typed.casefold() not in (_("y"), _("yes"), "y", "yes"):
            raise Problem(_("nothing was changed; `reelcare machine {tag} --toml` prints the whole card", tag=tag))


def _write_card(asked: argparse.Namespace, register: Writer, path: Path, machine: str | None) -> int:
    plain, now = sheets.plain_table(path), common.now()
    what, happened = e.Carded(card=plain), common.happened(asked, register, now)
    if machine is not None:
        now_card = register.state(machine).card
        with _naming(path):
            register.refuse(what, machine, happened, now=now)
        _stop_unless_meant(str(now_card["tag"]), now_card, plain)
    with _naming(path):
        entry = register.add(what, machine=machine, by=common.by(asked), now=now, happened=happened)
    told = mark("{tag} is added") if machine is None else mark("{tag} is revised")
    common.answer(asked, {"entry": entry.id, "machine": plain["tag"]}, _(told, tag=plain["tag"]))
    if machine is None and (now_called := register.renamed(str(plain["tag"]))):
        others = ", ".join(now_called)
        common.say(_("{others} had the tag {tag} before: this is another machine", others=others, tag=plain["tag"]))
    return 0


@contextlib.contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Name the file in what is wrong with its card."""
    try:
        yield
    except (ValueError, Refused) as why:
        raise Problem(f"{path}: {why}") from None


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
        if asked.toml:
            sys.stdout.write(to_toml(found[0].state.card))
            return 0
        told = [(_("tag"), found[0].tag), *particulars(found[0].card, common.system(asked))]
        wide = max(len(name) for name, _value in told) + 2
        for name, value in told:
            common.print_text(f"{name:<{wide}}{value}")
        for reason in found[0].standing.because:
            if reason.code == "retired":
                common.say(reason.says)
    else:
        rows = [_card_row(one.card, common.system(asked)) for one in found]
        common.print_table(CARDS, rows, empty=_(NO_MACHINE))
    return 0


def _card_row(card: Card, system: units.System) -> tuple[str, ...]:
    hose = units.show(card.hose.length, "length", system) if card.hose.length else ""
    return card.tag, card.name, card.place, hose, _(card.drive.kind or ""), _(card.legs.kind or "")


def plan(asked: argparse.Namespace) -> int:
    """Show the service plan, put one in force, or give a machine back to the plan for all."""
    if asked.general and (asked.use or not asked.tag):
        raise Problem(_("--general gives one machine back to the plan for all: `plan TAG --general`"))
    if asked.drop and not (asked.use or asked.general):
        raise Problem(_("--drop goes with --use or --general"))
    with common.open_register(asked) as register:
        now = common.now()
        machine = register.machine_id(asked.tag) if asked.tag else None
        if asked.use or asked.general:
            return _put_in_force(asked, register, machine)
        at, _past = common.as_of(asked, register, now)
        book = register.plans()
        found, own, tags = book.at(machine or "", at), book.with_own, register.tags()
    _print_plan(found, asked)
    if machine in own:
        common.say(_("a plan of its own; `plan {tag} --general` gives it back to the one for all", tag=tags[machine]))
    elif machine is None and own:
        common.say(_own_in_words(own, tags))
    return 0


def _own_in_words(own: Sequence[str], tags: Mapping[str, str]) -> str:
    told = ", ".join(sorted(tags[one] for one in own if one in tags))
    return _("with a plan of their own: {tags}", tags=told)


def _put_in_force(asked: argparse.Namespace, register: Writer, machine: str | None) -> int:
    now = common.now()
    table: dict[str, Any] = sheets.plan_file(Path(asked.use))[1] if asked.use else {}
    entry, change = plans.put_in_force(
        register, table, machine, by=common.by(asked), now=now, happened=common.happened(asked, register, now),
        drop=asked.drop,
    )  # fmt: skip
    if not table:
        told = mark("{tag} goes by the plan for all machines again")
    elif asked.tag:
        told = mark("{tag} goes by plan {id} now")
    else:
        told = mark("all machines without a plan of their own go by plan {id} now")
    words = [_(told, id=table.get("id"), tag=asked.tag), *_change_in_words(change, common.language(asked))]
    if machine is None and (own := register.plans().with_own):
        words.append(_own_in_words(own, register.tags()))
    gone, new = ([item.id for item in items] for items in (change.gone, change.new))
    return common.answer(asked, {"entry": entry.id, "plan": table.get("id"), "gone": gone, "new": new}, *words)


def _change_in_words(change: PlanChange, language: str) -> Iterator[str]:
    for what, items in ((_("dropped"), change.gone), (_("no longer holds"), change.loosened), (_("new"), change.new)):
        yield from (f"  {what}: {item.id}  {item.title(language)}" for item in items)


def _print_plan(found: Plan, asked: argparse.Namespace) -> None:
    if asked.json:
        common.print_json(to_plain(found))
        return
    shown = [item for item in found.items if asked.all or not item.each_time]
    parts = list(dict.fromkeys(item.part for item in shown))
    tables, system = {table["id"]: table for table in to_plain(found)["items"]}, common.system(asked)
    rows = [
        (_(item.part), item.title(common.language(asked)), _interval(tables[item.id]["every"], system),
         _interval(tables[item.id].get("first", {}), system), f"{item.grace} %", _("holds") if item.stop else "",
         item.id)
        for item in sorted(shown, key=lambda item: parts.index(item.part))
    ]  # fmt: skip
    nothing = "" if found.items else _("no plan yet; `reelcare plan --use PLAN.toml --by NAME` sets one")
    common.print_table(ITEMS, rows, empty=nothing)
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

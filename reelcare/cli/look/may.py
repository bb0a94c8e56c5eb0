"""`may`: what may be done with a machine as it stands, what stands in the way, and the safe way to where one wants."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core.machine.model import Activity, MachineModel
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import Title, nearest, said, short_of
from reelcare.register import sheets
from reelcare.register.reading import yard
from reelcare.register.views import previous_answers

STEPS = (TextColumn(mark("now"), band=True), mark("step"), TextColumn(mark("as typed"), 2), mark("in the way"))


@dataclass(frozen=True)
class _Asked:
    """One question about a machine: its model, where its parts stand, and the sides for which it is held."""

    model: MachineModel
    now: dict[str, str]
    held: frozenset[str]
    language: str

    def allowed(self, one: Activity) -> bool:
        return not self.model.in_the_way(one.id, self.now) and not one.barred(self.held)

    def reasons(self, one: Activity) -> list[str]:
        barred = [_("the machine is held")] if one.barred(self.held) else []
        return barred + [self.model.tell(each) for each in self.model.in_the_way(one.id, self.now)]


def may(asked: argparse.Namespace) -> int:
    """Tell whether something may be done; with `--to`, the safe way to a goal. 1 where it may not, or no way is."""
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        machine = yard.machine_now(
            register, register.machine_id(asked.tag), at, past=past, forecasts=False, permits=True,
            language=common.language(asked), system=common.system(asked),
        )  # fmt: skip
        model = sheets.machine_model().for_machine(machine.card)
        now = previous_answers.positions(register, machine.id, model, at)
    standing = machine.standing
    held = frozenset[str](standing.held_sides)
    what = _Asked(model, now | _seen(asked.seen, model), held, common.language(asked))
    way, allowed = _answer(asked, what)
    if standing.held_for:
        common.say(_("warning: {tag} is HELD {held_for}", tag=machine.tag, held_for=standing.held_for))
    if asked.json:
        common.print_json(
            {
                "machine": asked.tag,
                "standing": {"run": standing.run, "road": standing.road},
                "positions": {part: what.now.get(part) for part in model.parts},
                "activities": [_plain(what, one) for one in model.activities.values()],
                "way": None if way is None else [one.id for one in way],
            }
        )
    elif not asked.to and not asked.doing:
        _print_activities(what, everything=asked.all)
    else:
        for line in _lines(asked, what, way):
            common.print_text(line)
    return 0 if allowed else 1


def _answer(asked: argparse.Namespace, what: _Asked) -> tuple[list[Activity] | None, bool]:
    """The way to what is asked for, and whether it may be done, or come to."""
    model = what.model
    if asked.to:
        if asked.to not in model.goals:
            raise Problem(_("{to}: no such goal{nearest}", to=asked.to, nearest=nearest(asked.to, list(model.goals))))
        way = model.way_to_goal(asked.to, what.now, held=what.held)
        return way, way is not None
    if asked.doing:
        if asked.doing not in model.activities:
            near = nearest(asked.doing, list(model.activities))
            raise Problem(_("{doing}: no such step{nearest}", doing=asked.doing, nearest=near))
        one = model.activities[asked.doing]
        barred = one.barred(what.held)
        return None if barred else model.way_before(one.id, what.now, held=what.held), what.allowed(one)
    return None, True


def _plain(what: _Asked, one: Activity) -> dict[str, Any]:
    needs = []
    for each in what.model.requirements(one.id):
        several = ((each.part, each.positions), *each.instead)
        # of several of which one is enough, one that is so stands first
        several = tuple(sorted(several, key=lambda pair: what.now.get(pair[0]) not in pair[1]))
        rows = [{"part": part, "positions": list(where), "is": what.now.get(part)} for part, where in several]
        needs.append(rows[0] | ({"or": rows[1:]} if rows[1:] else {}))
    caution = None if one.caution is None else said(one.caution, what.language)
    return {"id": one.id, "allowed": what.allowed(one), "needs": needs, "caution": caution}


def _seen(texts: Collection[str], model: MachineModel) -> dict[str, str]:
    found = {}
    for text in texts:
        part, equals, where = (one.strip() for one in text.partition("="))
        if not equals or part not in model.parts:
            says = mark("{text!r}: give a part and its position, as in `pawl=down`{nearest}")
            raise Problem(_(says, text=text, nearest=nearest(part, list(model.parts))))
        if where not in model.parts[part].positions:
            known = ", ".join(model.parts[part].positions)
            raise Problem(_("{text!r}: {part} can be {positions}", text=text, part=part, positions=known))
        found[part] = where
    return found


def _lines(asked: argparse.Namespace, what: _Asked, way: list[Activity] | None) -> Iterator[str]:
    if asked.to:
        one = what.model.goals[asked.to]
        reasons = [what.model.tell(each) for each in what.model.in_the_way_of(asked.to, what.now)]
        yield _verdict(said(one.says, what.language), _("NOT YET") if reasons else _("it is so"), ok=not reasons)
    else:
        doing = what.model.activities[asked.doing]
        reasons = what.reasons(doing)
        yield _verdict(said(doing.says, what.language), _("NOT NOW") if reasons else _("may be done"), ok=not reasons)
    yield from (f"  {each}" for each in reasons)
    if not reasons:
        yield from _caution(what, None if asked.to else doing, "  ")
    elif way is None:
        yield "  " + _("no way is known from here; say what is seen with --seen PART=POSITION")
    else:
        yield "  " + _("the way:")
        for number, step in enumerate(way, 1):
            yield f"  {number:>2}  {said(step.says, what.language)}"
            yield from _caution(what, step, "      ")
    if not what.model.rescue and what.now.get("hose") != "home":
        yield f"  {said(what.model.no_rescue, what.language)}"


def _verdict(what: str, says: str, *, ok: bool) -> str:
    return f"{'✓' if ok else '✗'} {what}: {says}"


def _caution(what: _Asked, one: Activity | None, margin: str) -> Iterator[str]:
    if one is not None and one.caution:
        yield margin + _("CAUTION: {caution}", caution=said(one.caution, what.language))


def _print_activities(what: _Asked, *, everything: bool) -> None:
    """The stops first, then what may be done; what may not, where everything is asked for."""
    stops = [_row(_("stop now, at any time"), one, what) for one in what.model.stops]
    others = [one for one in what.model.activities.values() if not one.stop and not one.stands_for]
    allowed = [_row(_("may be done"), one, what) for one in others if not what.reasons(one)]
    barred = [_row(_("not now"), one, what) for one in others if what.reasons(one)]
    shown = [*stops, *allowed, *(barred if everything else ())]
    common.print_table(STEPS if everything else STEPS[:-1], shown if everything else [row[:-1] for row in shown])
    if barred and not everything:
        common.say(
            plural(
                "{n} other is not possible now; --all shows it", "{n} others are not possible now; --all shows them",
                len(barred),
            )
        )  # fmt: skip


def _row(band: str, one: Activity, what: _Asked) -> tuple[str, ...]:
    title = Title(said(one.says, what.language), short_of(one.short, one.says, what.language))
    return band, title, one.id, "; ".join(what.reasons(one))

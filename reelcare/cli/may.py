"""`may`: what may be done with a machine as it stands, what stands in the way, and the safe way to where one wants."""

from __future__ import annotations

import argparse

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.core.checks.positions import Activity, Table
from reelcare.core.wording import nearest, said
from reelcare.register import previous_answers, sheets, yard
from reelcare.register.sheets import FileError


def may(asked: argparse.Namespace) -> int:
    """Tell whether something may be done; with `--to`, the steps to a goal."""
    language = common.language(asked)
    with common.open_register(asked) as register:
        at, past = common.as_of(asked, register, common.now())
        one = yard.machine_now(register, register.machine_id(asked.tag), at, past=past, forecasts=False)
        try:
            table = sheets.positions().for_machine(one.card)
        except FileError as why:
            raise Problem(str(why)) from None
        now = previous_answers.positions(register, one.id, table, at)
    now |= _seen(asked.seen, table)
    steps, way, allowed = None, [], True
    if asked.to:
        if asked.to not in table.goals:
            raise Problem(f"{asked.to}: no such goal{nearest(asked.to, list(table.goals))}")
        steps = table.steps_to(table.goals[asked.to].where, now)
        allowed = steps is not None
    elif asked.doing:
        if asked.doing not in table.activities:
            raise Problem(f"{asked.doing}: no such step{nearest(asked.doing, list(table.activities))}")
        way = table.in_the_way(asked.doing, now)
        allowed = not way
        steps = table.steps_before(asked.doing, now)
    if one.standing.held_for:
        common.say(f"take heed: {one.tag} is HELD {one.standing.held_for}")
    if asked.json:
        common.print_json(
            {
                "machine": asked.tag,
                "standing": {"run": one.standing.run, "road": one.standing.road},
                "positions": {part: now.get(part) for part in table.parts},
                "allowed": [step.id for step in table.allowed(now)],
                "may": allowed if asked.to or asked.doing else None,
                "in_the_way": [{"part": each.part, "is": each.found, "must_be": list(each.needed)} for each in way],
                "steps": None if steps is None else [step.id for step in steps],
            }
        )
    elif asked.to or asked.doing:
        _print_one(asked, table, [table.tell(each, language) for each in way], steps, allowed, language)
    else:
        for step in table.activities.values():
            reasons = "; ".join(table.tell(each, language) for each in table.in_the_way(step.id, now))
            common.print_text(
                f"{'✗' if reasons else '✓'} {step.id:<24} {said(step.says, language)}{': ' if reasons else ''}{reasons}"
            )
    return 0 if allowed else 1


def _seen(texts: list[str], table: Table) -> dict[str, str]:
    found = {}
    for text in texts:
        part, mark, where = (one.strip() for one in text.partition("="))
        if not mark or part not in table.parts:
            raise Problem(
                f"{text!r}: a part and where it stands are right, as in `pawl=down`{nearest(part, list(table.parts))}"
            )
        if where not in table.parts[part].positions:
            raise Problem(f"{text!r}: {part} can be {', '.join(table.parts[part].positions)}")
        found[part] = where
    return found


def _print_one(
    asked: argparse.Namespace,
    table: Table,
    reasons: list[str],
    steps: list[Activity] | None,
    allowed: bool,
    language: str,
) -> None:
    says = table.goals[asked.to].says if asked.to else table.activities[asked.doing].says
    caution = None if asked.to else table.activities[asked.doing].caution
    common.print_text(f"{'✓' if allowed else '✗'} {said(says, language)}: {'may be done' if allowed else 'NOT NOW'}")
    for one in reasons:
        common.print_text(f"  {one}")
    if steps is None:
        common.print_text("  no way is known from here; say what is seen with --seen PART=POSITION")
    elif steps:
        for number, step in enumerate(steps, 1):
            common.print_text(f"  {number:>2}  {said(step.says, language)}")
            if step.caution:
                common.print_text(f"      CAUTION: {said(step.caution, language)}")
    elif caution:
        common.print_text(f"  CAUTION: {said(caution, language)}")

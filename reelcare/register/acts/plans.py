"""Putting a service plan in force, and giving a machine back to the plan for all."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from reelcare.core import entries as e
from reelcare.core.service.plan_change import PlanChange, change_of
from reelcare.core.service.plan_table import read_plan
from reelcare.core.text import _, mark
from reelcare.core.wording import nearest
from reelcare.register.errors import Refused
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer


def what_changes(reader: Reader, table: Mapping[str, Any], machine: str | None) -> PlanChange:
    """What a plan in place of the one in force changes; an empty table stands for the plan for all machines."""
    plans = reader.plans()
    before = plans.newest(machine) if machine else plans.for_all
    after = read_plan(table) if table else plans.for_all
    return change_of(before, after)


def put_in_force(
    writer: Writer,
    table: Mapping[str, Any],
    machine: str | None,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
    drop: Collection[str] = (),
) -> tuple[e.Entry, PlanChange]:
    """Put a plan in force, or with an empty table give a machine back to the plan for all; returns what it changed.

    Raises NotAllowed, and Refused where a stop item would hold no more that is not named in `drop`, or where `drop`
    names what stays.
    """
    writer.must_be_allowed(e.Planned.kind, by)
    with writer.writing_as(by):
        change = _change_that_may_be(writer, table, machine, drop)
        entry = writer.add(e.Planned(plan=table), machine=machine, by=by, now=now, happened=happened)
    return entry, change


def _change_that_may_be(
    reader: Reader, table: Mapping[str, Any], machine: str | None, drop: Collection[str]
) -> PlanChange:
    if not table and machine is not None and reader.plans().own(machine) is None:
        raise Refused(_("it goes by the plan for all machines already"))
    change = what_changes(reader, table, machine)
    unnamed = [item.id for item in change.to_confirm if item.id not in drop]
    if unnamed:
        says = mark(
            "{items}: a stop item (holds a machine when past its grace) would be dropped; if "
            "that is meant, add {options}"
        )
        raise Refused(_(says, items=", ".join(unnamed), options=" ".join(f"--drop {id}" for id in unnamed)))
    going = [item.id for item in (*change.gone, *change.loosened)]
    for id in drop:
        if id not in going:
            raise Refused(_("--drop {id}: the plan does not drop it{hint}", id=id, hint=nearest(id, going)))
    return change

"""What may be written: what speaks against an entry by its time, and by its kind."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from reelcare.core.checks.clearance import AHEAD
from reelcare.core.entries.base import Context, Kind
from reelcare.core.text import _, mark
from reelcare.core.timestamps import day_of

BEFORE_CARDED = timedelta(days=5 * 366)
"""How much history a machine may be given that was carded without saying since when it is in use."""


def problems(what: Kind, context: Context) -> list[str]:
    """Everything that speaks against writing this, each with its cure; empty where nothing does."""
    return [*time_problems(what, context), *what.problems(context)]


def time_problems(what: Kind, context: Context) -> Iterator[str]:
    """What speaks against its time: it lies in the future, before the machine's beginning, or after its end."""
    yield from _outside_its_time(what, context)
    yield from _after_retirement(what, context)


def _outside_its_time(what: Kind, context: Context) -> Iterator[str]:
    first, last = what.span(context.at)
    if last > context.now + AHEAD:
        says = mark("the time {time} lies in the future (it is {now} now)")
        yield _(says, time=_said(last, context), now=_said(context.now, context))
    if what.before_beginning:
        return
    day = day_of(first, context.zone)
    since, carded = context.in_use_since, context.carded
    if since is not None:
        if day < since:
            yield _(
                "{day} is before the machine's beginning ({since}): give a later time, or revise the "
                "card's `in_use_since`",
                day=day,
                since=since,
            )
    elif carded is not None and first < carded - BEFORE_CARDED:
        yield _(
            "{day} is more than five years before the machine was added ({carded}): give a later time, or "
            "put `in_use_since` on its card",
            day=day,
            carded=day_of(carded, context.zone),
        )


def _after_retirement(what: Kind, context: Context) -> Iterator[str]:
    if context.machine is None or what.after_retirement or context.state is None:
        return
    retired = context.state.retired
    if retired is not None:
        yield _(
            "the machine left the yard on {day} ({why}): give an earlier time, or take that entry of its book back",
            day=day_of(retired.at, context.zone),
            why=retired.why,
        )


def _said(moment: datetime, context: Context) -> str:
    return moment.astimezone(context.zone).isoformat(sep=" ", timespec="minutes")

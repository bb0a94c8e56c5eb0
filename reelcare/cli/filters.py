"""The filters that mean the same on `due`, `workload`, `report due`, `report workload` and `report list`."""

from __future__ import annotations

import argparse
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from reelcare.cli import common, values
from reelcare.core.people import NOBODY
from reelcare.core.text import _

if TYPE_CHECKING:  # the table of commands is read without a register, and without what is due
    from reelcare.core.service.due_list import DueFilter
    from reelcare.register.reading.reader import Reader


def add_filters(parser: argparse.ArgumentParser) -> None:
    """The options that say which machines and items are asked for."""
    parser.add_argument("--machine", metavar="TAG", type=values.given, help=_("of one machine"))
    parser.add_argument("--place", metavar="PLACE", type=values.word, help=_("of the machines at one place"))
    parser.add_argument("--part", metavar="PART", type=values.word, help=_("of one part"))
    parser.add_argument("--person", metavar="NAME", type=values.word, help=_("what is given to one person"))
    parser.add_argument("--overdue", action="store_true", help=_("only what is past its grace, holds, or is unknown"))
    parser.add_argument(
        "--within", metavar="DAYS", type=values.days, help=_("only what is likely due within this many days")
    )


def wanted(asked: argparse.Namespace, reader: Reader) -> DueFilter:
    """What the options ask for. Raises Refused for a machine, a part or a person that there is not."""
    from reelcare.core.service.due_list import DueFilter
    from reelcare.register.acts import giving
    from reelcare.register.views import due_list

    machine = reader.machine_id(asked.machine) if asked.machine else ""
    person = giving.holder(reader, asked.person) or NOBODY if asked.person is not None else ""
    return DueFilter(
        machine, asked.place or "", due_list.part_named(asked.part or ""), person, asked.overdue, asked.within
    )


def warn_of_place(asked: argparse.Namespace, reader: Reader, at: datetime, *, past: bool) -> None:
    """Tell of a place where no machine is: a slip must not read as if nothing were due there."""
    from reelcare.register.views import due_list

    if doubt := due_list.place_in_doubt(reader, asked.place or "", at, past=past):
        common.say(doubt)


def weeks_of(asked: argparse.Namespace, today: date) -> tuple[int, date]:
    """How many weeks are asked for, and the last day of them: `--within` goes before `--weeks`."""
    from reelcare.core.service.workload import WEEK, monday

    if asked.within is None:
        many: int = asked.weeks
        return many, monday(today) + WEEK * many - timedelta(days=1)
    until = today + timedelta(days=asked.within)
    return (monday(until) - monday(today)).days // 7 + 1, until

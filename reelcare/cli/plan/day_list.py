"""`give` and `report list`: the work list, given to people and days, and on paper."""

from __future__ import annotations

import argparse
from dataclasses import replace

from reelcare.cli import common, filters
from reelcare.cli.plan import report
from reelcare.cli.problem import Problem
from reelcare.core.people import NOBODY
from reelcare.core.text import _, mark, plural
from reelcare.core.timestamps import day_of
from reelcare.register.acts import giving
from reelcare.register.views.due_list import cards_of, for_supervisor, work_list
from reelcare.reports import day_list as pages
from reelcare.reports import report_file, tables


def give(asked: argparse.Namespace) -> int:
    """Give lines of a machine to a person and a day."""
    now = common.now()
    with common.open_register(asked) as register:
        machine, at = register.machine_id(asked.tag), common.happened(asked, register, now)
        to = giving.person(register, asked.to)
        day = common.day_said("--day", asked.day)
        if to and day is None:
            raise Problem(_("--day: for which day? as in --day {day}", day=day_of(at, register.zone)))
        ids = list(dict.fromkeys(giving.named(register, machine, one, at) for one in asked.line))
        lines = [(machine, id) for id in ids]
        written = giving.give(register, lines, to, day, by=common.by(asked), now=now, happened=at)
    data = [{"entry": one.id, "kind": one.what.kind, "item": id} for one, id in zip(written, ids, strict=True)]
    told = mark("{tag}: {lines} given to {to} for {day}") if to else mark("{tag}: {lines} no longer given to anybody")
    many = plural("{n} line", "{n} lines", len(written))
    return common.answer(asked, data, _(told, tag=asked.tag, lines=many, to=to, day=day))


def day_list(asked: argparse.Namespace) -> int:
    """The work list on paper: of one person and day, or all of it."""
    path = report.file_asked(asked, (*report.PAGES, ".csv"))
    language, day = common.language(asked), common.day_said("--day", asked.day)
    with report.printing(asked, path) as made:
        register, at, past = made.register, made.at, made.past
        today = day_of(at, register.zone)
        wanted = filters.wanted(asked, register)
        if asked.name is not None:
            wanted = replace(wanted, person=giving.holder(register, asked.name) or NOBODY)
        found = work_list(register, wanted, at, past=past)
        lines, told = pages.of_day(found.lines, day, today), for_supervisor(found, register.tags())
        filters.warn_of_place(asked, register, at, past=past)
        cards = cards_of(register, lines, made.stood)
    if made.ending == ".csv":
        data = tables.due(lines, language)
    else:
        document = pages.document(
            lines, cards, wanted.person, day, made.stamp, language, common.system(asked),
            everything=not asked.name, for_supervisor=told,
        )  # fmt: skip
        data = made.laid_out(document)
    report_file.write(path, data, replace=asked.replace)
    common.say(_("{path}: written, {lines}", path=path, lines=plural("{n} line", "{n} lines", len(lines))))
    if asked.name and not lines:
        common.say(
            _("nothing is given to {name} for that day; `reelcare give` gives work out", name=wanted.person)
            if day is not None
            else _("nothing is given to {name}; `reelcare give` gives work out", name=wanted.person)
        )
    return 0

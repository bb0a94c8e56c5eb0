"""`report water`: the water given, by place, machine and day."""

from __future__ import annotations

import argparse

from reelcare.cli import common
from reelcare.cli.plan import report
from reelcare.cli.problem import Problem
from reelcare.core import units
from reelcare.core.text import _, plural, typed_figure
from reelcare.register.views import night as nights
from reelcare.register.views import water as views
from reelcare.reports import water as reports


def water(asked: argparse.Namespace) -> int:
    """The water given, as a page or a table."""
    path, ending = report.file_asked(asked, (*report.PAGES, ".csv"))
    try:
        licence = units.read(typed_figure(asked.licence), "volume") if asked.licence else None
    except units.UnitsError as why:
        raise Problem(_("{option}: {why}", option="--licence", why=why)) from None
    if licence is not None and not licence > 0:
        raise Problem(_("{option}: {value}: must be above 0", option="--licence", value=asked.licence))
    with common.open_register(asked) as register:
        now = common.now()
        at, past = common.as_of(asked, register, now)
        first, last = report.span_of(asked, register.zone, at)
        lines = views.of_register(register, first, last, at if past else None)
        zone = register.zone
        told = report.stamp_of(register, now, at if past else None)
        is_paper = ending != ".csv"
        energy = nights.energy_of(register, lines, last) if is_paper else (None, [])
        ahead = nights.ahead(register, now, common.system(asked)) if is_paper and not past and last >= now else []
    if ending == ".csv":
        data = reports.as_csv(lines)
    else:
        document = reports.document(
            lines, first, last, told, zone, licence, energy, ahead, common.system(asked), common.language(asked)
        )
        data = report.laid_out(document, ending, now, asked)
    report.write(path, data, asked)
    if unknown := sum(one.unknown for one in lines):
        common.say(plural("the water of {n} run is not known", "the water of {n} runs is not known", unknown))
    return 0

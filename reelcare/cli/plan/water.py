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
    path = report.file_asked(asked, (*report.PAGES, ".csv"))
    try:
        licence = units.read(typed_figure(asked.licence), "volume") if asked.licence else None
    except units.UnitsError as why:
        raise Problem(_("{option}: {why}", option="--licence", why=why)) from None
    if licence is not None and not licence > 0:
        raise Problem(_("{option}: {value}: must be above 0", option="--licence", value=asked.licence))
    with report.printing(asked, path) as made:
        register, zone, is_paper = made.register, made.register.zone, made.ending != ".csv"
        first, last = report.span_of(asked, zone, made.at)
        lines = views.of_register(register, first, last, made.stood)
        energy = nights.energy_of(register, lines, last) if is_paper else (None, [])
        system = common.system(asked)
        ahead = nights.ahead(register, made.now, system) if is_paper and not made.past and last >= made.now else []
    if is_paper:
        language = common.language(asked)
        made.write(reports.document(lines, first, last, made.stamp, zone, licence, energy, ahead, system, language))
    else:
        made.write(reports.as_csv(lines))
    if unknown := sum(one.unknown for one in lines):
        common.say(plural("the water of {n} run is not known", "the water of {n} runs is not known", unknown))
    return 0

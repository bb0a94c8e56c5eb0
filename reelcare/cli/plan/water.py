"""`report water`: the water given, by place, machine and day."""

from __future__ import annotations

import argparse
from datetime import timedelta
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.core import units
from reelcare.core.text import _, plural
from reelcare.register.views import night as nights
from reelcare.register.views import water as views
from reelcare.reports import out, page
from reelcare.reports import water as reports

ENDINGS = (".html", ".pdf", ".csv")


def water(asked: argparse.Namespace) -> int:
    """The water given, as a page or a table."""
    path = Path(asked.file)
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        right, suffix = ", ".join(ENDINGS), ending or _("no ending")
        told = _("{path}: {suffix}; right are {right}", path=path, suffix=suffix, right=right)
        raise Problem(told)
    try:
        licence = units.read(asked.licence, "volume") if asked.licence else None
    except units.UnitsError as why:
        raise Problem(_("{option}: {why}", option="--licence", why=why)) from None
    with common.open_register(asked, create=False) as register:
        now = common.now()
        last = common.moment_of(asked.to, register.zone, ends=True) if asked.to else now
        first = common.moment_of(asked.since, register.zone) if asked.since else last - timedelta(days=365)
        if first >= last:
            raise Problem(_("--from: not before --until"))
        lines = views.of_register(register, first, last)
        zone = register.zone
        is_paper = ending != ".csv"
        energy = nights.energy_of(register, lines, last) if is_paper else (None, [])
        ahead = nights.ahead(register, now) if is_paper and last >= now else []
    if ending == ".csv":
        data = reports.as_csv(lines)
    else:
        document = reports.document(lines, first, last, now, zone, licence, energy, ahead)
        if ending == ".pdf":
            from reelcare.reports import pdf

            data = pdf.lay_out(document, now)
        else:
            data = page.lay_out(document)
    out.write(path, data, replace=asked.replace)
    common.say(_("{path}: written", path=path))
    if unknown := sum(one.unknown for one in lines):
        common.say(plural("{n} run says neither volume nor meter", "{n} runs say neither volume nor meter", unknown))
    return 0

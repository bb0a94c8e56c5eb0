"""What an entry keeps beside the line that a book has of it, with names and values in words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.service.plan_table import ENERGIES
from reelcare.core.text import _, localized


def details(what: e.Kind, zone: tzinfo, system: units.System = "metric") -> Iterator[tuple[str, str]]:
    """Name and value of each thing that somebody gave with an entry, its times in a zone."""
    if isinstance(what, e.Run):
        yield from _of_a_run(what, zone, system)
    elif isinstance(what, e.Service):
        yield from _of_a_service(what)
    elif isinstance(what, e.Fault) and what.retest_shown:
        yield _("re-test"), what.retest_shown
    elif isinstance(what, e.Retest) and what.seen:
        yield _("what was seen"), what.seen


def made_safe(what: e.Kind) -> str:
    """What was made safe before a work, in words; '' where nothing was."""
    return ", ".join(_(ENERGIES.get(one, one)) for one in what.isolated) if isinstance(what, e.Service) else ""


def _of_a_run(what: e.Run, zone: tzinfo, system: units.System) -> Iterator[tuple[str, str]]:
    yield _("started"), f"{what.started.astimezone(zone):%Y-%m-%d %H:%M}"
    yield _("ended"), f"{what.ended.astimezone(zone):%Y-%m-%d %H:%M}"
    if what.planned_speed is not None:
        yield _("planned speed"), units.show(what.planned_speed / 3_600_000, "speed", system)
    for name, pressure in (
        (_("inlet pressure"), what.inlet), (_("gun pressure"), what.gun), (_("drive loss"), what.drive_loss),
    ):  # fmt: skip
        if pressure is not None:
            yield name, units.show(pressure, "pressure", system)
    if what.operator:
        yield _("operator"), what.operator


def _of_a_service(what: e.Service) -> Iterator[tuple[str, str]]:
    if safe := made_safe(what):
        yield _("made safe"), safe
    yield from ((_("step"), one) for one in what.steps)
    if what.supplies:
        yield _("supplies"), what.supplies
    if what.minutes is not None:
        yield _("time"), _("{n} min", n=what.minutes)
    if what.life is not None:
        yield _("at hours"), localized(f"{what.life / 3600:.1f} h")

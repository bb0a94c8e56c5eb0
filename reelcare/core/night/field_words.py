"""The lanes of a field in lines for people, and what licence, tariff and daylight allow."""

from __future__ import annotations

from reelcare.core import units
from reelcare.core.hydraulics import volumes
from reelcare.core.night.field import Field, Lane
from reelcare.core.text import _, localized


def line(one: Lane, system: units.System) -> tuple[str, ...]:
    """Lane, hydrant, length, spacing, rise, with whom its flow is shared; '' where nothing is said."""

    def shown(value: float | None) -> str:
        return "" if value is None else units.show(value, "length", system)

    shares = ", ".join(str(each) for each in one.shared_with)
    return str(one.number), str(one.hydrant), shown(one.length), shown(one.spacing), shown(one.rise), shares


def fed(one: Lane, system: units.System) -> tuple[str, str]:
    """Flow and pressure of its hydrant; '' where nothing is said."""
    return (
        "" if one.flow is None else units.show(one.flow, "flow", system),
        "" if one.inlet is None else units.show(one.inlet, "pressure", system),
    )


def allowed(field: Field, system: units.System) -> str:
    """Licence, hours, dark and times of moves of a field in one line."""
    told = []
    licence = field.licence
    if licence.season is not None:
        told.append(_("licence {volume} a season", volume=_licence(licence.season, system)))
    if licence.day is not None:
        told.append(_("licence {volume} a day", volume=_licence(licence.day, system)))
    for label, hours in ((_("licence hours"), licence.hours), (_("low tariff"), field.tariff), (_("dark"), field.dark)):
        if hours is not None:
            told.append(f"{label} {' - '.join(hours.texts)}")
    same, other = (localized(f"{one / 60:g}") for one in (field.same_hydrant, field.other_hydrant))
    told.append(_("moves {same} on one hydrant, {other} to another (min)", same=same, other=other))
    return ", ".join(told)


def _licence(volume: float, system: units.System) -> str:
    """A licence as it was given: whole where it is."""
    return volumes.told(volume, system, 0 if volume == int(volume) else 3)


def too_long(field: Field, longest: float | None, system: units.System) -> list[str]:
    """The lanes that are longer than the longest hose at the field [m]."""
    if longest is None:
        return []
    return [
        _("warning: lane {lane} is {length} long, and no machine there has more than {longest} of hose",
          lane=one.number, length=units.show(one.length, "length", system),
          longest=units.show(longest, "length", system))
        for one in field.lanes
        if one.length > longest
    ]  # fmt: skip

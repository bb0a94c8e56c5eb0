"""A settings sheet against its limits: every limited figure with its margin, every warning with its cure.

The rules of this file: a limit comes from the card, from the table of limits, or from what is wished. A figure that is
not known has no margin; it is named on the sheet instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC

from reelcare.core.hydraulics import gun
from reelcare.core.hydraulics.drum import HAIR
from reelcare.core.hydraulics.hose import read_path
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.settings_sheet import AtPlace, Setting
from reelcare.core.settings.warning_codes import Figure, Margin, Warned
from reelcare.core.text import mark

FITS = 0.99
"""Part of what was asked that still counts as met, where a figure was typed with two places."""
TYPED = 1.001
"""How far a pressure may be past its limit for having been typed in another unit: 69 kPa is 10 psi."""
EVEN = 1 + 1e-9
"""How far a figure may be past its limit for the last digit of a float."""


def margins_of(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Margin]:
    """Every limited figure of a settings sheet, the ones that wreck a machine first."""
    yield from _drum(card, setting, limits)
    yield from _hose(setting)
    yield from _water(card, setting, limits)
    yield from _field(setting, limits)
    yield from _path(setting, limits)


def other_warnings(setting: Setting, limits: SetLimits) -> Iterator[Warned]:
    """What is warned of without being a limit of the machine."""
    place = setting.at_pull_out
    if setting.spread is not None and setting.spread.left > 0.15 + 1e-9:
        says = mark(
            "the cart is {faster} % faster at its fastest than at its slowest: set the speed again as each layer "
            "begins, as the sheet tells"
        )
        yield Warned("speed-spread", says, ((100 * setting.spread.left, "count", "whole"),))
    if setting.discharge is not None and place is not None and not gun.can_discharge(setting.discharge):
        part = limits.discharge / setting.discharge
        says = mark(
            "flow and nozzle disagree: {flow} wanted, but {pressure} gives {lets} through the nozzle, "
            "{percent} % more: check both"
        )
        if part < 1:
            says = mark(
                "flow and nozzle disagree: {flow} wanted, but {pressure} gives {lets} through the nozzle, "
                "{percent} % less: check both"
            )
        yield Warned("nozzle", says, (
            (place.flow, "flow", ""), (place.gun, "pressure", ""), (place.flow * part, "flow", ""),
            (100 * abs(part - 1), "count", "whole"),
        ))  # fmt: skip
    late = _late(setting)
    if late > 0:
        says = mark("done {late} too late: start earlier, or travel faster and put on less")
        yield Warned("late", says, ((late, "duration", ""),))


def _drum(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Margin]:
    length, out, wind = card.hose.length, setting.wishes.out, setting.wind
    if length is not None and out is not None:
        says = mark("{out} are to be pulled out; the hose has {length}: pull out less")
        yield Margin(
            code="pull-out", says=says, likely=out, limit=length, quantity="length", where="pull-out",
            slack=1 + HAIR / length,
        )  # fmt: skip
        if setting.coils_left is not None and out <= length + HAIR:
            yield from _coils(setting, limits, None if wind is None else length - wind.metres(limits.least_coils))
    if wind is not None and length is not None and wind.layers is not None:
        says = mark("{length} of hose on the card, but the drum holds {holds}: check layers, coils and packing")
        yield Margin(
            code="drum", says=says, likely=length, limit=wind.capacity, quantity="length", where="home", slack=EVEN,
            decides=False,
        )  # fmt: skip


def _coils(setting: Setting, limits: SetLimits, most_out: float | None) -> Iterator[Margin]:
    """`most_out` is the pull-out that leaves the least coils [m]; None where the drum is not known."""
    if setting.wishes.timing_check or setting.coils_left is None or limits.least_coils <= 0:
        return
    says = mark("{coils} coils stay on the drum, at least {least} must: pull out less")
    figures: tuple[Figure, ...] = ((setting.coils_left, "count", ""), (limits.least_coils, "count", "least whole"))
    if most_out is not None:
        says = mark("{coils} coils stay on the drum, at least {least} must: pull out {out} at most")
        figures += ((max(0.0, most_out), "length", "most"),)
    yield Margin(
        code="coils", says=says, figures=figures, likely=setting.coils_left, limit=limits.least_coils,
        quantity="count", where="pull-out", at_least=True, slack=1 / EVEN,
    )  # fmt: skip


def _most(places: tuple[AtPlace, ...], name: str, *, least: bool = False) -> tuple[float | None, str]:
    """The greatest of a figure along the lane, or the least, and where that is."""
    found = [(value, one.where) for one in places if (value := getattr(one, name)) is not None]
    return (min if least else max)(found, key=lambda one: one[0]) if found else (None, "")


def _hose(setting: Setting) -> Iterator[Margin]:
    bears = setting.allowable_pull
    told = (
        ("drag", "pull", mark(
            "hose and cart pull with {pull}; the wall may bear {limit}: pull out less, empty the hose, or wet the "
            "ground"
        )),
        ("wall", "wall", mark(
            "pull and pressure together are {carries} on the wall of the hose; it may bear {limit}: less pressure, "
            "or pull out less"
        )),
    )  # fmt: skip
    for code, name, says in told:
        likely, where = _most(setting.likely, name)
        worst, worst_where = _most(setting.worst, name)
        if bears is not None and likely is not None:
            yield Margin(
                code=code, says=says, likely=likely, limit=bears, quantity="force", worst=worst,
                worst_limit=setting.worst_allowable, where=where, worst_where=worst_where,
            )  # fmt: skip
    rated, least = setting.rated_pressure, setting.least_in_hose
    if rated is not None and setting.standing is not None:
        yield _rating(setting, rated, setting.standing, _most(setting.likely, "hose")[0])
    elif rated is not None and least is not None and least > rated:
        # how much more there is nobody knows: it can be too much, and is never enough to be told as within
        yield _rating(setting, rated, least, least)


def _rating(setting: Setting, rated: float, standing: float, flowing: float | None) -> Margin:
    """Nothing in the hose is more than what stands in it with the gun blocked, at the lower of its ends."""
    figures: tuple[Figure, ...] = ()
    says = mark(
        "{pressure} in the hose if the gun is blocked; it is rated for {rated} at this temperature: less pressure"
    )
    if rated <= 0:
        says = mark("{pressure} in a hose that is hotter than any published rating: let it cool")
        figures = ((standing, "pressure", ""),)
    elif flowing is not None and flowing > rated:
        says = mark("{pressure} in the hose; it is rated for {rated} at this temperature: less pressure")
        figures = ((flowing, "pressure", ""), (rated, "pressure", "most"))
    return Margin(
        code="hose-pressure", says=says, figures=figures, likely=standing, limit=rated, quantity="pressure",
        worst=setting.worst_standing, worst_limit=setting.worst_rated, slack=EVEN, where="gun blocked",
        worst_where="gun blocked",
    )  # fmt: skip


def _water(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Margin]:
    wishes, place = setting.wishes, setting.at_pull_out
    if wishes.drive_loss is not None:
        most = card.drive.most_loss if card.drive.most_loss is not None else limits.drive_loss
        says = mark("the drive takes {loss}, {most} at most is allowed: change gear or pulley, not the valve")
        yield Margin(
            code="drive-loss", says=says, likely=wishes.drive_loss, limit=most, quantity="pressure", role="drive loss",
            slack=TYPED,
        )  # fmt: skip
    if card.cart.kind != "boom":
        yield from _at_gun(card, setting, limits)
    if place is not None and setting.supply is not None and setting.throttled:
        says = mark("the inlet needs {needed} for this gun pressure, and gets {comes}: more pressure, or less flow")
        yield Margin(
            code="not-fed", says=says, likely=place.inlet, limit=setting.supply.pressure(place.flow),
            quantity="pressure", worst=next((one.inlet for one in setting.worst), None), where="pull-out",
            worst_where="pull-out", slack=1 / FITS,
        )  # fmt: skip


def _at_gun(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Margin]:
    guns = [(one.gun, one.where) for one in setting.likely if one.gun is not None]
    worst = [(one.gun, one.where) for one in setting.worst if one.gun is not None]
    if not guns and setting.wishes.gun_pressure is not None:
        guns = [(setting.wishes.gun_pressure, "pull-out")]
    if not guns:
        return
    least = card.cart.least_pressure if card.cart.least_pressure is not None else limits.gun_least
    highest = card.cart.most_pressure if card.cart.most_pressure is not None else limits.gun_most
    low, low_worst = min(guns), min(worst, default=min(guns))
    says = mark("{pressure} at the gun, {where}; it needs at least {least}: below that, large drops and a short throw")
    yield Margin(
        code="gun-low", says=says, likely=low[0], limit=least, quantity="pressure", worst=low_worst[0], where=low[1],
        worst_where=low_worst[1], at_least=True, slack=FITS,
    )  # fmt: skip
    high = max(guns)
    says = mark("{pressure} at the gun, {where}; at most {most}: above that, fine drops that the wind carries away")
    yield Margin(
        code="gun-high", says=says, likely=high[0], limit=highest, quantity="pressure", worst=setting.highest_gun,
        where=high[1], worst_where=high[1], slack=1 / FITS,
    )  # fmt: skip


def _field(setting: Setting, limits: SetLimits) -> Iterator[Margin]:
    wishes = setting.wishes
    if setting.widest is not None and wishes.spacing is not None:
        says = mark(
            "lanes {spacing} apart; with this throw and wind {most} at most ({ring} with a ring nozzle): narrower "
            "lanes, or wait"
        )
        widest = setting.widest
        figures: tuple[Figure, ...] = (
            (wishes.spacing, "length", ""), (widest.tapered, "length", "most"), (widest.ring, "length", "most"),
        )  # fmt: skip
        yield Margin(
            code="spacing", says=says, figures=figures, likely=wishes.spacing, limit=widest.tapered, quantity="length",
            decides=False,
            worst_limit=None if setting.worst_widest is None else setting.worst_widest.tapered,
            where=_most(setting.likely, "throw", least=True)[1],
            worst_where=_most(setting.worst, "throw", least=True)[1],
        )  # fmt: skip
    yield from _winds(setting)
    rate, where = _most(setting.likely, "rate")
    worst, worst_where = _most(setting.worst, "rate")
    rate = setting.rate if rate is None else rate
    if rate is not None and wishes.intake is not None:
        says = mark(
            "{rate} falls on the wetted sector; the soil takes in {intake}: use a wider arc or less flow, "
            "or expect runoff"
        )
        yield Margin(
            code="runoff", says=says, likely=rate, limit=wishes.intake, quantity="speed", role="rate", decides=False,
            worst=worst, where=where, worst_where=worst_where,
        )  # fmt: skip
    if wishes.out is not None:
        slope = abs(wishes.rise) / wishes.out
        says = mark("the lane rises or falls by {slope} %; at most {most} % for gun travellers: another lane")
        figures = ((100 * slope, "count", "whole"), (100 * limits.most_slope, "count", "most whole"))
        yield Margin(
            code="slope", says=says, figures=figures, likely=slope, limit=limits.most_slope, quantity="count",
            decides=False, slack=EVEN,
        )  # fmt: skip


def _winds(setting: Setting) -> Iterator[Margin]:
    wind, most = setting.wishes.wind, setting.wishes.wind_limit
    if wind is None:
        return
    if most is not None:
        says = mark("wind of {wind}; work only in up to {most}: wait")
        yield Margin(code="wind", says=says, likely=wind, limit=most, quantity="speed", role="wind", slack=EVEN)
    says = mark("wind of {wind}; published lane spacings end at {most}: wait for less wind")
    yield Margin(
        code="wind-rows", says=says, likely=wind, limit=gun.WIND_ROWS[-2][0] * gun.MPH, quantity="speed", role="wind",
        decides=False, slack=EVEN,
    )  # fmt: skip


def _late(setting: Setting) -> float:
    """Seconds by which the run ends after the time that it is to be done by; 0 where either is not known."""
    if setting.finish is None or setting.wishes.until is None:
        return 0.0
    # in UTC: two moments of one zone with summer time differ by what its clocks show
    return (setting.finish.astimezone(UTC) - setting.wishes.until.astimezone(UTC)).total_seconds()


def _path(setting: Setting, limits: SetLimits) -> Iterator[Margin]:
    wishes = setting.wishes
    if not wishes.bends or wishes.out is None:
        return
    path = read_path(wishes.out, wishes.bends)
    says = mark("the first {straight} are straight; {least} at least before the first curve")
    yield Margin(
        code="bend-early", says=says, likely=path.straight_first * path.length,
        limit=limits.straight_first * path.length, quantity="length", at_least=True, slack=1 / EVEN,
    )  # fmt: skip
    says = mark("{turned} degrees of curve in all; {most} at most: the hose must not pull on the guide from the side")
    turned: tuple[Figure, ...] = ((path.turned, "count", "whole"), (limits.most_curve, "count", "most whole"))
    yield Margin(
        code="bend-much", says=says, figures=turned, likely=path.turned, limit=limits.most_curve, quantity="count",
        slack=EVEN,
    )  # fmt: skip
    if setting.least_radius is not None and path.turned:
        says = mark("a curve of {radius} radius; this hose needs at least {least}: a wider curve")
        yield Margin(
            code="bend-tight", says=says, likely=path.tightest, limit=setting.least_radius, quantity="length",
            at_least=True, slack=1 / EVEN,
        )  # fmt: skip

"""A settings sheet against its limits: every warning, with its figure and its cure.

The rules of this file: a limit comes from the card or from the table of limits. A figure that is not known warns of
nothing; it is named on the sheet instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC

from reelcare.core.hydraulics.drum import HAIR
from reelcare.core.hydraulics.hose import Path, read_path
from reelcare.core.machine.card import Card
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.warning_codes import Warned

FITS = 0.99
"""Part of what was asked that still counts as met, where a figure was typed with two places."""
TYPED = 1.001
"""How far a pressure may be past its limit for having been typed in another unit: 69 kPa is 10 psi."""
DISCHARGES = (0.80, 1.0)
"""Discharge coefficients that a nozzle can have; outside, flow, bore and pressure do not belong together."""


def warnings_of(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Warned]:
    """Every warning of a settings sheet, the ones that wreck a machine first."""
    yield from _drum(card, setting, limits)
    yield from _hose(card, setting, limits)
    yield from _water(card, setting, limits)
    yield from _field(setting)
    yield from _path(setting, limits)


def _drum(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Warned]:
    length, out = card.hose.length, setting.wishes.out
    if length is not None and out is not None and out > length + HAIR:
        says = "{} are to be pulled out; the hose has {}: pull out less"
        yield Warned("pull-out", says, ((out, "length", ""), (length, "length", "")))
    elif (
        setting.coils_left is not None
        and setting.coils_left < limits.least_coils - 1e-9
        and not setting.wishes.timing_check
    ):
        wind = setting.wind
        assert wind is not None
        assert length is not None
        least = max(0.0, length - wind.metres(limits.least_coils))
        says = "{} coils stay on the drum; {} at least are right, that is {} pulled out at most"
        yield Warned(
            "coils",
            says,
            ((setting.coils_left, "count", ""), (limits.least_coils, "count", "whole"), (least, "length", "most")),
        )
    wind = setting.wind
    if wind is not None and length is not None and length > wind.capacity:
        says = "{} of hose on the card, and a drum that holds {}: look at layers, coils and packing"
        yield Warned("drum", says, ((length, "length", ""), (wind.capacity, "length", "")))
    if setting.spread is not None and setting.spread.left > 0.15:
        says = "the cart is {} % faster at its fastest than at its slowest: set the speed again as the layers build"
        yield Warned("speed-spread", says, ((100 * setting.spread.left, "count", "whole"),))


def _hose(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Warned]:
    pull, bears = setting.pull, setting.allowable_pull
    if pull is not None and bears is not None and pull > bears:
        says = "hose and cart pull with {}; the wall may bear {}: pull out less, empty the hose, or wet the ground"
        yield Warned("drag", says, ((pull, "force", ""), (bears, "force", "")))
    place, rated = setting.at_pull_out, setting.rated_pressure
    behind_drive = None if place is None else place.inlet - place.drive_loss
    if behind_drive is not None and rated is not None and behind_drive > rated:
        says = "{} in the hose; it is rated for {} at this temperature: less pressure"
        yield Warned("hose-pressure", says, ((behind_drive, "pressure", ""), (rated, "pressure", "")))
    elif rated is not None and setting.wishes.inlet is not None and setting.wishes.inlet > rated * TYPED:
        says = "{} come in, and stand in the hose when the gun is shut; it is rated for {} at this temperature"
        yield Warned("hose-pressure", says, ((setting.wishes.inlet, "pressure", ""), (rated, "pressure", "")))


def _water(card: Card, setting: Setting, limits: SetLimits) -> Iterator[Warned]:
    wishes, place = setting.wishes, setting.at_pull_out
    most = card.drive.most_loss if card.drive.most_loss is not None else limits.drive_loss
    if wishes.drive_loss is not None and wishes.drive_loss > most * TYPED:
        says = "the drive takes {}; {} at most is right: change gear or pulley, not the valve"
        yield Warned(
            "drive-loss", says, ((wishes.drive_loss, "pressure", "drive loss"), (most, "pressure", "drive loss"))
        )
    at_gun = place.gun if place is not None else wishes.gun_pressure
    if at_gun is not None and card.cart.kind != "boom":
        least = card.cart.least_pressure if card.cart.least_pressure is not None else limits.gun_least
        highest = card.cart.most_pressure if card.cart.most_pressure is not None else limits.gun_most
        if at_gun < least * FITS:
            says = "{} at the gun; {} at least is right: large drops and a short throw"
            yield Warned("gun-low", says, ((at_gun, "pressure", ""), (least, "pressure", "")))
        if at_gun * FITS > highest:
            says = "{} at the gun; {} at most is right: fine drops that the wind takes"
            yield Warned("gun-high", says, ((at_gun, "pressure", ""), (highest, "pressure", "")))
    if place is None:
        return
    if wishes.inlet is not None and wishes.inlet < place.inlet * FITS:
        says = "{} at the inlet do not bring what is wanted to the gun: {} are needed, or less flow"
        yield Warned("not-fed", says, ((wishes.inlet, "pressure", ""), (place.inlet, "pressure", "")))
    if setting.discharge is not None and not DISCHARGES[0] <= setting.discharge <= DISCHARGES[1]:
        says = "this nozzle at {} would let through another flow: look at flow, nozzle and pressure"
        yield Warned("nozzle", says, ((place.gun, "pressure", ""),))


def _field(setting: Setting) -> Iterator[Warned]:
    wishes = setting.wishes
    if setting.widest is not None and wishes.spacing is not None and wishes.spacing > setting.widest.tapered:
        says = "lanes {} apart; with this throw and wind {} at most ({} with a ring nozzle): narrower lanes, or wait"
        widest = setting.widest
        yield Warned(
            "spacing",
            says,
            ((wishes.spacing, "length", ""), (widest.tapered, "length", ""), (widest.ring, "length", "")),
        )
    if setting.rate is not None and wishes.intake is not None and setting.rate > wishes.intake:
        says = "{} fall on the wetted sector; the soil takes in {}: a wider arc, less flow, or expect runoff"
        yield Warned("runoff", says, ((setting.rate, "speed", "rate"), (wishes.intake, "speed", "rate")))
    late = _late(setting)
    if late > 0:
        says = "done {} too late: start earlier, or travel faster and put on less"
        yield Warned("late", says, ((late, "duration", ""),))


def _late(setting: Setting) -> float:
    """Seconds by which the run ends after the time that it is to be done by; 0 where either is not known."""
    if setting.finish is None or setting.wishes.until is None:
        return 0.0
    # in UTC: two moments of one zone with summer time differ by what its clocks show
    return (setting.finish.astimezone(UTC) - setting.wishes.until.astimezone(UTC)).total_seconds()


def _path(setting: Setting, limits: SetLimits) -> Iterator[Warned]:
    wishes = setting.wishes
    if not wishes.bends or wishes.out is None:
        return
    path: Path = read_path(wishes.out, wishes.bends)
    if path.straight_first < limits.straight_first - 1e-9:
        says = "the first {} are straight; {} at least before the first curve"
        yield Warned(
            "bend-early", says,
            ((path.straight_first * path.length, "length", ""), (limits.straight_first * path.length, "length", "")),
        )  # fmt: skip
    if path.turned > limits.most_curve + 1e-9:
        says = "{} degrees of curve in all; {} at most: the hose must not pull on the guide from the side"
        yield Warned("bend-much", says, ((path.turned, "count", "whole"), (limits.most_curve, "count", "whole")))

"""What the answers of a gate will be judged by, told before its first question: what is planned, and what limits it.

The rules of this file: it tells what `limits.py` judges by, and judges nothing. What is not planned is said to be so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, tzinfo
from typing import NamedTuple

from reelcare.core import units
from reelcare.core.checks.clearance import planned_finish
from reelcare.core.checks.limits import limit_text
from reelcare.core.checks.verdict import Walk
from reelcare.core.text import _, localized

PULL_OUT = {"metric": ("4.8 km/h", "1.6 km/h", "15 m"), "us": ("3 mph", "1 mph", "50 ft")}
"""Fastest pull-out of a hose, fastest over its last stretch, and the length of that stretch (common practice, no
source)."""


class JudgedBy(NamedTuple):
    """One line: what it is, what is planned ('' where nothing is), and what limits it ('' where nothing does)."""

    label: str
    planned: str
    limit: str = ""


def judged_by(
    walk: Walk, wishes: Mapping[str, str], system: units.System, zone: tzinfo, now: datetime
) -> list[JudgedBy]:
    """What the walk is held to, in a person's units; `wishes` are those of the set that is kept, as typed."""
    return [*_lines(walk, wishes, system), _finish(walk, zone, now)]


def _lines(walk: Walk, wishes: Mapping[str, str], system: units.System) -> Iterator[JudgedBy]:
    card, planned = walk.card, walk.newest_plan
    most, slow, last = (localized(one) for one in PULL_OUT[system])
    speeds = _("{most} at most; last {last}: {slow}", most=most, last=last, slow=slow)
    if card.hose.length is not None:
        hose = _("hose has {length}", length=units.show(card.hose.length, "length", system))
        speeds = f"{hose}; {speeds}"
    yield JudgedBy(_("pull-out"), _shown(planned.get("pull_out"), "length", system), speeds)
    yield JudgedBy(_("coils left"), localized(planned.get("coils_left", "")), _limit(walk, "coils", system))
    if card.has("cart.gun"):
        yield JudgedBy(_("nozzle, arc"), _nozzle(walk, wishes, system))
    if card.has("not drive.engine") or "gear" in wishes:
        yield JudgedBy(_("gear"), wishes.get("gear", ""))
    yield JudgedBy(_("hydrant"), wishes.get("hydrant", ""))
    if strongest := wishes.get("wind_limit"):
        yield JudgedBy(_("wind"), "", _("at most {limit}", limit=_shown(strongest, "speed", system, "wind")))
    inlet = _limit(walk, "inlet", system)
    yield JudgedBy(_("inlet pressure"), _shown(planned.get("inlet_pressure"), "pressure", system), inlet)
    if card.has("not drive.engine"):
        loss = _shown(wishes.get("drive_loss"), "pressure", system, "drive loss")
        yield JudgedBy(_("drive loss"), loss, _limit(walk, "drive-loss", system))
    speed = _shown(planned.get("planned_speed"), "speed", system, "travel speed")
    yield JudgedBy(_("speed"), speed, _limit(walk, "speed", system))


def _finish(walk: Walk, zone: tzinfo, now: datetime) -> JudgedBy:
    """When the run ends by the set, and whether that was past before the water was on: the set was planned for another
    run."""
    finish = planned_finish(walk.newest_plan.get("finish", ""), zone)
    opened = next((one.at for one in walk.signed if one.gate == "water"), now)
    is_past = finish is not None and finish <= min(opened, now)
    says = f"{finish:%Y-%m-%d %H:%M}" if finish else ""
    return JudgedBy(_("finish"), says, _("past: the set was planned for another run") if is_past else "")


def _nozzle(walk: Walk, wishes: Mapping[str, str], system: units.System) -> str:
    """Bore and sector: as wished for the set, else as the card has them."""
    cart = walk.card.cart
    bore = _shown(wishes.get("nozzle"), "length", system, "bore")
    if not bore and cart.nozzle is not None:
        bore = units.show(cart.nozzle, "length", system, role="bore")
    arc = localized(wishes.get("arc") or ("" if cart.arc is None else f"{cart.arc:g}"))
    return ", ".join(one for one in (bore, _("{arc} degrees", arc=arc) if arc else "") if one)


def _limit(walk: Walk, question: str, system: units.System) -> str:
    """The limits of a question of the sheet, as far as they are known; '' where it is not asked."""
    asked = walk.sheet.question(question)
    if asked is None:
        return ""
    return limit_text(asked, walk.card, walk.newest_plan, unit=asked.unit(system))


def _shown(text: str | None, quantity: units.Quantity, system: units.System, role: str = "") -> str:
    """A value that was kept with its unit, in a person's units; as it was typed where it has none."""
    if not text:
        return ""
    try:
        return units.show(units.read(text, quantity), quantity, system, role=role)
    except units.UnitsError:
        return text

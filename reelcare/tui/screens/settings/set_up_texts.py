"""What is told of a set that is worked out: short lines, values that were not typed, warnings."""

from __future__ import annotations

from collections.abc import Iterator

from textual.content import Content

from reelcare.core import units
from reelcare.core.machine.card_words import in_words
from reelcare.core.settings.fields import BY_KEY
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.settings.sheet_words import coils_text, figure_text, verdict
from reelcare.core.settings.warning_codes import CODES, no_more_than
from reelcare.core.text import _
from reelcare.core.wording import day_and_time
from reelcare.tui.text import join, said

MOST_NOTES = 4


def short(setting: Setting, system: units.System, *, drawn: bool = True) -> Iterator[tuple[str, str]]:
    """What comes of a set, in a few words each; the coils as well where the drum is not `drawn`."""

    def show(value: float, quantity: units.Quantity, role: str = "") -> str:
        return units.show(value, quantity, system, role=role)

    if setting.run_time is not None:
        done = "" if setting.finish is None else _(", done {when}", when=day_and_time(setting.finish))
        yield _("run"), f"{show(setting.run_time, 'duration')}{done}"
    if setting.metres_left is not None and setting.coils_left is None:
        yield _("drum"), _("{metres} stay on it", metres=show(setting.metres_left, "length"))
    if setting.coils_left is not None and not drawn:
        yield _("drum"), _("{coils} coils stay on it", coils=coils_text(setting))
    if setting.spread is not None:
        left, bare = 100 * setting.spread.left, 100 * setting.spread.bare
        yield _("spread"), _("{left:.0f} % of speed ({bare:.0f} % bare)", left=left, bare=bare)
    if setting.left_alone is not None and len(setting.layers) > 1:
        told = [
            _("{speed} from {metres}", speed=show(one.speed, "speed"), metres=show(one.begins, "length"))
            for one in setting.layers
            if one.speed is not None
        ]
        yield _("set"), ", ".join(told)
    if setting.widest is not None and setting.radius is not None:
        widest = no_more_than(setting.widest.tapered, "length", system)
        yield _("throw"), _("{throw}; lanes {most} at most", throw=show(setting.radius, "length"), most=widest)
    if setting.rate is not None:
        yield _("rate"), show(setting.rate, "speed", "rate")
    if setting.net is not None:
        low, high = (show(one, "length", "depth") for one in (setting.net.low, setting.net.high))
        likely = show(setting.net.likely, "length", "depth")
        yield _("net"), _("{likely} ({low} to {high})", likely=likely, low=low, high=high)
    if setting.area is not None and setting.water_used is not None:
        energy = "" if setting.energy is None else f", {setting.energy / units.KWH:.0f} kWh"
        yield _("field"), f"{show(setting.area, 'area')}, {show(setting.water_used, 'volume')}{energy}"


def verdict_lines(setting: Setting) -> list[Content]:
    """Whether the set holds, and beside it what is over at worst."""
    if setting.holds is None:
        return [said(verdict(setting), "$text-muted")]
    if not setting.holds:
        return [join(("✗ ", "bold $text-error"), (verdict(setting), "bold $text-error"))]
    return [join(("○ ", "bold $text-success"), (verdict(setting), ""))]


def worked_out(setting: Setting, system: units.System) -> dict[str, str]:
    """What stands faint in each line that was not typed."""
    place = setting.at_pull_out
    found: dict[str, float | None] = {
        "depth": setting.depth,
        "speed": setting.speed,
        "flow": setting.flow,
        "nozzle": setting.nozzle,
        "gun_pressure": place.gun if place is not None else None,
        "inlet": place.inlet if place is not None else None,
        "drive_loss": place.drive_loss if place is not None else None,
    }
    told = {}
    for key, value in found.items():
        field = BY_KEY[key]
        assert field.quantity is not None
        told[key] = "" if value is None else units.show(value, field.quantity, system, role=field.role)
    return told


def warnings(setting: Setting, system: units.System, room: int) -> list[Content]:
    """What is warned of, `room` in full and the rest by name; without any, what is not known and what was taken."""
    if setting.warnings:
        told = [join(("✗ ", "bold $text-error"), (one.text(system), "$text-error")) for one in setting.warnings[:room]]
        rest = "; ".join(_(CODES[one.code].means) for one in setting.warnings[room:])
        return told + ([join(("✗ ", "bold $text-error"), (rest, "$text-error"))] if rest else [])
    notes = [
        _("not known: {what} (needs {needs})", what=_(one.what), needs=in_words(one.needs)) for one in setting.unknown
    ]
    taken = [f"{one.what} {figure_text(one.figure, system)}" for one in setting.taken]
    notes += [_("taken: {taken}", taken=", ".join(taken))] if taken else []
    return [said(one, "$text-muted") for one in notes][:MOST_NOTES]

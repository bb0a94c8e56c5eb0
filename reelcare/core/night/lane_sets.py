"""What a machine needs for each lane: from its card and the set that was kept for it last, by the settings core.

The rules of this file: length, spacing, rise and what the hydrant gives are the lane's, everything else is as in the
kept set. What cannot be says so with what would. Lanes that are alike are worked out once.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reelcare.core import units
from reelcare.core.machine.card import Card
from reelcare.core.night.field import Lane
from reelcare.core.night.plan import LaneSet
from reelcare.core.settings.set_limits import SetLimits
from reelcare.core.settings.set_request import WishError, Wishes
from reelcare.core.settings.setting import work_out
from reelcare.core.settings.settings_sheet import Setting
from reelcare.core.text import _

Alike = tuple[float | None, ...]


@dataclass(slots=True)
class LaneSets:
    """The sets of one machine; `wishes` None says that no set was kept."""

    card: Card
    wishes: Wishes | None
    limits: SetLimits
    system: units.System = "metric"
    known: dict[Alike, LaneSet] = field(default_factory=dict)

    def __call__(self, lane: Lane) -> LaneSet:
        """The set of a lane, or why it cannot be."""
        key = lane.length, lane.spacing, lane.rise, lane.flow, lane.inlet
        if key not in self.known:
            self.known[key] = self._worked_out(lane)
        return self.known[key]

    def as_kept(self) -> LaneSet:
        """The set as it was kept, whatever its lane; nothing where there is none, or it cannot be."""
        if self.wishes is None:
            return LaneSet()
        try:
            return self._of(work_out(self.card, self.wishes, self.limits))
        except WishError as why:
            return self._cannot(str(why))

    def _worked_out(self, lane: Lane) -> LaneSet:
        tag, hose = self.card.tag, self.card.hose.length
        if hose is not None and lane.length > hose:
            return LaneSet(cannot=_(
                "{length} long, and the hose of {tag} is {hose}: at most {hose}, or a machine with a longer hose",
                length=self._length(lane.length), tag=tag, hose=self._length(hose),
            ))  # fmt: skip
        if self.wishes is None:
            return LaneSet(cannot=_(
                "no set was kept for {tag}, so its depth and flow are not known: `reelcare set-up {tag} ... --keep`",
                tag=tag,
            ))  # fmt: skip
        try:
            setting = work_out(self.card, wishes_on(self.wishes, lane), self.limits)
        except WishError as why:
            return self._cannot(str(why))
        return self._of(setting)

    def _of(self, setting: Setting) -> LaneSet:
        tag, wrong = self.card.tag, setting.cannot_be
        if wrong is not None:
            return self._cannot(wrong.text(self.system))
        if setting.flow is None or not setting.flow > 0:
            return LaneSet(cannot=_(
                "the hydrant has no flow for {tag}: say `flow` or `inlet` of the lane, or keep a set that has flow, or "
                "nozzle and gun pressure", tag=tag,
            ))  # fmt: skip
        if setting.run_time is None:
            needs = "; ".join(dict.fromkeys(f"{_(one.what)}: {one.needs}" for one in setting.unknown))
            return LaneSet(cannot=_("the run time with {tag} is not known ({needs})", tag=tag, needs=needs))
        stands = round(setting.wishes.dwell_start + setting.wishes.dwell_end)
        return LaneSet(round(setting.run_time), setting.water_used or 0.0, setting.energy, dwell=stands)

    def _cannot(self, why: str) -> LaneSet:
        return LaneSet(cannot=_("with {tag}: {why}", tag=self.card.tag, why=why), why=why)

    def _length(self, value: float) -> str:
        return units.show(value, "length", self.system)


def wishes_on(wishes: Wishes, lane: Lane) -> Wishes:
    """What was wished of the kept set, on a lane."""
    changed = replace(
        wishes, out=lane.length, spacing=lane.spacing if lane.spacing is not None else wishes.spacing,
        rise=lane.rise if lane.rise is not None else wishes.rise, hydrant=str(lane.hydrant), start=None, until=None,
        bends=(), timing_check=False,
    )  # fmt: skip
    if lane.flow is not None:
        changed = replace(changed, flow=lane.flow)
    return changed if lane.inlet is None else replace(changed, inlet=lane.inlet)

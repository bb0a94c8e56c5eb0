"""The one judge of a machine's standing: clear, check due or held, for a run and for the road.

The rules of this file: nothing else in the program decides whether a machine may run, and nobody can set it. It judges
from `Limits`, at a moment that is given. An open hold, a fix-by that has lapsed and a stop item past its grace outrank
every check; a passed check clears the machine for one run or one move only, and lapses after a time. `judge` gives
words and codes for thousands of machines; `worded` puts the reasons of a machine that is shown into words, and judges
nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date, datetime, tzinfo
from typing import Literal, NamedTuple

from reelcare.core import units
from reelcare.core.checks.clearance import (
    Clearance,
    clearance,
    clearance_text,
    gate_now,
    in_force,
    is_running,
    planned_end,
)
from reelcare.core.checks.sheet import OWNERS, Owner
from reelcare.core.parts import FOR_THE_ROAD
from reelcare.core.scales import WHOLE, Threshold, why
from reelcare.core.service.due import State, standing_of
from reelcare.core.service.plan import Plan
from reelcare.core.state.limits import Limits
from reelcare.core.state.machine_state import ENDS_BY, SIDES, OpenFault, Side
from reelcare.core.text import _
from reelcare.core.timestamps import day_of
from reelcare.core.wording import count_text

Word = Literal["clear", "check due", "held"]
Code = Literal["fault", "fix-by", "past grace", "check does it", "unknown", "retired"] | Clearance
HOLDING: tuple[Code, ...] = ("fault", "fix-by", "past grace", "retired")
"""The codes of what holds."""
RANK: dict[Word, int] = {"held": 0, "check due": 1, "clear": 2}
"""The standings in the order of the yard."""


class Reason(NamedTuple):
    """Why a machine stands as it does: a code, and what it comes from.

    `by` and `left` are the scale of an item past its grace and how far it is past (negative, in h, m, runs or days).
    `says` is empty until it is `worded`.
    """

    code: Code
    side: Literal["run", "road", "both"]
    fault: str = ""
    item: str = ""
    by: str = ""
    left: float = 0.0
    says: str = ""
    owner: Owner = "machine"
    items: tuple[str, ...] = ()
    """The stop items of which nobody knows when they were done, where the code is *unknown*."""


class Standing(NamedTuple):
    """What a machine may do now, with every reason, holds first."""

    run: Word
    road: Word
    because: tuple[Reason, ...]
    gate: str = ""

    @property
    def held_sides(self) -> tuple[Side, ...]:
        """The sides for which it is held."""
        sides: tuple[tuple[Side, Word], ...] = (("run", self.run), ("road", self.road))
        return tuple(side for side, word in sides if word == "held")

    @property
    def held_as(self) -> Owner | None:
        """Whose the hold of the run is, or of the road where only that is held: the hardest to end; None where nothing
        holds."""
        held = self.held_sides[:1]
        owners = {one.owner for one in self.because if one.code in HOLDING and one.side in (*held, "both")}
        return next((one for one in OWNERS if one in owners), None) if held else None

    @property
    def worst(self) -> Word:
        """The word of the yard: held before check due before clear, of the run."""
        return "held" if "held" in (self.run, self.road) else self.run

    @property
    def held_for(self) -> str:
        """What it is held for and why, to be read after 'held', wherever it is told how the parts stand; '' where it
        is not held: positions that agree are no leave to run or to tow it.
        """
        if not self.held_sides:
            return ""
        held = _(" and ").join({"run": _("a run"), "road": _("the road")}[one] for one in self.held_sides)
        why = "; ".join(one.says for one in self.because if one.side in (*self.held_sides, "both"))
        return _("for {held}, however its parts stand: {why}", held=held, why=why)


class Judged(NamedTuple):
    """How a machine stands at a moment, and what comes first of its plan: the item ('' for none) with the greatest used
    fraction of its interval (0 for none), and how that item stands."""

    standing: Standing
    item: str
    used: float
    state: State
    words: frozenset[str] = frozenset()
    """What is true of it beside its standing: "overdue", "unknown" (of services), "fix-by" (a fault that may wait),
    "running" (left running, or its water on for long enough that it should have been looked at), "late home" (past the
    planned finish of its run), "open check" (begun on a day before and not ended)."""
    by: str = ""
    left: float = 0.0
    """What is left of the item, by its scale [h, m, runs, days]."""

    @property
    def band(self) -> str:
        """The band of the yard that it stands in: its word, or *running*."""
        word = self.standing.worst
        return "running" if word == "clear" and "running" in self.words else word

    @property
    def is_quiet(self) -> bool:
        """Whether there is nothing to say of it beside its word: nothing overdue, due, unknown or left open."""
        return self.band in ("check due", "clear") and not self.words and self.state in ("ok", "soon")

    def order(self, tag: str) -> tuple[int, float, str]:
        """Its place in the yard: holds first, then what is due soonest, then by tag."""
        return (RANK[self.standing.worst], -self.used, tag)


ORDINARY = (
    ("held", "held"), ("overdue", "late home"), ("overdue", "overdue"), ("unknown", "unknown"), ("due", "fix-by"),
    ("due", "open check"),
)  # fmt: skip
"""What is out of the ordinary, worst first: the state whose sign it has, and the word of `Judged` (or its standing)."""


def state_counts(machines: Iterable[Judged]) -> list[tuple[str, int, str]]:
    """How many machines are held, late, and so on, as (state, how many, that in words): each machine under each word
    that is true of it."""
    found = Counter[str]()
    for one in machines:
        found.update(one.words)
        found["held"] += one.standing.worst == "held"
    return [(state, found[word], count_text(word, found[word])) for state, word in ORDINARY]


def judge(limits: Limits, now: datetime, zone: tzinfo) -> Judged:
    """How a machine stands now, with codes for reasons; days are those of a zone.

    The next item is told of only where that is news: what a check asks before every run anyway is so once overdue.
    """
    point = limits.point(day_of(now, zone))
    here = point.by_scale
    worst: tuple[str, State, Threshold] | None = None
    most = 0.0
    unasked: list[Reason] = []
    unknown: list[str] = []
    listed = _of_faults(limits, point.day)
    past: list[tuple[float, str, Reason]] = []
    for id, part, stop, each_time, done, thresholds in limits.items:
        state, by, used = standing_of(thresholds, here, is_done=done is not None, known=limits.known)
        if each_time and state != "overdue":
            continue  # the check before every run asks it anyway
        if worst is None or used > most or (used == most and id < worst[0]):
            worst, most = (id, state, by), used
        if state == "unknown":
            listed.add(state)
            if stop:
                unknown.append(id)
        elif state == "overdue":
            listed.add(state)
            if stop and each_time:  # the check itself does it, so it is no hold
                unasked.append(_past_grace(id, part, by, here[by[0]])._replace(code="check does it", side="run"))
            elif stop:
                past.append((-used, id, _past_grace(id, part, by, here[by[0]])))
    reasons = list(_holding(limits, now, zone))
    reasons += [one[2] for one in sorted(past, key=lambda one: one[:2])]
    words = _words(limits, reasons, unasked, now)
    if unknown:
        reasons.append(Reason("unknown", "run", items=tuple(unknown)))
    gate = gate_now(limits.passed.get("run"), now)
    standing = Standing(words["run"], words["road"], tuple(reasons), gate)
    listed |= _unfinished(limits, gate, now, zone)
    if worst is None:
        return Judged(standing, "", most, "ok", frozenset(listed))
    item, state, (scale, _base, limit, _late) = worst
    return Judged(standing, item, most, state, frozenset(listed), scale, (limit - here[scale]) / WHOLE[scale])


def _words(limits: Limits, reasons: list[Reason], unasked: list[Reason], now: datetime) -> dict[Side, Word]:
    """How it stands for each side; what its checks say of that is added to the reasons."""
    words: dict[Side, Word] = {}
    for side in SIDES:
        if any(one.side in (side, "both") for one in reasons if one.code in HOLDING):
            words[side] = "held"
            continue
        code = clearance(limits.passed.get(side), now)
        words[side] = "clear" if code == "passed" else "check due"
        reasons.append(Reason(code, side))
        if side == "run" and unasked:
            words[side] = "check due"
            reasons += unasked
    return words


def _unfinished(limits: Limits, gate: str, now: datetime, zone: tzinfo) -> set[str]:
    """What has not ended yet: the run at hand, and whether it should have; checks that were begun on a day before."""
    found = {"late home", "running"} if _late_home(limits, gate, now, zone) else set()
    passed = in_force(limits.passed.get("run"), now)
    if gate == "running" or (passed is not None and gate == "water" and is_running(passed, now)):
        found.add("running")
    if any(day_of(one, zone) < day_of(now, zone) for one in limits.begun):
        found.add("open check")
    return found


def _late_home(limits: Limits, gate: str, now: datetime, zone: tzinfo) -> bool:
    """Whether the run at hand should have ended by its plan."""
    passed = limits.passed.get("run")
    if passed is None or gate not in ("water", "running"):
        return False
    until = planned_end(passed, zone)
    return until is not None and now > until


def _of_faults(limits: Limits, today: date) -> set[str]:
    """What the open faults bring into the work list beside what holds."""
    found = set()
    for fault in limits.faults:
        if fault.is_overdue(limits.totals, today):
            found.add("overdue")
        elif not fault.holds and not fault.lapsed(limits.totals, today) and fault.left(limits.totals, today):
            found.add("fix-by")
    return found


def _past_grace(id: str, part: str, by: Threshold, here: int) -> Reason:
    scale, _base, limit, _late = by
    return Reason("past grace", "road" if part in FOR_THE_ROAD else "run", item=id, by=scale,
                  left=(limit - here) / WHOLE[scale])  # fmt: skip


def _holding(limits: Limits, now: datetime, zone: tzinfo) -> Iterator[Reason]:
    if limits.retired is not None:
        yield Reason("retired", "both")
    for fault in limits.faults:
        if fault.holds:
            yield Reason("fault", fault.holds, fault.id, owner=fault.owner or "machine")
        elif fault.lapsed(limits.totals, day_of(now, zone)):
            yield Reason("fix-by", "both", fault.id)


def worded(
    standing: Standing,
    limits: Limits,
    plan: Plan,
    zone: tzinfo,
    now: datetime,
    *,
    language: str = "en",
    system: units.System = "metric",
) -> Standing:
    """A standing with its reasons in words, in a language and units; days are those of a zone. It judges nothing."""
    faults = {one.id: one for one in limits.faults}
    because = []
    for one in standing.because:
        if one.fault:
            says = _fault_text(faults[one.fault], one.code)
        elif one.code == "retired" and limits.retired is not None:
            day = day_of(limits.retired.at, zone)
            says = _("left the yard on {day}: {why}", day=day, why=limits.retired.why)
        elif one.code in ("past grace", "check does it"):
            item = plan.item(one.item)
            says = f"{item.title(language) if item is not None else one.item}: {why(one.by, one.left, system)}"
        elif one.code == "unknown":
            items = [item.title(language).short for id in one.items if (item := plan.item(id)) is not None]
            says = _("never done, as far as is known: {items}", items="; ".join(items))
        else:
            says = clearance_text(one.code, one.side, limits.passed.get(one.side), zone, now)  # type: ignore[arg-type]
        because.append(one._replace(says=says))
    return standing._replace(because=tuple(because))


def _fault_text(fault: OpenFault, code: Code) -> str:
    if code == "fix-by":
        return _("{fault} (fix-by limit reached)", fault=fault.of_part)
    if fault.owner and fault.status == "open":
        return f"{fault.of_part} ({_(fault.owner)}: {_(ENDS_BY[fault.owner])})"
    stage = {
        "open": _("to be repaired"),
        "repaired": _("repaired, to be tested again") if fault.retest else _("repaired, to be released"),
        "re-tested": _("tested again, to be released"),
    }[fault.status]
    return f"{fault.of_part} ({stage})"

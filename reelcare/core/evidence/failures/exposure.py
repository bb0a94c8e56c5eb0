"""What entries tell of a part's failures: at which age of each machine, and how long after it was last renewed.

The rules of this file: age is the machine's life total when it happened, in hours (or metres); a failure is a fault on
the part, an event that ends its working (EN 13306): a hold of the place, of an adjustment or of the weather is one only
where the part had to be repaired. A service or a repair of the part renews it; what has not failed when it is serviced,
or now, is right-censored. A fault while one is open already is the same failure. A machine that came with hours was not
watched before: what had failed by then is no failure of the watch, and how old its parts were is not known, so their
first lives are left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal, NamedTuple

from reelcare.core import entries as e
from reelcare.core.evidence.failures.counts import System
from reelcare.core.fold import in_turn
from reelcare.core.scales import ScalePoint
from reelcare.core.state import counters as counting
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.plans import Known
from reelcare.core.timestamps import day_of

Unit = Literal["hours", "metres"]


@dataclass(frozen=True, slots=True)
class Life:
    """One life of a part: how long it lasted since it was renewed, and whether it ended by a failure."""

    time: float
    failed: bool


@dataclass(frozen=True, slots=True)
class Exposure:
    """One machine's part: its ages at failure with the age watched (None: it has not worked), and its lives.

    `before` is what of that age the machine must have had behind it when it came here: its card says so (`[in_use]`),
    or its first reading showed so much more than the clock allows since. So many failures were `found` with it then.
    """

    system: System | None
    lives: tuple[Life, ...]
    before: float = 0.0
    found: int = 0

    def scaled(self, by: float) -> Exposure:
        """The same with all ages and times in a unit of which so many make one of those that they are in."""
        one = self.system
        system = one and System(tuple(age * by for age in one.failures), one.watched * by, one.since * by)
        lives = tuple(Life(life.time * by, life.failed) for life in self.lives)
        return Exposure(system, lives, self.before * by, self.found)


class _Span(NamedTuple):
    """One life of a part, by the ages of its machine."""

    begins: float
    ends: float
    failed: bool
    is_known: bool


@dataclass(slots=True)
class _Part:
    """One part, while the entries of its machine are gone through."""

    failed: list[float] = field(default_factory=list)
    lives: list[_Span] = field(default_factory=list)
    renewed: float = 0.0
    is_known: bool = False
    down: set[str] = field(default_factory=set)
    in_doubt: dict[str, float] = field(default_factory=dict)
    """Faults that a right answer may end, with the ages at which they were seen."""

    def end(self, age: float, *, failed: bool) -> None:
        self.lives.append(_Span(self.renewed, age, failed, self.is_known))

    def fail(self, fault: str, age: float) -> None:
        if not self.down:
            self.end(age, failed=True)
            self.failed.append(age)
            self.renewed = age
        self.down.add(fault)

    def repair(self, fault: str, age: float) -> None:
        if fault in self.in_doubt:
            self.fail(fault, self.in_doubt.pop(fault))
        self.down.discard(fault)
        self.renew(age)

    def renew(self, age: float, *, is_known: bool = True) -> None:
        self.renewed, self.is_known = age, is_known

    def move(self, moved: Callable[[float], float]) -> None:
        """What was taken for an age turned out to be another."""
        self.failed = [moved(age) for age in self.failed]
        self.lives = [one._replace(begins=moved(one.begins), ends=moved(one.ends)) for one in self.lives]
        self.renewed = moved(self.renewed)
        self.in_doubt = {fault: moved(age) for fault, age in self.in_doubt.items()}


def exposures(
    machine: str, entries: Iterable[e.Entry], known: Known, parts: Iterable[str], unit: Unit = "hours"
) -> dict[str, Exposure]:
    """The exposure of each part of one machine, from all its effective entries."""
    seen = {part: _Part() for part in parts}
    by_fault: dict[str, _Part] = {}
    began: date | None = None  # the first day of which anything but an earlier service is told
    state: FoldState | None = None
    age = read = before = brought = 0.0
    was_carded = was_read = False
    for one, state in in_turn(machine, entries, known):
        age, read = _settled(seen.values(), age, _in_unit(state.totals, unit), read, brought, was_read=was_read)
        what, brought = one.what, 0.0
        was_read = isinstance(what, e.Reading) and what.counter == unit
        was_carded = was_carded or isinstance(what, e.Carded)
        if not isinstance(what, e.Service):
            began = began or day_of(one.happened, known.zone)
        if isinstance(what, e.Fault) and what.part in seen and _is_failure(what):
            by_fault[one.id] = seen[what.part]
            if what.owner:
                seen[what.part].in_doubt[one.id] = age
            else:
                seen[what.part].fail(one.id, age)
        elif isinstance(what, e.Service):
            told = what.life / 3600 if what.life is not None and unit == "hours" else age
            items = known.plans.at(machine, one.happened).with_covered(what.item)
            _serviced([seen[part] for part in {item.part for item in items} & seen.keys()], told,
                      is_known=what.life is None and was_carded)  # fmt: skip
        elif isinstance(what, e.Repair) and what.fault in by_fault:
            by_fault[what.fault].repair(what.fault, age)
        elif isinstance(what, e.Retest) and not what.passed and what.fault in by_fault:
            by_fault[what.fault].down.add(what.fault)  # it was not mended
        elif isinstance(what, e.Reading) and began is not None:
            brought = _brought(what, one.happened, state, began, unit)
            before = max(before, brought)
    if state is None:
        return {part: Exposure(None, ()) for part in seen}
    age, _ = _settled(seen.values(), age, _in_unit(state.totals, unit), read, brought, was_read=was_read)
    before = max(before, _in_unit(state.start, unit))  # when it came, by its card
    return {name: _exposure(part, age, before) for name, part in seen.items()}


def _serviced(parts: Iterable[_Part], age: float, *, is_known: bool) -> None:
    """These parts were renewed, but for those that are down: their repair is what renews them."""
    for part in parts:
        if not part.down:
            part.end(age, failed=False)
            part.renew(age, is_known=is_known)


def _settled(
    parts: Iterable[_Part], last: float, age: float, read: float, brought: float, *, was_read: bool
) -> tuple[float, float]:
    """The age now, and that at the last reading, where it was `last` a moment ago.

    A reading may show less than the runs since the one before it came to: then what happened since happened so much
    earlier. A first one may show that the machine came with hours: then all that happened did so with them.
    """
    if age < last:
        least = min(read, age)
        for part in parts:
            part.move(lambda one: one if one <= least else least + (one - least) * (age - least) / (last - least))
    elif brought:
        for part in parts:
            part.move(lambda one: one + age - last)
    return age, age if was_read else read


def _exposure(part: _Part, age: float, before: float) -> Exposure:
    """What one part tells of a machine of this age, of which so much is from before it came."""
    if not part.down:
        part.end(age, failed=False)
    failed = [one for one in sorted(part.failed) if one > before]
    lives = tuple(
        Life(one.ends - one.begins, one.failed)
        for one in part.lives
        if one.ends > one.begins and (one.is_known or not before)
    )
    system = System(tuple(failed), age, before) if age > before else None
    return Exposure(system, lives, before, len(part.failed) - len(failed))


def _brought(what: e.Reading, at: datetime, state: FoldState, began: date, unit: Unit) -> float:
    """How much more a counter's first reading shows than the machine can have done since its first entry here: what it
    did before that, nobody watched, whatever day its card says."""
    count = state.counters.hours if unit == "hours" else state.counters.metres
    if what.counter != unit or what.change or count.shown is not None:
        return 0.0
    # a day may begin up to one earlier in another zone
    hours = (at - datetime.combine(began, time(), UTC) + timedelta(days=1)).total_seconds() / 3600
    shown, most = (what.value / 3600, hours) if unit == "hours" else (what.value / 1000, hours * counting.FASTEST)
    return max(0.0, shown - most)


def _is_failure(what: e.Fault) -> bool:
    """A fault that holds or must be fixed; a note is none."""
    limits = (what.fix_by_seconds, what.fix_by_millimetres, what.fix_by_runs, what.fix_by_day)
    return bool(what.holds) or any(limit not in (None, "") for limit in limits)


def _in_unit(totals: counting.Totals | ScalePoint, unit: Unit) -> float:
    return totals.seconds / 3600 if unit == "hours" else totals.millimetres / 1000

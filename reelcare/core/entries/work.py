"""Services, figures measured, and sets planned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Literal

from reelcare.core import units
from reelcare.core.entries.base import Context, Entry, Json, Kind, UpdateScope, day_problems
from reelcare.core.scales import counter_then
from reelcare.core.settings import measured_gun as measured
from reelcare.core.state.counters import MOST_HOURS
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import OpenNote
from reelcare.core.state.plans import Known
from reelcare.core.text import _, mark
from reelcare.core.timestamps import day_of
from reelcare.core.wording import nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(Kind):
    """A service done. `item` is the plan's item id; `steps` are the steps ticked off as they were worded. `life` is the
    life total of hours [s] at which it was done, where it is told of from records before the register's own."""

    kind = "service"
    least_role = "mechanic"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    item: str
    title: str = ""
    steps: tuple[str, ...] = ()
    supplies: str = ""
    minutes: int | None = None
    isolated: tuple[str, ...] = ()
    note: str = ""
    life: int | None = None

    def problems(self, context: Context) -> Iterator[str]:
        """Its item is in the plan, and its hours can be."""
        if not self.life_can_be:
            assert self.life is not None
            yield _("life: {hours} h; must be 0 to {most}", hours=self.life // 3600, most=MOST_HOURS // 3600)
        plan = context.plan
        known = [item.id for item in plan.items] if plan is not None else []
        if self.item not in known:
            near = nearest(self.item, known)
            if context.is_in_newest_plan(self.item):
                yield _(
                    "{item}: not an item of the plan that was in force for this machine on {day}: choose one of that "
                    "plan, or give a time since the plan of today{nearest}",
                    item=self.item, day=day_of(context.at, context.zone), nearest=near,
                )  # fmt: skip
            else:
                yield _("{item}: not an item of this machine's plan{nearest}", item=self.item, nearest=near)

    @property
    def life_can_be(self) -> bool:
        """Whether a machine can have done so much."""
        return self.life is None or 0 <= self.life <= MOST_HOURS

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.take_services((self.item,), entry.happened, known, life=self.life)

    def describe(self, system: units.System = "metric") -> str:
        told = (self.title or self.item) + (f": {self.note}" if self.note else "")
        if self.life is None:
            return told
        return _("{told}, at {hours}, on a day that was not told", told=told, hours=counter_then(self.life))


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Kind):
    """A figure measured on a machine (timing check, catch cans, speed against tape and watch), kept as found."""

    kind = "measured"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    about: str
    figures: Mapping[str, Json]
    note: str = ""

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.take_done_by(self.about, entry.happened, known)

    def describe(self, system: units.System = "metric") -> str:
        moment = datetime(1, 1, 1, tzinfo=UTC)
        told = [
            " ".join(measured.tell(name, measured.Figure(float(value), moment, self.about), system))
            for name, value in self.figures.items()
            if isinstance(value, (int, float)) and name in measured.KNOWN
        ]
        return ", ".join([self.about, *told]) + (f": {self.note}" if self.note else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPlanned(Kind):
    """One set planned: what was wished, as typed with units, and what walk-rounds are held to from then on.

    `planned` has the values that sheets name as `set.`; `warnings` are the codes of what was warned of.
    """

    kind = "set-up"
    least_role = "operator"
    reaches = UpdateScope.STATE
    news = "neutral"
    by_person = True
    wishes: Mapping[str, str]
    planned: Mapping[str, str]
    warnings: tuple[str, ...] = ()

    def problems(self, context: Context) -> Iterator[str]:
        from reelcare.core.settings.warning_codes import CODES, refused  # only those who plan or read a set need it

        code = refused(self.warnings)
        if code:
            why = _(CODES[code].means)
            yield _("this set cannot be kept ({why}): change it until it is within its limits", why=why)

    def validate_content(self) -> None:
        from reelcare.core.checks.limit_names import validate_plan  # only what comes from elsewhere needs it

        validate_plan(self.planned)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Open checks are held to it from now on."""
        state.take_set(self.planned, entry.happened)

    def describe(self, system: units.System = "metric") -> str:
        from reelcare.core.settings.warning_codes import CODES

        told = []
        for name, label, quantity in _OF_A_SET:
            if name in self.planned:
                value = units.read(self.planned[name], quantity)
                told.append(_(label, value=units.show(value, quantity, system)))
        told += [_("warned: {what}", what=_(CODES[one].means if one in CODES else one)) for one in self.warnings]
        return _("set planned: {figures}", figures=", ".join(told))


@dataclass(frozen=True, slots=True, kw_only=True)
class Assigned(Kind):
    """A line of the work list given to a person for a day: `item` is the plan's item id or the fault's id, `day` ISO
    text. Without `to` it is nobody's any more."""

    kind = "given"
    least_role = "supervisor"
    reaches = UpdateScope.LIMITS
    news = "neutral"
    by_person = True
    item: str
    to: str = ""
    day: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        known = [item.id for item in context.plan.items] if context.plan is not None else []
        is_fault = context.state is not None and context.state.fault(self.item) is not None
        if self.item not in known and not is_fault:
            says = mark("{item}: neither an item of this machine's plan nor an open fault{nearest}")
            yield _(says, item=self.item, nearest=nearest(self.item, known))
        if self.to and self.to not in context.roles:
            yield _("to: {name} is not enrolled{hint}", name=self.to, hint=nearest(self.to, list(context.roles)))
        if self.to:
            yield from day_problems(_("day"), self.day, context)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.give(self.item, self.to, date.fromisoformat(self.day) if self.day else None)

    def describe(self, system: units.System = "metric") -> str:
        is_fault = len(self.item) == FAULT_ID and self.item.count("-") == 4
        what = _("fault {id}", id=self.item[-8:]) if is_fault else self.item
        if not self.to:
            return _("{what} given to nobody", what=what)
        return _("{what} given to {name} for {day}", what=what, name=self.to, day=self.day)

    def validate_content(self) -> None:
        if self.day:
            date.fromisoformat(self.day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(Kind):
    """A remark on a machine that is no fault: shown to the next person until it is read, or its day (ISO text) has
    passed. A near miss goes to the supervisor's list, and needs no name."""

    kind = "note"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "bad"
    says: str
    until: str = ""
    near_miss: Literal["", "yes"] = ""

    def problems(self, context: Context) -> Iterator[str]:
        if not self.says:
            yield _("says: nothing; say it in a few words")
        if self.until:
            yield from day_problems(_("until"), self.until, context)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.add_note(OpenNote(entry.id, self.says, entry.happened, entry.by, self.until, bool(self.near_miss)))

    def describe(self, system: units.System = "metric") -> str:
        until = _(" (until {day})", day=self.until) if self.until else ""
        return (_("near miss: {says}", says=self.says) if self.near_miss else self.says) + until

    def validate_content(self) -> None:
        if self.until:
            date.fromisoformat(self.until)


def needs_no_name(what: Kind, by: str) -> bool:
    """Whether something is said without a name that may be: a near miss."""
    return not by and isinstance(what, Noted) and bool(what.near_miss)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteRead(Kind):
    """A note was read, and is shown no more. What is for the supervisor stays: that takes `NearMissRead`."""

    kind = "note read"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    looked_up_by = "note"
    note: str

    def problems(self, context: Context) -> Iterator[str]:
        found = _note_of(context, self.note)
        if found is None:
            yield _("{note}: no note of this machine that is to be read", note=self.note)
        elif found.near_miss:
            yield _("{note}: only a supervisor can end a near miss", note=self.note[-8:])

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.end_note(self.note, near_miss=False)

    def describe(self, system: units.System = "metric") -> str:
        return _("read note {id}", id=self.note[-8:])


@dataclass(frozen=True, slots=True, kw_only=True)
class NearMissRead(Kind):
    """A near miss, or a run of a held machine, was read by a supervisor, and is shown no more."""

    kind = "near miss read"
    least_role = "supervisor"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    looked_up_by = "note"
    note: str

    def problems(self, context: Context) -> Iterator[str]:
        found = _note_of(context, self.note)
        if found is None or not found.near_miss:
            yield _("{note}: no near miss of this machine that is to be read", note=self.note)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.end_note(self.note, near_miss=True)

    def describe(self, system: units.System = "metric") -> str:
        return _("read near miss {id}", id=self.note[-8:])


def _note_of(context: Context, id: str) -> OpenNote | None:
    notes = context.state.notes if context.state is not None else ()
    return next((one for one in notes if one.id == id), None)


FAULT_ID = 36
"""Characters of a fault's id."""

_OF_A_SET: tuple[tuple[str, str, units.Quantity], ...] = (
    ("pull_out", mark("out {value}"), "length"),
    ("planned_speed", mark("at {value}"), "speed"),
    ("inlet_pressure", mark("inlet {value}"), "pressure"),
)

KINDS: tuple[type[Kind], ...] = (Service, Measured, SetPlanned, Assigned, Noted, NoteRead, NearMissRead)


def wishes_of(entry: Entry | None) -> Mapping[str, str]:
    """What was wished for a set, as typed; nothing where there is none."""
    return entry.what.wishes if entry is not None and isinstance(entry.what, SetPlanned) else {}


def newest_figures(entries: Iterable[Entry]) -> dict[str, measured.Figure]:
    """The newest of each figure measured, from entries in their order."""
    found: dict[str, measured.Figure] = {}
    for one in entries:
        if isinstance(one.what, Measured):
            for name, value in one.what.figures.items():
                if isinstance(value, (int, float)) and not isinstance(value, bool):
                    found[name] = measured.Figure(float(value), one.happened, one.what.about)
    return found

"""What can happen to a machine, as frozen values.

The rules of this file: everything that is ever written in a register is one of the kinds below, wrapped
in an `Entry` that says which machine, what happened, when it happened, when and on which terminal it was
recorded, and who says so. Entries are only ever added; a wrong one is answered by a `Correction`.

Exact quantities are whole numbers: seconds, millimetres, pascals, millimetres an hour. Times are aware
and in UTC. `to_body` and `from_body` carry a kind to and from plain JSON values (text, whole numbers,
true/false, null, lists, tables), so that what is hashed has one form only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields
from datetime import UTC, datetime
from typing import Any, ClassVar, Literal

type_of_hold = Literal["", "run", "road", "both"]
Counter = Literal["hours", "metres"]
Json = Any
MOST_EXACT = 2**53 - 1
"""The largest whole number that every reader of JSON keeps exact."""


class EntryError(ValueError):
    """An entry that cannot be: the message names the place and what would be right."""


class What:
    """One kind of thing that happens. Sub-classes are frozen dataclasses of plain fields."""

    kind: ClassVar[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Carded(What):
    """A machine added, or its card revised; `card` is the card file's content as `card.read_card` takes it."""

    kind: ClassVar[str] = "card"
    card: Mapping[str, Json]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned(What):
    """A service plan put in force, for one machine or (machine None) for all without one of their own."""

    kind: ClassVar[str] = "plan"
    plan: Mapping[str, Json]


@dataclass(frozen=True, slots=True, kw_only=True)
class Enrolled(What):
    """A person enrolled, or given another role."""

    kind: ClassVar[str] = "person"
    name: str
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(What):
    """A counter read: seconds for hours, millimetres for metres.

    `change` is empty for a plain reading, "new counter" when the old one was replaced (the value is what the
    new one shows), "rolled over" when it passed its last digit (`rolls_at` is the value at which it does).
    """

    kind: ClassVar[str] = "reading"
    counter: Counter
    value: int
    change: Literal["", "new counter", "rolled over"] = ""
    rolls_at: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run(What):
    """One pull-out and retrieve. `happened` of its entry is `ended`.

    metres [mm], planned_speed [mm/h], pressures [Pa]; `stopped_by` is "end stop", "operator" or "fault".
    """

    kind: ClassVar[str] = "run"
    started: datetime
    ended: datetime
    metres: int
    planned_speed: int | None = None
    inlet: int | None = None
    gun: int | None = None
    drive_loss: int | None = None
    operator: str = ""
    place: str = ""
    stopped_by: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheeted(What):
    """A sheet as it was when it was first asked here (`sheet.to_plain`); checks name it, so that none repeats it."""

    kind: ClassVar[str] = "sheet"
    sheet: Mapping[str, Json]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckBegun(What):
    """A walk-round begun, on the sheet that the entry `sheet` keeps.

    `left_out` are the questions that the card says do not apply; `planned` are the values of the day's set that
    answers are judged against; `again_of` is the check of the first run on the same set, where this one asks
    only what can have changed since.
    """

    kind: ClassVar[str] = "check begun"
    sheet: str
    sheet_id: str
    checks_for: str
    language: str = "en"
    left_out: tuple[str, ...] = ()
    planned: Mapping[str, str] = field(default_factory=dict)
    again_of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered(What):
    """One question answered. `seen` is what was seen (a choice's id, or the reading as typed, with its unit)."""

    kind: ClassVar[str] = "answer"
    check: str
    question: str
    seen: str
    judged: Literal["right", "wrong", "noted"]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckEnded(What):
    """A walk-round ended: `verdict` is "passed" (signed as complete), "held", or "left" (given up, with `why`)."""

    kind: ClassVar[str] = "check ended"
    check: str
    verdict: Literal["passed", "held", "left"]
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(What):
    """A service done. `item` is the plan's item id; `steps` are the steps ticked off as they were worded."""

    kind: ClassVar[str] = "service"
    item: str
    title: str = ""
    steps: tuple[str, ...] = ()
    supplies: str = ""
    minutes: int | None = None
    isolated: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault(What):
    """A fault (the state). It holds the machine at once, or must be ended by a limit and holds from then on.

    `holds` is what it holds now; `fix_by_*` are life totals (seconds, millimetres, runs) or a day (ISO text) at
    which it begins to hold both. `retest` says what must be tried again before a release.
    """

    kind: ClassVar[str] = "fault"
    part: str
    says: str
    holds: type_of_hold = ""
    fix_by_seconds: int | None = None
    fix_by_millimetres: int | None = None
    fix_by_runs: int | None = None
    fix_by_day: str | None = None
    check: str = ""
    question: str = ""
    retest: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair(What):
    """Work done on a fault. The fault stays until its re-test has passed and somebody has released it."""

    kind: ClassVar[str] = "repair"
    fault: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Retest(What):
    """The named re-test of a repaired fault, with what was seen."""

    kind: ClassVar[str] = "re-test"
    fault: str
    passed: bool
    seen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Release(What):
    """The end of a fault, signed by somebody who may release."""

    kind: ClassVar[str] = "release"
    fault: str
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction(What):
    """An earlier entry taken back, with the reason. Both stay visible; only what follows from it changes."""

    kind: ClassVar[str] = "correction"
    entry: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(What):
    """A figure measured on a machine (timing check, catch cans, speed against tape and watch), kept as found."""

    kind: ClassVar[str] = "measured"
    about: str
    figures: Mapping[str, Json]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPlanned(What):
    """One set planned: what was wished, as typed with units, and what walk-rounds are held to from then on.

    `planned` has the values that sheets name as `set.`; `warnings` are the codes of what was warned of.
    """

    kind: ClassVar[str] = "set-up"
    wishes: Mapping[str, str]
    planned: Mapping[str, str]
    warnings: tuple[str, ...] = ()


KINDS: dict[str, type[What]] = {
    cls.kind: cls
    for cls in (
        Carded, Planned, Enrolled, Reading, Run, Sheeted, CheckBegun, Answered, CheckEnded, Service, Fault, Repair,
        Retest, Release, Correction, Measured, SetPlanned,
    )
}  # fmt: skip


_NAMES: dict[type[What], tuple[str, ...]] = {
    cls: tuple(one.name for one in fields(cls))  # type: ignore[arg-type]  # every kind is a dataclass
    for cls in KINDS.values()
}


_NEEDED: dict[type[What], frozenset[str]] = {
    cls: frozenset(one.name for one in fields(cls) if one.default is one.default_factory is MISSING)  # type: ignore[arg-type]  # as above
    for cls in KINDS.values()
}
"""Of each kind the fields without which it cannot be read: they have no default."""
_LEFT_OUT: dict[type[What], frozenset[str]] = {
    cls: frozenset(
        one.name
        for one in fields(cls)  # type: ignore[arg-type]  # as above
        if one.default_factory in (dict, tuple) or one.default in (None, "", ())
    )
    for cls in KINDS.values()
}
"""Of each kind the fields that are empty by default."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the register: the envelope around a `What`.

    `machine` is the id of the entry that first carded it, or None where no one machine is meant.
    """

    id: str
    machine: str | None
    happened: datetime
    recorded: datetime
    terminal: str
    by: str
    what: What

    @property
    def order(self) -> tuple[datetime, datetime, str]:
        """The order in which entries are read: as things happened, then as they were recorded."""
        return (self.happened, self.recorded, self.id)


def refers(what: What) -> str | None:
    """The id of the entry that this one is about, where it is about one."""
    for name in ("check", "fault", "entry"):
        value = getattr(what, name, None)
        if value and not isinstance(what, Fault):
            return str(value)
    return None


def time_text(moment: datetime) -> str:
    """A moment as UTC text, to the millisecond, that sorts as moments do.

    >>> time_text(datetime(2026, 3, 1, 6, 30, tzinfo=UTC))
    '2026-03-01T06:30:00.000Z'
    """
    if moment.tzinfo is None:
        raise EntryError("a time without a zone: give an offset, as in 2026-03-01T06:30+02:00")
    if moment.tzinfo is not UTC:
        moment = moment.astimezone(UTC)
    if not moment.microsecond:
        return moment.isoformat()[:19] + ".000Z"  # the common case, which long run logs are full of
    return moment.isoformat(timespec="milliseconds")[:-6] + "Z"


def time_of(text: str) -> datetime:
    """The moment that `time_text` wrote."""
    return datetime.fromisoformat(text)


def kept(moment: datetime) -> datetime:
    """An aware moment as it is kept: in UTC, in whole milliseconds.

    The difference of two such is the time that passed; of two in one zone with summer time it is that of the clocks.

    >>> from zoneinfo import ZoneInfo
    >>> kept(datetime(2026, 7, 1, 6, 30, 0, 1999, tzinfo=ZoneInfo("America/New_York")))
    datetime.datetime(2026, 7, 1, 10, 30, 0, 1000, tzinfo=datetime.timezone.utc)
    """
    if moment.tzinfo is not UTC:
        moment = moment.astimezone(UTC)
    over = moment.microsecond % 1000
    return moment.replace(microsecond=moment.microsecond - over) if over else moment


def to_body(what: What) -> dict[str, Json]:
    """A kind as plain JSON values, without the fields that are empty where they are not there."""
    body = {name: plain_of(getattr(what, name)) for name in _NAMES[type(what)]}
    return {name: value for name, value in body.items() if not (is_empty(value) and is_left_out(type(what), name))}


def names_of(kind: type[What]) -> tuple[str, ...]:
    """The names of a kind's fields, in their order."""
    return _NAMES[kind]


def is_left_out(kind: type[What], name: str) -> bool:
    """Whether a field of a kind is left out of its body where it is empty: it is read again as empty, then."""
    return name in _LEFT_OUT[kind]


def plain_of(value: Any) -> Json:
    """The value of a field as `to_body` has it."""
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, tuple):
        return list(value)
    return dict(value) if isinstance(value, Mapping) else value


def is_empty(value: Json) -> bool:
    """Whether the value of a field says nothing."""
    return value is None or value in ("", [], {})


def from_body(kind: str, body: Mapping[str, Json]) -> What:
    """The kind that `to_body` took apart. Raises EntryError where kind or fields are not known."""
    cls = KINDS.get(kind)
    if cls is None:
        raise EntryError(f"an entry of the kind {kind!r}, which this version does not know")
    values: dict[str, Json] = {name: tuple(value) if type(value) is list else value for name, value in body.items()}
    if cls is Run:
        for name in ("started", "ended"):
            if name in values:
                values[name] = time_of(values[name])
    try:
        return cls(**values)
    except TypeError as why:
        raise EntryError(f"an entry of the kind {kind!r} with fields that do not fit: {why}") from None


def spans_of(bodies: Sequence[Mapping[str, Json]]) -> list[tuple[datetime, datetime, int]]:
    """Of runs that `to_body` took apart only what counters need: started, ended, metres [mm].

    Raises EntryError as `from_body` does.

    >>> run = {"ended": "2026-05-01T16:00:00.000Z", "metres": 300_000, "started": "2026-05-01T06:00:00.000Z"}
    >>> [(ended.hour, metres) for started, ended, metres in spans_of([run])]
    [(16, 300000)]
    """
    _look_at(Run, bodies)
    read = datetime.fromisoformat  # `time_of` without a step between: it is asked twice for every run there is
    return [(read(one["started"]), read(one["ended"]), one["metres"]) for one in bodies]


def items_of(bodies: Sequence[Mapping[str, Json]]) -> list[str]:
    """Of services that `to_body` took apart only their items. Raises EntryError as `from_body` does."""
    _look_at(Service, bodies)
    return [one["item"] for one in bodies]


def checks_of(bodies: Sequence[Mapping[str, Json]]) -> list[str]:
    """Of answers that `to_body` took apart only their checks. Raises EntryError as `from_body` does."""
    _look_at(Answered, bodies)
    return [one["check"] for one in bodies]


def _look_at(cls: type[Run | Service | Answered], bodies: Sequence[Mapping[str, Json]]) -> None:
    """Raises EntryError where the names in a body do not fit its kind."""
    known, needed = _KNOWN[cls], _NEEDED[cls]
    for names in set(map(tuple, bodies)):
        if not known.issuperset(names) or not needed.issubset(names):
            from_body(cls.kind, next(one for one in bodies if tuple(one) == names))  # which says what does not fit


_KNOWN = {cls: frozenset(_NAMES[cls]) for cls in (Run, Service, Answered)}

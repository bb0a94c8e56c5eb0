"""What a screen may ask of others: frozen values that say what is wanted, each typed by what comes back.

The rules of this file: it imports no screen and not the app. A request holds values of the core and the register, never
a screen or a function. It is carried out, and never compared with another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from reelcare.core.text import mark

if TYPE_CHECKING:
    from datetime import tzinfo
    from pathlib import Path

    from reelcare.core import units
    from reelcare.core.machine.measuring import MeasuredThing
    from reelcare.core.service.due_line import DueLine
    from reelcare.core.service.plan import Item
    from reelcare.core.spreadsheet.columns import SheetKind
    from reelcare.core.state.machine_now import MachineNow
    from reelcare.core.state.machine_state import OpenFault
    from reelcare.register.acts.walk_rounds import Check
    from reelcare.register.views.book import BookLine
    from reelcare.tui.keys import KeyHelp

Answer = TypeVar("Answer")


class Opens(Generic[Answer]):
    """A request to open a screen, which gives back an `Answer` when it is left."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, eq=False)
class OfMachine(Opens[None]):
    """A screen of one machine as it stands now."""

    machine: MachineNow


@dataclass(frozen=True, slots=True, eq=False)
class OfPlace(Opens[None]):
    """A screen of the field of one place."""

    place: str


# screens; they are left without an answer


class OpenYard(Opens[None]):
    """The yard."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenWalkRound(Opens[None]):
    """A check that was begun; `resumed` where somebody comes back to it."""

    machine: MachineNow
    going: Check
    resumed: bool


@dataclass(frozen=True, slots=True, eq=False)
class EnterPaper(OfMachine):
    """The form in which a check that was filled in on paper is entered: its machine, and the check it goes on from."""

    going: Check


class OpenSetUp(OfMachine):
    """The set-up of a machine."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenSteps(Opens[None]):
    """What may be done with a machine now, with the cursor on the stops where one came for them."""

    machine: str
    stop: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class OpenBench(Opens[None]):
    """The bench on a machine, with the cursor on an item of its plan where one is named."""

    machine: str
    item: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class OpenBook(Opens[None]):
    """The book of a machine."""

    machine: str
    tag: str


@dataclass(frozen=True, slots=True, eq=False)
class OpenCard(Opens[None]):
    """The card of a machine."""

    machine: str


@dataclass(frozen=True, slots=True, eq=False)
class OpenPlan(Opens[None]):
    """The service plan of a machine, or the one for all (None)."""

    machine: str | None = None
    tag: str = ""


class OpenDue(Opens[None]):
    """The due list."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenWeeks(Opens[None]):
    """The coming weeks, of one place, one part or one person ('': of all)."""

    place: str = ""
    part: str = ""
    person: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class OpenNight(Opens[None]):
    """The night of the place of a machine, by its place or tag."""

    where: str


class OpenLanes(OfPlace):
    """The lanes of the field of a place, to add to and change."""


class OpenSignals(Opens[None]):
    """What the run log tells, over all machines."""


class OpenFailures(Opens[None]):
    """What the faults tell of each part."""


class OpenWaiting(Opens[None]):
    """What was carried in and waits to be accepted."""


class OpenStart(Opens[None]):
    """What a register needs on its first day."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenPreview(Opens[None]):
    """A spreadsheet before it is brought."""

    kind: SheetKind
    path: Path


class OpenLastDone(Opens[None]):
    """When each item was last done, machine by item."""


class OpenPeople(Opens[None]):
    """Who is enrolled."""


class EnrolPerson(Opens[None]):
    """A person to be enrolled."""


@dataclass(frozen=True, slots=True, eq=False)
class ChangeMachine(Opens[None]):
    """The card of a machine to be revised; '' for one to be added."""

    machine: str = ""


class OpenMarks(Opens[None]):
    """How checks were answered."""


class LogRun(OfMachine):
    """A run of a machine."""


@dataclass(frozen=True, slots=True, eq=False)
class LogFault(Opens[None]):
    """A fault on a machine, perhaps on a part that is known."""

    machine: str
    tag: str
    part: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class LogFaultStep(Opens[None]):
    """The next step of an open fault: its repair, re-test or release."""

    machine: str
    tag: str
    fault: OpenFault


@dataclass(frozen=True, slots=True, eq=False)
class LogService(Opens[None]):
    """A service of a machine."""

    machine: MachineNow
    line: DueLine


class ReadCounters(OfMachine):
    """The counters of a machine."""


@dataclass(frozen=True, slots=True, eq=False)
class Measure(OfMachine):
    """Readings on a machine, from which a figure of its own is worked out."""

    what: MeasuredThing


@dataclass(frozen=True, slots=True, eq=False)
class ChangePlanItem(Opens[None]):
    """Other figures for one item of a plan; `whose` names the plan."""

    machine: str | None
    whose: str
    item: Item


@dataclass(frozen=True, slots=True, eq=False)
class ChangeLane(Opens[None]):
    """One lane of the field of a place, by its number; a further one where none is named."""

    place: str
    number: str = ""


class ChangeAllowed(OfPlace):
    """What licence, tariff and daylight allow on the field of a place."""


@dataclass(frozen=True, slots=True, eq=False)
class ShowEntry(Opens[None]):
    """A whole entry, its times in a zone, its quantities in a system."""

    line: BookLine
    zone: tzinfo
    system: units.System = "metric"


@dataclass(frozen=True, slots=True, eq=False)
class ShowHelp(Opens[None]):
    """Keys, with what the screen that they belong to says of itself."""

    about: str
    keys: tuple[KeyHelp, ...]


# questions; a dialog only gives back its answer


@dataclass(frozen=True, slots=True, eq=False)
class AskChoice(Opens["int | None"]):
    """One of several: its place among the choices, or None."""

    title: str
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class AskYesNo(Opens[bool]):
    """Yes or no, where yes has consequences."""

    title: str
    says: tuple[str, ...]
    yes: str = mark("yes")
    no: str = mark("no, look again")


@dataclass(frozen=True, slots=True, eq=False)
class AskText(Opens["str | None"]):
    """A few words, or None; `needed` where none at all will not do."""

    title: str
    says: str = ""
    value: str = ""
    needed: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class AskPerson(Opens["str | None"]):
    """A person by name, or None; `people` are names with roles, `current` is who is there now."""

    people: Mapping[str, str]
    current: str = ""
    title: str = mark("Who is at this terminal?")


class Secret:
    """A text that is not to be seen: it shows itself as stars, in traces as well."""

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        self._text = text

    def reveal(self) -> str:
        """Return the text."""
        return self._text

    def __repr__(self) -> str:
        return "Secret(***)"

    __str__ = __repr__


@dataclass(frozen=True, slots=True, eq=False)
class AskPin(Opens["Secret | None"]):
    """The PIN of a person, or None; `wrong` tells why the one before was refused."""

    person: str
    title: str
    role: str = ""
    wrong: str = ""

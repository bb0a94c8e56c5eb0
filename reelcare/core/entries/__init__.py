"""What can happen to a machine, as frozen values: each kind is one class, and the class is its specification.

The rules of this folder: everything that is ever written in a register is one of `KINDS`, wrapped in an `Entry` that
says which machine, what happened, when it happened, when and on which terminal it was recorded, and who says so.
Entries are only ever added; a wrong one is answered by a `Correction`. A new kind is a class in the module of its
family, listed in that module's `KINDS` and imported here.
"""

from __future__ import annotations

from collections.abc import Mapping

from reelcare.core.entries import bodies, cards, carried, checks, corrections, faults, people, runs, work
from reelcare.core.entries.admission import problems, time_problems
from reelcare.core.entries.base import Context, Draft, Entry, EntryError, Json, Kind, News, UpdateScope, WaitsFor
from reelcare.core.entries.bodies import fields_of, to_body, validate
from reelcare.core.entries.cards import Carded, LanesChosen, Mapped, Moved, Planned, Retired
from reelcare.core.entries.carried import CarriedIn, CarryDecision
from reelcare.core.entries.checks import (
    Answered,
    CheckBegun,
    CheckEnded,
    GateSigned,
    Sheeted,
    given_in,
    signatures_in,
    signs,
    walk_of,
)
from reelcare.core.entries.corrections import Correction, Restored, cancelled, is_slip, never_taken_back
from reelcare.core.entries.faults import Fault, PutRight, Release, Repair, Retest, fault_of
from reelcare.core.entries.people import Enrolled, Instructed, Recovered
from reelcare.core.entries.runs import STOPPED_BY, Reading, Run
from reelcare.core.entries.work import (
    Assigned,
    Measured,
    NearMissRead,
    Noted,
    NoteRead,
    Service,
    SetPlanned,
    needs_no_name,
    newest_figures,
    wishes_of,
)
from reelcare.core.text import _
from reelcare.core.timestamps import kept, time_of, time_text

KINDS: dict[str, type[Kind]] = {
    one.kind: one
    for family in (cards, people, runs, checks, work, faults, corrections, carried)
    for one in family.KINDS
}
"""Every kind, by the name under which it is kept."""


def from_body(kind: str, body: Mapping[str, Json]) -> Kind:
    """The kind that `to_body` took apart. Raises EntryError where kind or fields are not known."""
    cls = KINDS.get(kind)
    if cls is None:
        raise EntryError(_("an entry of the kind {kind!r}, which this version does not know", kind=kind))
    return bodies.from_body(cls, body)


__all__ = [
    "KINDS", "STOPPED_BY", "Answered", "Assigned", "Carded", "CarriedIn", "CarryDecision", "CheckBegun", "CheckEnded",
    "Context", "Correction", "Draft", "Enrolled", "Entry", "EntryError", "Fault", "GateSigned", "Instructed", "Json",
    "Kind", "LanesChosen", "Mapped", "Measured", "Moved", "NearMissRead", "News",
    "NoteRead", "Noted", "Planned", "PutRight", "Reading",
    "Recovered", "Release", "Repair", "Restored", "Retest", "Retired", "Run", "Service", "SetPlanned", "Sheeted",
    "UpdateScope", "WaitsFor",
    "cancelled", "fault_of", "fields_of", "from_body", "given_in", "is_slip", "kept", "needs_no_name",
    "never_taken_back", "newest_figures", "problems", "signatures_in", "signs", "time_of", "time_problems",
    "time_text", "to_body", "validate", "walk_of", "wishes_of",
]  # fmt: skip

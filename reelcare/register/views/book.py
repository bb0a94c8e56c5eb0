"""The book of a machine: everything that happened to it, with what was cancelled marked as such."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

import peewee as pw

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.sheet import Sheet
from reelcare.core.text import _, current_language, localized, mark
from reelcare.core.wording import Words, said
from reelcare.register.database.models import EntryRow, UncountedRow
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.views import ungated

E, U = EntryRow, UncountedRow
UNCOUNTED = {
    "waiting": mark("waits to be accepted here"),
    "refused": mark("refused here"),
    "void": mark("no effect here"),
    "told": mark("reported by somebody not accepted here"),
}
"""Of what was carried in, and does not count here as it stands, why."""
MOST_TRIES = 100
"""How many tries of one question are told with an answer, the last ones."""


@dataclass(frozen=True, slots=True)
class BookLine:
    """One entry of a machine's book, with the correction that cancelled it, if one did."""

    entry: e.Entry
    taken_back: e.Entry | None = None
    missing: ungated.Missing | None = None
    """Of a run: the gate that it was made without."""
    sheet: Sheet | None = None
    """Of a check that was begun, and of an answer: the sheet as it was asked."""
    given: Words | None = None
    """Of a line that was given to somebody: the item's title, or what is wrong."""
    tag_before: str = ""
    """Of a card that gives the machine another tag: the one before."""
    uncounted: str = ""
    """Why it does not count here as it stands, a key of `UNCOUNTED`; '' where it does."""
    done: Words | None = None
    """Of a service: what the item asks for, in the plan of that time."""
    cancels: tuple[str, datetime] | None = None
    """Of a correction: the kind of the entry that it cancels, and when that happened, in the register's zone."""

    @property
    def why_uncounted(self) -> str:
        """Why it does not count here as it stands, in words; '' where it does."""
        return _(UNCOUNTED[self.uncounted]) if self.uncounted else ""

    @property
    def says_plainly(self) -> str:
        """What happened with ids as they are kept, as JSON has it, which is told in English."""
        return self._with_more(self.entry.what.describe())

    def says(self, system: units.System = "metric") -> str:
        """What happened, in words, with titles in the place of ids."""
        return self._with_more(self._cancelled() or self._titled().describe(system))

    def _with_more(self, told: str) -> str:
        """What an entry says, and what is known beside it."""
        more = [_(ungated.SAYS[self.missing])] if self.missing is not None else []
        more += [_("tag before: {tag}", tag=self.tag_before)] if self.tag_before else []
        return "; ".join([told, *more])

    def _cancelled(self) -> str:
        """What a correction cancels, and why; '' for any other entry, and where that is not known."""
        if self.cancels is None or not isinstance(self.entry.what, e.Correction):
            return ""
        kind, when = self.cancels
        return _("takes back {kind} of {when:%Y-%m-%d %H:%M}: {why}", kind=_(kind), when=when, why=self.entry.what.why)

    def _titled(self) -> e.Kind:
        """What happened, with the titles of sheets, questions, choices and items where they are known."""
        what, language = self.entry.what, current_language()
        if isinstance(what, e.CheckBegun) and self.sheet is not None:
            return replace(what, sheet_id=said(self.sheet.title, language))
        if isinstance(what, e.Service) and self.done is not None:
            return replace(what, title=said(self.done, language))
        if isinstance(what, e.Assigned) and self.given is not None:
            return replace(what, item=said(self.given, language))
        question = self.sheet.question(what.question) if isinstance(what, e.Answered) and self.sheet else None
        if not isinstance(what, e.Answered) or question is None:
            return what
        choice = question.choice(what.seen)
        seen = said(choice.says, language) if choice is not None else localized(what.seen)
        return replace(what, question=said(question.title, language), seen=seen)


def tries(reader: Reader, lines: Iterable[BookLine]) -> dict[str, tuple[e.Entry, ...]]:
    """For each answer among lines what was answered to its question in its check up to it, in order."""
    shown = {one.entry.id: one.entry.what.check for one in lines if isinstance(one.entry.what, e.Answered)}
    found: dict[str, tuple[e.Entry, ...]] = {}
    for check in sorted(set(shown.values())):
        given: dict[str, list[e.Entry]] = {}
        answers = queries.entries(E.refers == check, E.kind == e.Answered.kind)
        for one in reader.select(queries.in_order(answers)):
            if isinstance(one.what, e.Answered):
                so_far = given.setdefault(one.what.question, [])
                so_far.append(one)
                if one.id in shown:
                    found[one.id] = tuple(so_far[-MOST_TRIES:])
    return found


def book(
    reader: Reader, machine: str, *, kinds: Iterable[str] = (), until: datetime | None = None, most: int = -1
) -> list[BookLine]:
    """Everything that happened to a machine up to a moment, newest first; of these kinds only, where any are named.

    An entry whose correction was cancelled itself counts again, and is not marked; no more is one whose correction
    does not count here.
    """
    query = queries.newest_first(_entries(machine, kinds, until))
    if most >= 0:
        query = query.limit(most)
    corrections = queries.entries(E.machine == machine, E.kind == e.Correction.kind, *queries.happened(until))
    written = reader.select(corrections)
    lacking = _uncounted(reader, machine)
    written = [one for one in written if one.id not in lacking]
    gone = e.cancelled(written)
    by_entry = {one.what.entry: one for one in written if isinstance(one.what, e.Correction) and one.id not in gone}
    found = reader.select(query)
    lacks, sheets = ungated.missing(reader, found), _sheets(reader, found)
    tags = _tags_before(reader, machine) if any(isinstance(one.what, e.Carded) for one in found) else {}
    return [
        BookLine(
            one, by_entry.get(one.id), lacks.get(one.id), sheets.get(one.id), _given(reader, machine, one),
            tags.get(one.id, ""), lacking.get(one.id, ""), _done(reader, machine, one), _cancels(reader, one),
        )
        for one in found
    ]  # fmt: skip


def _sheets(reader: Reader, found: Iterable[e.Entry]) -> dict[str, Sheet | None]:
    """By entry the sheet of each check that was begun, and of each answer."""
    checks = {one.id: one.id for one in found if isinstance(one.what, e.CheckBegun)}
    checks |= {one.id: one.what.check for one in found if isinstance(one.what, e.Answered)}
    if not checks:
        return {}
    begun = reader.select(queries.entries(E.id.in_(sorted(set(checks.values()))), E.kind == e.CheckBegun.kind))
    kept = {one.id: one.what.sheet for one in begun if isinstance(one.what, e.CheckBegun)}
    return {entry: reader.sheet(kept[check]) for entry, check in checks.items() if check in kept}


def _tags_before(reader: Reader, machine: str) -> dict[str, str]:
    """By card that gives a machine another tag the one before."""
    found, before = {}, ""
    for one in reader.select(queries.in_order(queries.entries(E.machine == machine, E.kind == e.Carded.kind))):
        tag = str(one.what.card.get("tag", "")) if isinstance(one.what, e.Carded) else ""
        if before and tag != before:
            found[one.id] = before
        before = tag
    return found


def _given(reader: Reader, machine: str, one: e.Entry) -> Words | None:
    """The title of what an entry gives to somebody: an item of the plan of that time, or a fault."""
    if not isinstance(one.what, e.Assigned):
        return None
    item = reader.plans().at(machine, one.happened).item(one.what.item)
    if item is not None:
        return item.short or item.what
    fault = reader.entry(one.what.item)
    return {"en": fault.what.of_part} if fault and isinstance(fault.what, e.Fault) else None


def _done(reader: Reader, machine: str, one: e.Entry) -> Words | None:
    """What the item of a service asks for, in the plan of that time."""
    item = reader.plans().at(machine, one.happened).item(one.what.item) if isinstance(one.what, e.Service) else None
    return None if item is None else item.what


def _cancels(reader: Reader, one: e.Entry) -> tuple[str, datetime] | None:
    """The kind and the time of the entry that a correction cancels, where it is here."""
    gone = reader.entry(one.what.entry) if isinstance(one.what, e.Correction) else None
    return None if gone is None else (gone.what.kind, gone.happened.astimezone(reader.zone))


def _uncounted(reader: Reader, machine: str) -> dict[str, str]:
    """Why entries of a machine do not count here as they stand, by id."""
    query = U.select(U.entry, U.why).join(E, on=(E.id == U.entry)).where(E.machine == machine)
    return reader.db.pairs(query)


def count(reader: Reader, machine: str, *, kinds: Iterable[str] = (), until: datetime | None = None) -> int:
    """How many lines the whole book has."""
    return int(_entries(machine, kinds, until).count(reader.db))


def _entries(machine: str, kinds: Iterable[str], until: datetime | None) -> pw.ModelSelect:
    wanted = sorted(set(kinds))
    query = queries.entries(E.machine == machine, *queries.happened(until))
    return query.where(E.kind.in_(wanted)) if wanted else query

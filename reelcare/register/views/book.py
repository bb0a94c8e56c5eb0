"""The book of a machine: everything that happened to it, with what was cancelled marked as such."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import peewee as pw

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.text import _
from reelcare.core.wording import said
from reelcare.register.acts import checks
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.views import ungated

E = EntryRow


MOST_TRIES = 100
"""How many tries of one question are told with an answer, the last ones."""


@dataclass(frozen=True, slots=True)
class BookLine:
    """One entry of a machine's book, with the correction that cancelled it, if one did."""

    entry: e.Entry
    taken_back: e.Entry | None = None
    missing: ungated.Missing | None = None
    """Of a run: the gate that it was made without."""

    @property
    def says_plainly(self) -> str:
        """What happened, in English and metric units, as JSON has it."""
        told = self.entry.what.describe()
        return told if self.missing is None else f"{told}; {ungated.SAYS[self.missing]}"

    def says(self, system: units.System = "metric") -> str:
        """What happened, in words."""
        told = self.entry.what.describe(system)
        return told if self.missing is None else f"{told}; {_(ungated.SAYS[self.missing])}"


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


def answers_in_words(reader: Reader, lines: Iterable[BookLine], language: str) -> dict[str, str]:
    """For each answer among lines that counts as written: its question, what was seen and how it was judged, in
    words."""
    found: dict[str, str] = {}
    for id in sorted({one.entry.what.check for one in lines if isinstance(one.entry.what, e.Answered)}):
        try:
            walk = checks.check(reader, id).walk.in_language(language)
        except Refused:
            continue  # its sheet is not here: the ids are all that can be told
        for given in walk.given:
            question = walk.sheet.question(given.question)
            if question is not None:
                judged = walk.judgement(given)
                note = f"; {given.note}" if given.note else ""
                found[given.id] = f"{said(question.ask, language)}: {judged.says} ({_(judged.judged)}){note}"
    return found


def book(
    reader: Reader,
    machine: str,
    *,
    kinds: Iterable[str] = (),
    until: datetime | None = None,
    most: int = -1,
) -> list[BookLine]:
    """Everything that happened to a machine up to a moment, newest first; of these kinds only, where any are named.

    An entry whose correction was cancelled itself counts again, and is not marked.
    """
    query = queries.newest_first(_entries(machine, kinds, until))
    if most >= 0:
        query = query.limit(most)
    corrections = queries.entries(E.machine == machine, E.kind == e.Correction.kind, *queries.happened(until))
    written = reader.select(corrections)
    gone = e.cancelled(written)
    by_entry = {one.what.entry: one for one in written if isinstance(one.what, e.Correction) and one.id not in gone}
    found = reader.select(query)
    lacks = ungated.missing(reader, found)
    return [BookLine(one, by_entry.get(one.id), lacks.get(one.id)) for one in found]


def count(reader: Reader, machine: str, *, kinds: Iterable[str] = (), until: datetime | None = None) -> int:
    """How many lines the whole book has."""
    return int(_entries(machine, kinds, until).count(reader.db))


def _entries(machine: str, kinds: Iterable[str], until: datetime | None) -> pw.ModelSelect:
    wanted = sorted(set(kinds))
    query = queries.entries(E.machine == machine, *queries.happened(until))
    return query.where(E.kind.in_(wanted)) if wanted else query

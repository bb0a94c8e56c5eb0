"""The states of the machines, derived from their entries and kept beside them.

What belongs here: keeping a state, rebuilding all of them, and comparing what is kept with what the entries
give. All of it can be thrown away: `rebuild` makes it from the entries.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reelcare.core import entries as e
from reelcare.core.state.limits import limits_of
from reelcare.core.state.machine_state import MachineState
from reelcare.core.state.plain_form import to_plain
from reelcare.core.text import _
from reelcare.register.database.models import EntryRow, MachineRow
from reelcare.register.progress import Progress, no_progress, with_progress
from reelcare.register.reading import doubts, foreign
from reelcare.register.reading.reader import KEPT, Reader

E, M = EntryRow, MachineRow
COLUMNS = (M.machine, M.tag, M.name, M.place, M.state, M.limits)

Row = tuple[str, ...]
"""What is kept of a machine: COLUMNS."""


def keep(reader: Reader, machine: str, state: MachineState, scope: e.UpdateScope = e.UpdateScope.HISTORY) -> None:
    """Write what is kept of a machine, in place of what was there; as much as entries of this scope can change."""
    if scope > e.UpdateScope.STATE:
        row = _row(reader, machine, state)
        _put(reader, row)
        reader.cache.put((KEPT, machine), (state, row[-1]))
        return
    if scope is e.UpdateScope.STATE:
        reader.db.write(M.update(state=to_plain(state)).where(M.machine == machine))
    known = reader.cache.known((KEPT, machine))
    if known is not None:
        reader.cache.put((KEPT, machine), (state, known[1]))


def rebuild(reader: Reader, progress: Progress = no_progress) -> list[str]:
    """Rebuild all that is kept from the entries; returns a line for each machine that was not right."""
    doubts.refresh(reader.db)
    foreign.refresh(reader)
    reader.cache.clear()
    found = list(_differences(reader, machines(reader), progress))
    for _says, machine, row in found:
        if row is None:
            reader.db.write(M.delete().where(M.machine == machine))
        else:
            _put(reader, row)
    return [one[0] for one in found]


def differences(reader: Reader, machines: Iterable[str], progress: Progress = no_progress) -> list[str]:
    """A line for each of these machines whose kept state is not what its entries give; changes nothing."""
    return [says for says, _, _ in _differences(reader, list(machines), progress)]


def changed_by(reader: Reader, what: e.Kind, machine: str | None) -> set[str]:
    """The machines whose past an entry changes, so that they must be folded again: those under a plan, and those of
    what a correction cancels, whichever machine it names."""
    if what.reaches is not e.UpdateScope.HISTORY:
        return set()
    found = {machine} if machine else set()
    if isinstance(what, e.Correction):
        cancelled = reader.entry(what.entry)
        if cancelled is None:
            return found
        return found | ({cancelled.machine} if cancelled.machine else set(reader.machine_ids()))
    return found or set(reader.machine_ids())


def machines(reader: Reader) -> list[str]:
    """The ids of all machines that an entry speaks of, or of which anything is kept, in order."""
    spoken_of = set(reader.db.column(E.select(E.machine).where(E.machine.is_null(False)).distinct()))
    return sorted(spoken_of.union(reader.machine_ids()))


def _put(reader: Reader, row: Row) -> None:
    kept = M.insert(dict(zip(COLUMNS, row, strict=True)))
    reader.db.write(kept.on_conflict(conflict_target=[M.machine], preserve=list(COLUMNS[1:])))


def _row(reader: Reader, machine: str, state: MachineState) -> Row:
    card = reader.card_of(state)
    return (
        machine,
        card.tag,
        card.name,
        card.place,
        to_plain(state),
        limits_of(state, reader.plans().newest(machine), card).to_plain(),
    )


def _differences(reader: Reader, machines: list[str], progress: Progress) -> Iterator[tuple[str, str, Row | None]]:
    """What is wrong with what is kept: in words, the machine, and the row it should have (None: no such machine)."""
    kept = {str(row[0]): row for row in reader.db.fetch(M.select(*COLUMNS))}
    for machine, state in with_progress(reader.folds(machines), len(machines), progress):
        before = kept.get(machine)
        if state is None or not state.card:
            if before is not None:
                yield _("{before}: kept, but no entry explains it", before=before[1]), machine, None
            continue
        row = _row(reader, machine, state)
        if before != row:
            yield _("{row}: what is kept does not match the entries", row=row[1]), machine, row

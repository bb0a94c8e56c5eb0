"""Which entries of other registers count in this one: bad news travels by itself, good news needs a name.

The rules of this file: the view is a pure function of the entries that are here and of which of them were written
elsewhere, so that it is the same in whatever order they came. What people did here (enrolments, decisions) is believed;
what is said elsewhere gives nobody a right. Nothing here knows a machine's standing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

from reelcare.core import entries as e
from reelcare.core.checks.clearance import AHEAD
from reelcare.core.people import LEFT, ROLES, may

Uncounted = Literal["waiting", "refused", "void", "told"]
"""Why an entry of another register does not count as it stands: it waits for a name; it was refused; it may not be
entered at any terminal; it tells the use of a machine, and nobody here has accepted who says so."""
Person = tuple[str, str]
"""A name, and the chain on which it signed: two people of one name are two until somebody says that they are one."""


def uncounted(
    own: Iterable[e.Entry],
    foreign: Sequence[e.Entry],
    find: Callable[[str], e.Entry | None],
    chain_of: Callable[[str], str] = str,
) -> dict[str, Uncounted]:
    """The entries of other registers that do not count here as they stand, with why, by id.

    `own` are the enrolments, decisions and corrections that were written here, `foreign` all that was carried in;
    `find` gives any entry by its id, `chain_of` the name of a terminal by how it stands in its entries.
    """
    view = _View(list(own), foreign, find, chain_of)
    found = ((one.id, view.of(one)) for one in foreign)
    return {id: why for id, why in found if why is not None}


def people_of(
    own: Iterable[e.Entry], foreign: Sequence[e.Entry], chain_of: Callable[[str], str] = str
) -> Callable[[e.Entry], bool]:
    """Says of an entry of another register whether its author is a person of this one."""
    view = _View(list(own), foreign, lambda _: None, chain_of)
    return lambda one: view.is_known((one.by, chain_of(one.terminal)))


class _Enrolment(NamedTuple):
    entry: e.Entry
    what: e.Enrolled
    counts: bool


class _View:
    """This register's view of the others: who is known here, and what was decided."""

    def __init__(
        self,
        own: list[e.Entry],
        foreign: Sequence[e.Entry],
        find: Callable[[str], e.Entry | None],
        chain_of: Callable[[str], str],
    ) -> None:
        self._find, self._chain_of = find, chain_of
        gone = e.cancelled(own)
        self._decided: dict[str, bool] = {}
        for one in sorted(own, key=lambda one: (one.recorded, one.id)):
            if isinstance(one.what, e.CarryDecision) and one.id not in gone:
                self._decided |= dict.fromkeys(one.what.entries, one.what.accepted)
        own_ids = {one.id for one in own}
        self._enrolled: dict[Person, list[_Enrolment]] = defaultdict(list)
        self._by_name: dict[str, list[_Enrolment]] = defaultdict(list)
        self._by_id: dict[str, _Enrolment] = {}
        self._began: set[tuple[str, datetime, int]] = set()
        for one in sorted((*own, *foreign), key=lambda one: one.order):
            if isinstance(one.what, e.Enrolled):
                counts = one.id in own_ids or (self._decided.get(one.id, False) and _is_possible(one.what))
                self._enrol(_Enrolment(one, one.what, counts))
        self._named: dict[Person, list[_Enrolment]] = defaultdict(list)
        for one in foreign:
            if isinstance(one.what, e.CarryDecision) and one.what.accepted:
                for id in one.what.entries:
                    if id in self._by_id:
                        enrolled = self._by_id[id]
                        self._named[enrolled.what.name, chain_of(one.terminal)].append(enrolled)

    def _enrol(self, one: _Enrolment) -> None:
        chain = self._chain_of(one.entry.terminal)
        self._enrolled[one.what.name, chain].append(one)
        self._by_name[one.what.name].append(one)
        self._by_id[one.entry.id] = one
        if one.entry.by == one.what.name:
            self._began.add((chain, one.entry.recorded, _number(one.entry.id)))

    def _enrolments_for(self, person: Person) -> list[_Enrolment]:
        """The enrolments that a chain takes for a name: its own, else those that it has accepted."""
        return self._enrolled.get(person) or self._named.get(person) or []

    def is_known(self, person: Person) -> bool:
        """Whether who signs so on that chain is a person of this register."""
        name, _chain = person
        if not any(one.counts for one in self._by_name.get(name, ())):
            return False
        there = self._enrolments_for(person)
        if there:
            return any(one.counts for one in there)
        # an older program, or another terminal of the same register: known, unless somebody else is called so
        chains = {self._chain_of(one.entry.terminal) for one in self._by_name[name]}
        return all(any(one.counts for one in self._enrolled[name, chain]) for chain in chains)

    def _role_here(self, one: e.Entry) -> str:
        """The role that a person of this register had when it happened; before they were enrolled, their first."""
        counting = [each for each in self._by_name[one.by] if each.counts]
        until = [each for each in counting if each.entry.happened <= one.happened]
        return (until[-1] if until else counting[0]).what.role

    def _may_claim(self, one: e.Entry) -> bool:
        """Whether its author had the right by what anybody says of them."""
        person = (one.by, self._chain_of(one.terminal))
        there = self._enrolments_for(person) or self._by_name.get(one.by, [])
        here = [each for each in self._by_name.get(one.by, ()) if each.counts] if self.is_known(person) else []
        return any(may(each.what.role, one.what.least_role) for each in (*there, *here))

    def _is_slip(self, one: e.Entry) -> bool:
        """Whether somebody takes back there what they had just written there themselves."""
        target = self._find(one.what.entry) if isinstance(one.what, e.Correction) else None
        return (
            target is not None
            and e.is_slip(target, one.by, one.recorded)
            and self._chain_of(target.terminal) == self._chain_of(one.terminal)
        )

    def _undoes_own_service(self, one: e.Entry) -> bool:
        """Whether somebody takes back a service that they had just written: that nothing was done is bad news."""
        target = self._find(one.what.entry) if isinstance(one.what, e.Correction) else None
        return target is not None and isinstance(target.what, e.Service) and self._is_slip(one)

    def of(self, one: e.Entry) -> Uncounted | None:
        """Why an entry of another register does not count as it stands; None where it does."""
        what, decided = one.what, self._decided.get(one.id)
        waits_for = what.waits_for(one)
        if any(self._forbidden(one)):
            return "void"
        known = self.is_known((one.by, self._chain_of(one.terminal)))
        if not waits_for:
            tells = isinstance(what, (e.Run, e.Reading))
            return "told" if tells and not known and not decided else None
        if decided is not None:
            # what a supervisor here signed for stands, whatever is said later of who wrote it there
            return None if decided else "refused"
        if self._undoes_own_service(one):
            return None
        if self._is_default(one) or not (self._is_slip(one) or self._may_claim(one)):
            return "void"
        if waits_for == "person" and known and may(self._role_here(one), what.least_role):
            return None
        return "waiting"

    def _is_default(self, one: e.Entry) -> bool:
        """Whether it is the shipped plan, which nobody chose: older programs put it in force with the first person, in
        the same breath."""
        began = (self._chain_of(one.terminal), one.recorded, _number(one.id) - 1)
        return isinstance(one.what, e.Planned) and began in self._began

    def _forbidden(self, one: e.Entry) -> Iterator[bool]:
        """Whether it may not be entered at any terminal, whoever would accept it."""
        what = one.what
        if what.waits_for(one) or isinstance(what, (e.Run, e.Reading)):
            yield one.happened > one.recorded + AHEAD
        if isinstance(what, e.Correction):
            yield _is_final(self._find(what.entry), self._find)
        elif isinstance(what, e.Enrolled):
            yield not _is_possible(what)
        elif isinstance(what, e.Run):
            yield what.ended <= what.started or what.metres < 0 or what.ended != one.happened
        elif isinstance(what, e.Reading):
            yield what.value < 0
        elif isinstance(what, e.Service):
            yield not what.life_can_be


def _number(id: str) -> int:
    """A UUID as a number: those that are drawn in one breath follow each other; 0 for what is none."""
    try:
        return int(id.replace("-", ""), 16)
    except ValueError:
        return 0


def _is_possible(what: e.Enrolled) -> bool:
    return bool(what.name) and what.role in (*ROLES, LEFT)


def _is_final(entry: e.Entry | None, find: Callable[[str], e.Entry | None]) -> bool:
    """Whether an entry may be taken back by nobody. One that is not here yet is not known to be so."""
    if entry is None:
        return False
    if isinstance(entry.what, e.Correction):
        first = find(entry.what.entry)
        return first is not None and isinstance(first.what, e.Correction)
    return e.never_taken_back(entry) != ""

"""What was carried in and waits to be accepted here: what each would change, and accepting or refusing it.

Listed is what gives or takes a right, or changes what a machine is judged by; what would change nothing waits silently.
The list is a function of the entries that are here, whatever the order in which they came.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core import foreign as view
from reelcare.core.clean import clean
from reelcare.core.fold import fold, in_turn
from reelcare.core.state.limits import limits_of
from reelcare.core.state.plans import Known
from reelcare.core.state.standing import judge
from reelcare.core.text import _, mark, plural
from reelcare.register.database.models import EntryRow, UncountedRow
from reelcare.register.errors import Refused
from reelcare.register.integrity import chain
from reelcare.register.reading import foreign, queries
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

E, U = EntryRow, UncountedRow
OF_A_CHECK = (e.Answered, e.GateSigned, e.CheckEnded, e.PutRight)
"""What is accepted together with the other entries of its check."""
NEWEST_CHECKS = 2
"""The number of newest checks of a machine for which it is told what accepting them would change; runs since have used
up the others."""
SHORT = 8
"""Characters of an id's end that tell it apart."""
Judged = tuple[str, str, Mapping[str, object]]


@dataclass(frozen=True, slots=True)
class WaitingEntry:
    """An entry that waits to be accepted: what stands now and what would if it were accepted ('' for nothing), on which
    machine ('' for none), and what it says."""

    entry: e.Entry
    machine: str
    before: str
    after: str
    because: str

    @property
    def id(self) -> str:
        """The id of the entry."""
        return self.entry.id

    @property
    def terminal(self) -> str:
        """The terminal that it was written on."""
        return chain.base(self.entry.terminal)

    @property
    def words(self) -> tuple[str, str]:
        """What stands now and what would, in words."""
        none = _("nobody") if isinstance(self.entry.what, e.Enrolled) else _("nothing")
        return (_(self.before) if self.before else none, _(self.after) if self.after else none)

    @property
    def says(self) -> str:
        """What would change, in one line."""
        there, (before, after) = self.machine or self.entry.what.describe(), self.words
        told = mark("{there}: {before} -> {after}, because {because}")
        return _(told, there=there, before=before, after=after, because=self.because)


def waiting(reader: Reader, now: datetime) -> list[WaitingEntry]:
    """Everything that waits to be accepted here: people first, then plans, then machine by machine, oldest first."""
    some = _waiting_entries(reader)
    if not some:
        return []
    effects = _Effects(reader, now, some)
    return [*_people(reader, some), *effects.plans(), *effects.machines()]


def _waiting_entries(reader: Reader) -> list[e.Entry]:
    waits = U.select(U.entry).where(U.why == "waiting")
    return reader.select(queries.in_order(queries.entries(E.id.in_(waits))))


def _people(reader: Reader, some: Sequence[e.Entry]) -> Iterator[WaitingEntry]:
    """The enrolments that would give somebody a right or take one, or join two people of one name."""
    is_known = view.people_of(foreign.own_entries(reader), foreign.carried_in(reader), chain.base)
    roles = reader.roles()
    for one in some:
        what = one.what
        if not isinstance(what, e.Enrolled):
            continue
        after = reader.roles_with({one.id}).get(what.name, "")
        before = roles.get(what.name, "")
        joins = not is_known(one._replace(by=what.name))
        if before == after and not joins:
            continue
        theirs = sum(
            each.by == what.name and each.id != one.id and chain.base(each.terminal) == chain.base(one.terminal)
            for each in some
        )
        because = _("{by} enrolled {name} there", by=one.by, name=what.name)
        if before and joins:
            because = _("{because}; is it the {name} of this register?", because=because, name=what.name)
        if theirs:
            waits = plural("{n} entry of theirs waits", "{n} entries of theirs wait", theirs)
            because = f"{because}; {waits}"
        yield WaitingEntry(one, "", before, after, because)


@dataclass(slots=True)
class _Effects:
    """What would change if some entries were accepted."""

    reader: Reader
    now: datetime
    some: Sequence[e.Entry]
    _as_it_is: dict[str, tuple[list[e.Entry], Judged]] = field(default_factory=dict)
    """Of each machine its entries, and what it is judged by as it stands."""

    def plans(self) -> Iterator[WaitingEntry]:
        """Plans for all, and the taking back of one: a line for each machine whose standing would be another, or one
        for the plan where there is none."""
        for one in self.some:
            if not self._is_for_all(one):
                continue
            changed, any_change = [], False
            for machine, tag in self.reader.tags().items():
                before, after, is_other = self._change(machine, one)
                any_change |= is_other
                if before != after:
                    changed.append(WaitingEntry(one, tag, before, after, self._because(one)))
            if changed:
                yield from changed
            elif any_change:
                names = (self.reader.plans(), self.reader.plans_with({one.id}))
                before, after = (plans.newest("").id for plans in names)
                yield WaitingEntry(one, "", before, after, self._because(one))

    def machines(self) -> Iterator[WaitingEntry]:
        """What would change one machine, machine by machine."""
        tags = self.reader.tags()
        by_machine: dict[str, list[e.Entry]] = {}
        for one in self.some:
            machine = self._machine_of(one)
            if machine in tags and not self._is_for_all(one):
                by_machine.setdefault(machine, []).append(one)
        for machine, some in sorted(by_machine.items(), key=lambda pair: (tags[pair[0]], pair[0])):
            for one in _candidates(some):
                before, after, is_other = self._change(machine, one)
                lacks = lacking(machine, self._as_it_is[machine][0], self._with(one), one)
                if is_other or lacks:
                    because = "; ".join((self._because(one), *self._needs(one, lacks)))
                    yield WaitingEntry(one, tags[machine], before, after, because)

    def _needs(self, one: e.Entry, lacks: Sequence[str]) -> Iterator[str]:
        """What must be accepted with a release or a re-test, and what it lacks even so."""
        rests = rests_on(one, self.some)
        if rests:
            yield _("with {ids}", ids=", ".join(each.id[-SHORT:] for each in rests))
        yield from (_("the hold stays: {why}", why=why) for why in lacks)

    def _because(self, one: e.Entry) -> str:
        target, says = self._meant(one), f"{_(one.what.kind)}: {one.what.describe()}"
        return says if target in (one, None) else f"{says} ({target.what.kind}: {target.what.describe()})"

    def _meant(self, one: e.Entry) -> e.Entry | None:
        """Of a correction the entry that it cancels, None where that is not here; any other entry itself."""
        return self.reader.entry(one.what.entry) if isinstance(one.what, e.Correction) else one

    def _machine_of(self, one: e.Entry) -> str:
        target = self._meant(one)
        return (target.machine or "") if target is not None else ""

    def _is_for_all(self, one: e.Entry) -> bool:
        target = self._meant(one)
        return target is not None and isinstance(target.what, e.Planned) and target.machine is None

    def _change(self, machine: str, one: e.Entry) -> tuple[str, str, bool]:
        """How a machine stands and would stand if an entry counted, and whether anything of it would be another."""
        if machine not in self._as_it_is:
            entries = self.reader.of_machine(machine)
            self._as_it_is[machine] = entries, self._judged(machine, entries, self.reader.known())
        entries, before = self._as_it_is[machine]
        after = self._judged(machine, entries, self._with(one))
        return before[0], after[0], before[1:] != after[1:]

    def _with(self, one: e.Entry) -> Known:
        """What would be known if an entry counted, with those that it needs."""
        known = self.reader.known()
        with_it = {each.id for each in (*together(one, self.some), *rests_on(one, self.some))}
        uncounted = known.uncounted._replace(waiting=known.uncounted.waiting - with_it)
        is_of_plans = isinstance(one.what, (e.Planned, e.Correction))
        plans = self.reader.plans_with(with_it) if is_of_plans else known.plans
        return replace(known, uncounted=uncounted, plans=plans)

    def _judged(self, machine: str, entries: Sequence[e.Entry], known: Known) -> Judged:
        """The standing of a machine in a word, what it is judged by, and its card."""
        state = fold(machine, entries, known)
        if state is None or not state.card:
            return "", "", {}
        limits = limits_of(state, known.plans.newest(machine), self.reader.card_of(state))
        return judge(limits, self.now, self.reader.zone).standing.worst, limits.to_plain(), state.card


def _candidates(some: Sequence[e.Entry]) -> list[e.Entry]:
    """Of what waits on a machine, in its order, what can change it by itself: the newest service of each item, the
    newest signatures of the newest checks, and all that needs a name each time."""
    found: dict[object, e.Entry] = {}
    checks: dict[str, None] = {}
    for one in some:
        what = one.what
        if isinstance(what, (e.Answered, e.SetPlanned)):
            continue
        if isinstance(what, (e.GateSigned, e.CheckEnded)):
            checks.pop(what.check, None)
            checks[what.check] = None
            found["check", what.check] = one
        elif isinstance(what, e.Service):
            found["service", what.item] = one
        elif isinstance(what, e.Measured):
            found["measured", what.about] = one
        else:
            found[one.id] = one
    for check in list(checks)[:-NEWEST_CHECKS]:
        del found["check", check]
    return sorted(found.values(), key=lambda one: one.order)


def together(one: e.Entry, some: Iterable[e.Entry]) -> list[e.Entry]:
    """An entry with those among others that are accepted or refused with it: all of its check."""
    if not isinstance(one.what, OF_A_CHECK):
        return [one]
    check = one.what.check
    same = [each for each in some if isinstance(each.what, OF_A_CHECK) and each.what.check == check]
    return [each for each in same if each.id != one.id] + [one]


def rests_on(one: e.Entry, some: Iterable[e.Entry]) -> list[e.Entry]:
    """The repairs and re-tests among others on which a re-test or a release rests."""
    if not isinstance(one.what, (e.Retest, e.Release)):
        return []
    steps = [each for each in some if isinstance(each.what, (e.Repair, e.Retest)) and each.what.fault == one.what.fault]
    return sorted((each for each in steps if each.order < one.order), key=lambda each: each.order)


def lacking(machine: str, entries: Sequence[e.Entry], known: Known, one: e.Entry) -> list[str]:
    """Why a release leaves its fault open as things are known; none for anything else."""
    if not isinstance(one.what, e.Release):
        return []
    state = fold(machine, entries, known)
    if state is None or state.fault(one.what.fault) is None:
        return []
    for each, before in in_turn(machine, entries, known):
        if each.id == one.id:
            return list(one.what.lacks(before.faults.get(one.what.fault)))
    return []


def still_held(reader: Reader, ids: Iterable[str]) -> list[str]:
    """A line for each release among accepted entries that ends nothing: what it lacks."""
    found, some = [], _waiting_entries(reader)
    for one in (reader.entry(id) for id in ids):
        if one is None or one.machine is None:
            continue
        why = lacking(one.machine, reader.of_machine(one.machine), reader.known(), one)
        waits = ", ".join(each.id[-SHORT:] for each in rests_on(one, some))
        tag = reader.tags().get(one.machine, "")
        more = [_("accept {ids}, too", ids=waits)] if waits else []
        found += [_("{machine}: the hold stays: {why}", machine=tag, why="; ".join([each, *more])) for each in why]
    return found


def decide(
    writer: Writer, ids: Collection[str], *, accepted: bool, why: str, by: str, now: datetime
) -> tuple[e.Entry, tuple[str, ...]]:
    """Accept or refuse entries that wait, by their ids or as much of their ends as tells them apart; the entry that
    says so, and the ids of all that it decides.

    Raises Refused for what does not wait, and where nobody here would be a supervisor any more.
    """
    with writer.writing_as(by):  # what others decide while this one waits for its turn waits no more
        writer.must_be_allowed(e.CarryDecision.kind, by)
        decided = _what_is_decided(writer, ids)
        if accepted and "supervisor" not in writer.roles_with(decided).values():
            raise Refused(_("there would be no supervisor here any more; enrol another first"))
        what = e.CarryDecision(entries=decided, accepted=accepted, why=clean(why))
        return writer.add(what, by=by, now=now), decided


def _what_is_decided(reader: Reader, ids: Iterable[str]) -> tuple[str, ...]:
    some, state = _waiting_entries(reader), foreign.kept(reader.db)
    decided: dict[str, None] = {}
    for id in ids:
        one = reader.entry(id)
        if one is None:
            raise Refused(_("{id}: no such entry; `reelcare carry waiting` lists what waits", id=id))
        _refuse_others(one, state.get(one.id, ""), id)
        decided |= dict.fromkeys(each.id for each in together(one, some))
    return tuple(decided)


def _refuse_others(one: e.Entry, why: str, id: str) -> None:
    if why == "void":
        raise Refused(_("{id}: no terminal may enter this, so it has no effect here", id=id))
    if why == queries.TOLD:
        raise Refused(_("{id}: counts already; accept {by}, who wrote it", id=id, by=one.by))
    if not why:
        raise Refused(_("{id}: does not wait; `reelcare carry waiting` lists what does", id=id))

"""Carry files: everything that a register knows, in one file, to be brought into another.

What comes in is what was sealed elsewhere: no entry is changed, and nothing that is here is. Coming in twice, in
another order, or by way of a third terminal leads to the same entries. What belongs to one register alone (its PINs,
its name) never travels. `carry_format.py` has the form of the files.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO, Any, NamedTuple, TypeVar

import peewee as pw

from reelcare import files
from reelcare.core import entries as e
from reelcare.core import people
from reelcare.core.text import _, mark, plural
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Damaged, Refused, into_a_file
from reelcare.register.exchange import carry_format
from reelcare.register.exchange.carry_format import Bundle, Carried
from reelcare.register.integrity import chain
from reelcare.register.reading import doubts, foreign, queries, states
from reelcare.register.reading.reader import Reader, in_pages
from reelcare.register.timestamps import milliseconds, moment
from reelcare.register.writing.writer import Writer

E = EntryRow
OF_A_REGISTER = {e.CarriedIn.kind, e.CarryDecision.kind}
"""The kinds that say what another register did with what it was given; a file that brings no more is not recorded, so
that terminals which have told each other everything come to rest."""
COLUMNS = tuple(getattr(E, name) for name in Carried._fields)
PAGE = 5000
What = TypeVar("What", bound=e.Kind)


@dataclass(slots=True)
class CarryPreview:
    """What a carry file brings: how many entries are new, of which kinds, and what a person should know of before."""

    new: int = 0
    known: int = 0
    kinds: dict[str, int] = field(default_factory=dict)
    machines: list[str] = field(default_factory=list)
    holds: list[str] = field(default_factory=list)
    people: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


# out


def carry_out(reader: Reader, path: Path, *, now: datetime) -> int:
    """Write everything into a new file; how many entries that was. Raises Refused where the file exists."""
    if path.exists():
        raise Refused(_("{path}: exists already; name another file", path=path))
    count = 0

    def write(file: IO[bytes]) -> None:
        nonlocal count
        with reader.db.reading():
            count = int(E.select().count(reader.db))
            rows, made = (lambda: _by_chains(reader)), milliseconds(now)
            carry_format.write(file, reader.terminal, made, count, rows, demo=reader.is_demo)

    with into_a_file(path, made=mark("written here")):
        files.write_whole(path, write)
    return count


def _by_chains(reader: Reader) -> Iterator[tuple[Any, ...]]:
    """Every entry, chain after chain; a few thousand are held at a time."""

    def after(last: tuple[Any, ...] | None) -> list[tuple[Any, ...]]:
        reached = (last[5], last[8]) if last is not None else ("", 0)
        query = E.select(*COLUMNS).where(pw.Tuple(E.terminal, E.place) > reached)
        return reader.db.fetch(query.order_by(E.terminal, E.place).limit(PAGE))

    for rows in in_pages(after, PAGE):
        yield from rows


# in


def look(reader: Reader, bundle: Bundle) -> CarryPreview:
    """What a carry file would bring; nothing is written. Raises Refused as `carry_in` does."""
    _refuse_invented(reader, bundle)
    return _preview(reader, bundle, _fresh(reader, bundle))


def _preview(reader: Reader, bundle: Bundle, fresh: Sequence[Carried]) -> CarryPreview:
    found = CarryPreview(new=len(fresh), known=len(bundle.entries) - len(fresh))
    tags = {tag.casefold(): machine for machine, tag in reader.tags().items()}
    called = _called(reader, bundle)
    enrolled = reader.roles()
    allowed = {**enrolled, **{what.name: what.role for _one, what in _of_kind(bundle, e.Enrolled)}}
    for one in fresh:
        found.kinds[one.kind] = found.kinds.get(one.kind, 0) + 1
        what = one.what()
        if isinstance(what, e.Carded) and one.machine == one.id:
            tag = str(what.card.get("tag", ""))
            found.machines.append(tag)
            if tags.get(tag.casefold(), one.id) != one.id:
                found.warnings.append(_("two machines are called {tag}: revise the card of one of them", tag=tag))
        elif isinstance(what, e.Fault) and what.holds:
            tag = called.get(one.machine or "", "")
            found.holds.append(f"{tag}, {what.of_part}" if tag else what.of_part)
        elif isinstance(what, e.Enrolled) and enrolled.get(what.name) != what.role:
            found.people.append(f"{what.name}, {what.role}")
        if not e.needs_no_name(what, one.person):
            found.warnings += _doubts(one, allowed)
    found.warnings += _runs_twice(reader, fresh)
    if _is_from_a_copy(reader, fresh):
        found.warnings.append(_("it comes from a copy of this very register: this one takes another name from now on"))
    found.warnings = list(dict.fromkeys(found.warnings))
    return found


def _called(reader: Reader, bundle: Bundle) -> dict[str, str]:
    """The tag of each machine: in this register, else on its newest card in the file."""
    cards = _of_kind(bundle, e.Carded)
    return {one.machine: str(what.card.get("tag", "")) for one, what in cards if one.machine} | reader.tags()


def _of_kind(bundle: Bundle, kind: type[What]) -> Iterator[tuple[Carried, What]]:
    """The entries of a kind in a carry file in their order, each with what it says."""
    some = [one for one in bundle.entries if one.kind == kind.kind]
    for one in sorted(some, key=lambda entry: (entry.happened, entry.recorded, entry.id)):
        what = one.what()
        assert isinstance(what, kind)
        yield one, what


def _doubts(one: Carried, allowed: Mapping[str, str]) -> Iterator[str]:
    """What is doubtful about who wrote an entry."""
    if one.person not in allowed:
        yield _("an entry by {person}, who is enrolled on neither side", person=one.person)
    elif not people.may(allowed[one.person], e.KINDS[one.kind].least_role):
        yield _(
            "{person} ({role}) wrote a {kind}, which only {least} can write", person=one.person,
            role=_(allowed[one.person]), kind=_(one.kind), least=_(e.KINDS[one.kind].least_role),
        )  # fmt: skip


def _runs_twice(reader: Reader, fresh: Sequence[Carried]) -> Iterator[str]:
    """Runs of a machine at a time at which another one counts: likely one run that was logged on two terminals. Of two
    the one that was recorded later is named, on either of them: if each took the other's back, none would count."""
    cancelled = {one.what().subject() for one in fresh if one.kind == e.Correction.kind}
    brought: dict[str, list[CarriedRun]] = {}
    tags = reader.tags()
    for one in fresh:
        what = one.what() if one.kind in (e.Carded.kind, e.Run.kind) else None
        if isinstance(what, e.Carded) and one.machine is not None:
            tags.setdefault(one.machine, str(what.card.get("tag", "")))
        elif isinstance(what, e.Run) and one.machine is not None and one.id not in cancelled:
            run = CarriedRun(what.started, what.ended, moment(one.recorded), one.id, is_new=True)
            brought.setdefault(one.machine, []).append(run)
    for machine, runs in brought.items():
        here = reader.select(queries.of_kind(machine, e.Run.kind))
        known = [
            CarriedRun(*one.what.span(one.happened), one.recorded, one.id, is_new=False)
            for one in here
            if one.id not in cancelled
        ]
        twice = _overlapping(known + runs)
        if twice:
            first = twice[0].begins.astimezone(reader.zone)
            yield plural(
                "{tag}: {n} run, that of {first:%Y-%m-%d %H:%M} ({id}), overlaps another one that was recorded before "
                "it; where it is the same run, `reelcare log correct ID --why TEXT` takes it back",
                "{tag}: {n} runs, the first of {first:%Y-%m-%d %H:%M} ({id}), overlap others that were recorded before "
                "them; where they are the same runs, `reelcare log correct ID --why TEXT` takes each of them back",
                len(twice), tag=tags.get(machine, ""), first=first, id=twice[0].id[-8:],
            )  # fmt: skip


class CarriedRun(NamedTuple):
    """When a run began and ended, when it was recorded, its entry, and whether it was not here before."""

    begins: datetime
    ends: datetime
    recorded: datetime
    id: str
    is_new: bool


def _overlapping(spans: Sequence[CarriedRun]) -> list[CarriedRun]:
    """Of two that overlap, one of which was not here before, the one that was recorded later; by their time."""
    found: dict[str, CarriedRun] = {}
    latest: CarriedRun | None = None
    for one in sorted(spans):
        if latest is not None and one.begins < latest.ends and (one.is_new or latest.is_new):
            later = max(one, latest, key=lambda each: (each.recorded, each.id))
            found[later.id] = later
        if latest is None or one.ends > latest.ends:
            latest = one
    return sorted(found.values())


def clock_ahead(bundle: Bundle, now: datetime) -> timedelta:
    """How far the clock of the other terminal seems to be ahead; nothing where it is not."""
    newest = max([bundle.made, *(one.recorded for one in bundle.entries)], default=0)
    return max(timedelta(0), moment(newest) - now)


def carry_in(writer: Writer, bundle: Bundle, *, by: str, now: datetime) -> CarryPreview:
    """Bring a carry file in, all or nothing, signed by an enrolled person; returns what it brought.

    Raises NotAllowed where `by` may not, Refused for a demo's file anywhere but in a demo. Nothing is signed where it
    brings nothing, or only what was signed elsewhere.
    """
    _refuse_invented(writer, bundle)
    with writer.writing_as(by):
        writer.must_be_allowed(e.CarriedIn.kind, by)
        found = bring(writer, bundle, came=now)
        if found.kinds.keys() - OF_A_REGISTER:
            what = e.CarriedIn(digest=bundle.digest, terminal=bundle.terminal, brought=found.kinds)
            writer.add(what, by=by, now=now)
    # whoever brings chains together is a witness of all of them
    writer.witness_heads()
    return found


def _refuse_invented(reader: Reader, bundle: Bundle) -> None:
    """Raise Refused where invented machines and people would come into a register of somebody's own: what is in it once
    is never taken out."""
    if bundle.demo and not reader.is_demo:
        says = mark(
            "{path}: from a demo, whose machines and people are invented; nothing was brought in. To go on with a demo "
            "as your own register, copy it there with `reelcare copy PATH --own`"
        )
        raise Refused(_(says, path=bundle.path))


def bring(writer: Writer, bundle: Bundle, *, came: datetime | None) -> CarryPreview:
    """Bring entries in, in the transaction that runs. Where another register wrote them, they `came` at a moment; what
    this very register wrote before (None) counts as it did."""
    fresh = _fresh(writer, bundle)
    found = _preview(writer, bundle, fresh)
    if not fresh:
        return found
    names = _branches(writer, fresh)
    rows = [(*one._replace(terminal=names[one.digest]), one.what().subject()) for one in fresh]
    if came is not None:
        parts = foreign.ranges_of((names[one.digest], one.place) for one in fresh)
        foreign.keep_brought(writer.db, parts)
        if clock_ahead(bundle, came) > doubts.MUCH_AHEAD:
            at = milliseconds(came)
            late = {names[one.digest] for one in fresh if moment(one.recorded) - came > doubts.MUCH_AHEAD}
            doubts.keep_ahead(writer.db, {name: [(*one, at) for one in parts[name]] for name in late})
    writer.db.insert_many(E, (*COLUMNS, E.refers), rows)
    writer.cache.clear()
    if _is_from_a_copy(writer, fresh):
        writer.take_another_name()
    machines = {one.machine for one in fresh if one.machine is not None}
    for one in fresh:
        machines |= states.changed_by(writer, one.what(), one.machine)
    machines |= doubts.refresh(writer.db, set(names.values()))
    machines |= foreign.refresh(writer)
    writer.cache.clear()
    for machine in sorted(machines):
        state = writer.fold(machine)
        if state is not None and state.card:
            states.keep(writer, machine, state)
    return found


def _fresh(reader: Reader, bundle: Bundle) -> list[Carried]:
    """The entries that are not here yet. Raises Damaged where one of them has the id of another that is, or closes a
    circle of corrections."""
    here = reader.db.pairs(E.select(E.id, E.digest))
    digests = set(here.values())
    fresh = [one for one in bundle.entries if one.digest not in digests]
    corrections = {one.id: one for one in fresh if one.kind == e.Correction.kind}
    for one in fresh:
        if one.id in here:
            raise Damaged(_("{path}: entry {id} is here already, and says something else", path=bundle.path,
                             id=one.id[-8:]))  # fmt: skip
    if corrections:
        query = E.select(E.id, E.refers).where(E.kind == e.Correction.kind)
        cancels = reader.db.pairs(query)
        cancels |= {id: str(one.what().subject()) for id, one in corrections.items()}
        carry_format.refuse_circle(bundle.path, cancels)
    return fresh


def columns(reader: Reader, bundle: Bundle) -> dict[str, str]:
    """By digest the terminal's column of every entry of a carry file, here already or to come."""
    here = reader.db.pairs(E.select(E.digest, E.terminal))
    return here | _branches(reader, [one for one in bundle.entries if one.digest not in here])


def _is_from_a_copy(reader: Reader, fresh: Sequence[Carried]) -> bool:
    """Whether entries were written under this terminal's own name elsewhere."""
    return any(chain.base(one.terminal) == chain.base(reader.terminal) for one in fresh)


def _branches(reader: Reader, fresh: Sequence[Carried]) -> dict[str, str]:
    """The terminal's column of each entry, by its digest: its name, or its name and the mark of a branch.

    Where the same terminal wrote on in two copies of its register, one place of its chain has two entries. The first
    one to be here keeps the name; the other branch is marked by the digest of its first entry, and its chain goes on
    from the place of the fork.
    """
    at: dict[tuple[str, int], list[tuple[str, str]]] = {}
    used: set[tuple[str, int]] = set()
    for terminal, place, digest in reader.db.fetch(E.select(E.terminal, E.place, E.digest)):
        at.setdefault((chain.base(str(terminal)), int(place)), []).append((str(digest), str(terminal)))
        used.add((str(terminal), int(place)))
    names: dict[str, str] = {}
    for one in sorted(fresh, key=lambda entry: (entry.terminal, entry.place, entry.digest)):
        name = one.terminal
        for digest, column in at.get((one.terminal, one.place - 1), ()):
            if chain.digest(digest, one.place, *one.sealed) == one.digest:
                name = column
        if (name, one.place) in used:
            name = f"{one.terminal}{chain.FORK}{one.digest[:8]}"
        names[one.digest] = name
        used.add((name, one.place))
        at.setdefault((one.terminal, one.place), []).append((one.digest, name))
    return names

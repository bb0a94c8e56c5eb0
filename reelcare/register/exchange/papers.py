"""A check that was answered on paper at the machine, and is entered as a whole afterwards.

The rules of this file: nothing is written before all of it was read; then everything is, in one transaction, dated as
it was done and marked as from paper. What was signed on paper is judged by the machine as it stood then, and signed
here by the one who enters it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from reelcare.core import entries as e
from reelcare.core.checks.verdict import Given, Signature
from reelcare.core.text import _, mark
from reelcare.register.acts.checks import Check, newest_on, open_check
from reelcare.register.acts.signing import is_last, refuse_held, refuse_unsigned, refuse_what_counts_not, what_is_signed
from reelcare.register.acts.walk_rounds import followed_by, needs_word
from reelcare.register.acts.walk_starts import begin_drafts
from reelcare.register.errors import Refused
from reelcare.register.reading import queries
from reelcare.register.reading.reader import Reader
from reelcare.register.timestamps import milliseconds
from reelcare.register.writing.writer import Writer

UNWRITTEN = "~{:04}"
"""The id of what is not written yet, by its place on the paper: it comes after all that is written, and after what
stands above it, of the same moment."""


@dataclass(frozen=True)
class Paper:
    """A check as it stands on a paper: the check that it goes on from, and what was read so far."""

    going: Check
    by: str
    at: datetime
    """When the next answer was given."""
    done: tuple[Given | Signature, ...] = ()
    """Answers and signatures in their order; a signature without a gate is that of the whole check."""

    @cached_property
    def here(self) -> Check:
        """The check as it is with what was read so far."""
        walk = self.going.walk
        given = tuple(one for one in self.done if isinstance(one, Given))
        signed = tuple(one for one in self.done if isinstance(one, Signature) and one.gate)
        return replace(self.going, walk=replace(walk, given=(*walk.given, *given), signed=(*walk.signed, *signed)))

    def answered(self, question: str, seen: str, note: str = "") -> Paper:
        """The paper with one more answer. Raises Refused for one that cannot be read."""
        given = Given(question, seen, self.at, self.by, id=UNWRITTEN.format(len(self.done)), note=note, from_paper=True)
        judgement = self.going.walk.judgement(given)
        if judgement.judged == "unreadable":
            raise Refused(judgement.says)
        return replace(self, done=(*self.done, given))

    def signed(self, reader: Reader, at: datetime) -> Paper:
        """The paper with what comes next signed at a time, a gate or the whole check; the answers since the signature
        before are of that time. Raises Refused where they do not bear it out, or something held the machine then."""
        if at < self.at:
            then, before = (f"{one.astimezone(reader.zone):%Y-%m-%d %H:%M}" for one in (at, self.at))
            raise Refused(_("{then} is before the time above it on the paper ({before})", then=then, before=before))
        last = max((place for place, one in enumerate(self.done, 1) if isinstance(one, Signature)), default=0)
        moved = tuple(one._replace(at=at) if isinstance(one, Given) else one for one in self.done[last:])
        dated = replace(self, done=(*self.done[:last], *moved), at=at)
        gate = refuse_unsigned(dated.here.walk, at, self.by)
        for one in dated.here.walk.counting().values():
            if one.from_paper and not one.note and self.needs_word(reader, one.question):
                says = mark("{question}: held because of the place; say in one line what has changed there")
                raise Refused(_(says, question=one.question))
        if self.going.walk.sheet.gates:
            refuse_held(reader, self.going.machine, at, self.going.walk.sheet, reader.state(self.going.machine, at))
        return replace(dated, done=(*dated.done, Signature(gate, at, self.by, UNWRITTEN.format(len(self.done)))))

    @property
    def is_complete(self) -> bool:
        """Whether all of it is signed."""
        last = self.done[-1] if self.done else None
        return isinstance(last, Signature) and is_last(self.going.walk.sheet, last.gate)

    def write(self, writer: Writer, *, now: datetime) -> tuple[e.Entry, ...]:
        """Write all of it at once, and say what was written. Raises Refused, also for what others have written since it
        was begun: another check, or what holds the machine as of then."""
        with writer.writing_as(self.by):
            if not self.going.is_written:
                refuse_entered(writer, self.going, self.done[0].at)
            here, begins = self._judged_now(writer).here, list[e.Draft]()
            if not here.is_written:
                id, begins = begin_drafts(writer, here, now)
                here = replace(here, id=id)
            written = writer.append([*begins, *self._drafts(writer, here, now)], by=self.by, now=now)
            refuse_what_counts_not(writer, written)
            writer.cache.drop(("check", here.id))
            return written

    def _judged_now(self, reader: Reader) -> Paper:
        """The same paper on its check as that is by now. Raises Refused."""
        paper, began = replace(self, at=self.done[0].at, done=()), self.done[0].at
        if self.going.is_written:
            paper = paper_of(open_check(reader, self.going.id), by=self.by, at=began)
        for one in self.done:
            if isinstance(one, Signature):
                paper = paper.signed(reader, one.at)
            else:
                paper = paper.answered(one.question, one.seen, one.note)
        return paper

    def needs_word(self, reader: Reader, question: str) -> bool:
        """Whether a right answer ends a hold of the place only with a word of what changed."""
        judged = [self.going.walk.judgement(one) for one in self.here.walk.tries(question) if one.from_paper]
        return any(one.holds and one.owner == "place" for one in judged) or needs_word(reader, self.going, question)

    def _drafts(self, writer: Writer, here: Check, now: datetime) -> Iterator[e.Draft]:
        """What the paper writes, in its order: answers with what follows from them, signatures with theirs."""
        state, own = writer.state(here.machine, self.done[0].at), dict[str, e.Draft]()
        known = {(one.part, one.question) for one in state.faults}

        def draft(what: e.Kind, at: datetime) -> e.Draft:
            return e.Draft(what=_marked(what), machine=here.machine, happened=at, id=writer.ids.next(milliseconds(now)))

        for one in self.done:
            if isinstance(one, Signature):
                found = what_is_signed(writer, here, one.gate, one.at, state, known)
                known |= {(fault.part, fault.question) for fault in found if isinstance(fault, e.Fault)}
                yield from (draft(what, one.at) for what in found)
                continue
            judgement = here.walk.judgement(one)
            for what in followed_by(writer, here, one, judgement, state):
                if not (isinstance(what, e.Fault) and one.question in own):
                    made = draft(what, one.at)
                    yield made
                    if isinstance(what, e.Fault):
                        own[one.question] = made
            if judgement.holds and judgement.owner == "machine":
                return  # the check ends there
            if judgement.puts_right and one.question in own:
                yield from _put_right(own.pop(one.question), here, one, draft)


def _put_right(
    fault: e.Draft, here: Check, given: Given, draft: Callable[[e.Kind, datetime], e.Draft]
) -> Iterator[e.Draft]:
    """What ends a hold that stands further up on the same paper; one of the place needs a word of what changed."""
    assert isinstance(fault.what, e.Fault)
    if fault.what.owner != "place" or given.note:
        yield draft(e.PutRight(fault=fault.id, check=here.id, says=given.note), given.at)


def _marked(what: e.Kind) -> e.Kind:
    """An entry, marked as from paper where it is of the check itself."""
    return replace(what, from_paper=True) if isinstance(what, e.Answered | e.GateSigned | e.CheckEnded) else what


def which_sheet(going: Check) -> str:
    """Which sheet is asked, in words: the figures of a paper that was printed of a former one mean something else."""
    says = mark("Sheet {sheet}. Where the paper names another, its figures mean something else: go by its words.")
    return _(says, sheet=going.walk.sheet.on_paper)


def refuse_entered(reader: Reader, going: Check, at: datetime) -> None:
    """Raise Refused where a check on the sheet of a paper went on when that was filled in, and has ended: a machine is
    walked round once at a time, so that is the paper, entered before."""
    for one in newest_on(reader, going.machine, going.sheet_id, *queries.happened(at)):
        if one.ended is not None and at <= one.ended.happened and one.verdict != "left":
            when = f"{one.begun.happened.astimezone(reader.zone):%Y-%m-%d %H:%M}"
            says = mark(
                "the check of {when} by {by} is on this sheet: if that is this paper, it is entered already; "
                "else give the time at which this one was begun"
            )
            raise Refused(_(says, when=when, by=one.begun.by))


def paper_of(going: Check, *, by: str, at: datetime) -> Paper:
    """The paper of a check, as yet without answers. Raises Refused where the check has answers of a later time."""
    if going.is_written and going.last > at:
        raise Refused(
            _("the open check has answers later than this paper: name a later time, or give that check up first")
        )
    if not going.is_written:  # it begins when it was filled in
        going = replace(going, begun=going.begun._replace(happened=at), walk=replace(going.walk, begun=at))
    return Paper(going, by, at)

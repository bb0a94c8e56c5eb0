"""Walk-rounds: begun, answered one question at a time, and ended.

Each answer is an entry of its own, written when it is given. What an answer means is the core's to say; one that holds
for the machine's sake ends the check and raises its fault in the same transaction, one that holds for another raises
its fault and waits until the question is answered right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from reelcare.core import entries as e
from reelcare.core.checks.limits import Judgement
from reelcare.core.checks.sheet import Question
from reelcare.core.checks.verdict import Given
from reelcare.core.state.machine_state import MachineState
from reelcare.core.text import _, mark
from reelcare.register.acts.checks import Check, check, fault_of, open_check
from reelcare.register.acts.signing import holds_of, sign
from reelcare.register.acts.walk_starts import (
    begin,
    begin_drafts,
    first_of_the_set,
    half_way,
    is_stopped,
    prepare,
    prepare_again,
)
from reelcare.register.errors import Refused
from reelcare.register.reading.reader import Reader
from reelcare.register.writing.writer import Writer

__all__ = [
    "HELD_AHEAD", "AfterAnswer", "Check", "answer", "begin", "check", "first_of_the_set", "half_way", "held_still",
    "holds_of", "is_stopped", "leave", "needs_word", "prepare", "prepare_again", "sign", "to_ask",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class AfterAnswer:
    """What an answer did: its judgement, the check as it stands now, and the fault it raised."""

    judgement: Judgement
    check: Check
    fault: e.Entry | None = None


def answer(
    writer: Writer,
    going: Check | str,
    question: str,
    seen: str,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
    note: str = "",
) -> AfterAnswer:
    """Answer one question of a check, given by its id, and write what follows from it; one that is not written yet is
    begun with it.

    Raises Refused for an answer that cannot be read, and where the check is over by then; nothing is written then.
    """
    with writer.writing_as(by):
        return _answer(writer, going, Given(question, seen, happened or now, by, note=note), now)


def _answer(writer: Writer, going: Check | str, given: Given, now: datetime) -> AfterAnswer:
    begins = list[e.Draft]()
    if isinstance(going, Check) and not going.is_written:
        id, begins = begin_drafts(writer, going, now)
        before = replace(going, id=id)
    else:
        before = open_check(writer, going if isinstance(going, str) else going.id)
    kept: Check | None = writer.cache.known(("check", before.id))
    judgement = before.walk.judgement(given)
    if judgement.judged == "unreadable":
        raise Refused(judgement.says)
    if not judgement.holds:  # what holds counts whenever it is said
        _refuse_earlier(writer, before, given.at)
    followed = [
        e.Draft(what=one, machine=before.machine, happened=given.at)
        for one in followed_by(writer, before, given, judgement)
    ]
    written = writer.append([*begins, *followed], by=given.by, now=now)
    if not begins:  # nothing else has come in: it need not be read again
        # with every signature: which of them count is asked of the state each time
        writer.cache.put(("check", before.id), _after(kept or before, written))
    fault_entry = next((one for one in written if isinstance(one.what, e.Fault)), None)
    return AfterAnswer(judgement, check(writer, before.id), fault_entry)


def _refuse_earlier(reader: Reader, here: Check, at: datetime) -> None:
    """Raise Refused for an answer that is dated before the last one, as it would not count and be asked for ever: a
    clock was set back, or another terminal's is ahead."""
    if here.is_written and at < here.last:
        now, last = (f"{one.astimezone(reader.zone):%Y-%m-%d %H:%M:%S}" for one in (at, here.last))
        raise Refused(
            _("{now} is before the last answer of this check ({last}), so this one would not count: set the clock "
              "right, or give this check up and begin another", now=now, last=last)
        )  # fmt: skip


def followed_by(
    reader: Reader, before: Check, given: Given, judgement: Judgement, state: MachineState | None = None
) -> Iterator[e.Kind]:
    """What an answer writes in a state of the machine (None: now): itself, and what it holds, ends or puts right."""
    judged, question = judgement.judged, given.question
    assert judged != "unreadable"
    yield e.Answered(check=before.id, question=question, seen=given.seen, judged=judged, note=given.note)
    faults = (state or reader.state(before.machine)).faults
    mine = [one for one in faults if one.question == question and one.ends_by_answer]
    if judgement.holds and judgement.owner == "machine":
        yield e.CheckEnded(check=before.id, verdict="held")
    if judgement.holds and (judgement.owner == "machine" or not mine):
        fault = fault_of(reader, before, given, given.at, state)
        assert fault is not None
        yield fault
    if judgement.puts_right:
        says = given.note.strip()
        for one in mine:
            if one.owner != "place" or one.moved or says:
                yield e.PutRight(fault=one.id, check=before.id, says=says)


def needs_word(reader: Reader, here: Check, question: str) -> bool:
    """Whether a right answer ends a hold of the place only with a word of what changed: neither its place nor its set
    did."""
    faults = reader.state(here.machine).faults
    return any(one.question == question and one.owner == "place" and not one.moved for one in faults)


def to_ask(reader: Reader, here: Check, at: datetime, by: str) -> Question | None:
    """The question to ask somebody now; None where a signature comes next, as far as an answer can bring it about."""
    return here.walk.next_in_gate(at, by) or held_still(reader, here)


HELD_AHEAD = mark("It holds the machine, so it is asked now; at its own gate it is asked once more.")
"""Said with a question of a later gate whose hold keeps the gate before it from being signed."""


def held_still(reader: Reader, here: Check) -> Question | None:
    """The first question with a hold that a right answer ends and that is still open; None where there is none. Asked
    when everything before a signature is answered: the question must then be looked at again, because nothing has
    changed at the place and nobody said what did, or because it belongs to a later gate."""
    held = {one.question for one in reader.state(here.machine).faults if one.ends_by_answer and one.status == "open"}
    return next((one for one in here.walk.sheet.questions if one.id in held), None)


def _after(before: Check, written: Sequence[e.Entry]) -> Check:
    """A check after entries that were just written about it."""
    ended = next((one for one in written if isinstance(one.what, e.CheckEnded)), before.ended)
    given = sorted([*before.walk.given, *e.given_in(written)], key=lambda one: (one.at, one.id))
    signed = (*before.walk.signed, *e.signatures_in(written))
    return replace(before, ended=ended, walk=replace(before.walk, given=tuple(given), signed=signed))


def leave(writer: Writer, id: str, why: str, *, by: str, now: datetime, happened: datetime | None = None) -> e.Entry:
    """Give a check up, with the reason. It clears nothing."""
    here = open_check(writer, id)
    if not why.strip():
        raise Refused(_("why: say in a few words why the check is given up"))
    what = e.CheckEnded(check=id, verdict="left", why=why)
    return writer.add(what, machine=here.machine, by=by, now=now, happened=happened)

"""Faults, from the day they are seen to their release."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta

from reelcare.core import units
from reelcare.core.checks.sheet import Question
from reelcare.core.checks.verdict import Given, Walk
from reelcare.core.entries.base import Context, Entry, Kind, UpdateScope, WaitsFor, day_problems
from reelcare.core.parts import PARTS, default_retest
from reelcare.core.scales import WHOLE, figure_at
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import ENDS_BY, FaultContent, Holds, OpenFault
from reelcare.core.state.plans import Known
from reelcare.core.text import _, in_english, mark
from reelcare.core.wording import Words, nearest, said, with_answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault(Kind, FaultContent):
    """A fault (the state). It holds the machine at once, or must be ended by a limit and holds from then on."""

    kind = "fault"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "bad"
    witnessed = True

    def problems(self, context: Context) -> Iterator[str]:
        if self.part not in PARTS:
            yield _("{part}: not a part{nearest}", part=self.part, nearest=nearest(self.part, PARTS))
        if not self.says:
            yield _("says: nothing; say what is wrong")
        if self.fix_by_day is not None:
            yield from day_problems(_("fix by"), self.fix_by_day, context)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        content = {one.name: getattr(self, one.name) for one in fields(FaultContent)}
        state.open_fault(OpenFault(id=entry.id, since=entry.happened, by=entry.by, **content))

    def describe(self, system: units.System = "metric") -> str:
        if self.holds:
            then = _(HOLDS[self.holds])
            if self.owner:
                then = f"{then}, {_(self.owner)}: {_(ENDS_BY[self.owner])}"
        else:
            totals = {"hours": self.fix_by_seconds, "metres": self.fix_by_millimetres, "runs": self.fix_by_runs}
            named = [figure_at(by, at / WHOLE[by], system) for by, at in totals.items() if at is not None]
            named += [self.fix_by_day] if self.fix_by_day else []
            then = _("to be fixed by {limits}", limits=_(" or ").join(named)) if named else _("noted")
        return f"{self.of_part} ({then})"

    def validate_content(self) -> None:
        if self.fix_by_day is not None:
            date.fromisoformat(self.fix_by_day)


def _open_fault(id: str, context: Context) -> OpenFault | None:
    return context.state.fault(id) if context.state is not None else None


def _not_open(id: str) -> str:
    return _("{id}: no open fault of this machine at that time", id=id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair(Kind):
    """Work done on a fault. The fault stays until its re-test has passed and somebody has released it."""

    kind = "repair"
    least_role = "mechanic"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    looked_up_by = "fault"
    fault: str
    says: str

    def problems(self, context: Context) -> Iterator[str]:
        if _open_fault(self.fault, context) is None:
            yield _not_open(self.fault)
        elif not self.says:
            yield _("says: nothing; say what was done")

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.repair_fault(self.fault, entry.happened, known)

    def describe(self, system: units.System = "metric") -> str:
        return _("repaired: {says}", says=self.says)


@dataclass(frozen=True, slots=True, kw_only=True)
class Retest(Kind):
    """The named re-test of a repaired fault, with what was seen."""

    kind = "re-test"
    least_role = "mechanic"
    reaches = UpdateScope.LIMITS
    news = "good"
    looked_up_by = "fault"
    fault: str
    passed: bool
    seen: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        fault = _open_fault(self.fault, context)
        if fault is None:
            yield _not_open(self.fault)
        elif fault.waits_for == "repair":
            yield _("{part}: not yet repaired; log the repair before its re-test", part=_(fault.part))

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The fault waits for another repair, or for its release where it was repaired."""
        fault = state.faults.get(self.fault)
        if not self.passed:
            state.move_fault(self.fault, "open")
        elif fault is not None and fault.waits_for != "repair":
            state.move_fault(self.fault, "re-tested")

    def waits_for(self, entry: Entry) -> WaitsFor:
        """One that did not pass waits for nothing."""
        return "name" if self.passed else ""

    def describe(self, system: units.System = "metric") -> str:
        return (_("passed") if self.passed else _("not passed")) + (f": {self.seen}" if self.seen else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Release(Kind):
    """The end of a fault, signed by somebody who may release."""

    kind = "release"
    least_role = "mechanic"
    reaches = UpdateScope.LIMITS
    news = "good"
    witnessed = True
    looked_up_by = "fault"
    fault: str
    says: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        """Its fault is repaired and, where it names a re-test, tested again."""
        yield from self.lacks(_open_fault(self.fault, context))

    def lacks(self, fault: OpenFault | None) -> Iterator[str]:
        """What its fault lacks before it can be released."""
        if fault is None:
            yield _not_open(self.fault)
        elif fault.waits_for == "repair":
            yield _("{part}: not yet repaired; log the repair before the release", part=_(fault.part))
        elif fault.waits_for == "re-test":
            yield _("{part}: its re-test has not passed yet ({retest})", part=_(fault.part), retest=fault.retest_shown)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The fault has ended, if what its release rests on counts."""
        fault = state.faults.get(self.fault)
        if fault is not None and fault.waits_for == "release":
            state.release_fault(self.fault)

    def describe(self, system: units.System = "metric") -> str:
        return _("released") + (f": {self.says}" if self.says else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class PutRight(Kind):
    """The end of a hold of the place, of an adjustment or of what passes: its question was answered right in `check`.
    `says` is what changed, where neither the place nor the set did."""

    kind = "put right"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "good"
    witnessed = True
    looked_up_by = "fault"
    fault: str
    check: str
    says: str = ""

    def problems(self, context: Context) -> Iterator[str]:
        """Its fault is open, and one that a right answer ends."""
        fault = _open_fault(self.fault, context)
        if fault is None:
            yield _not_open(self.fault)
        elif not fault.ends_by_answer:
            yield _(
                "{part}: held because of the machine itself; repair, re-test and release end it", part=_(fault.part)
            )
        elif fault.owner == "place" and not (fault.moved or self.says):
            yield _("{part}: say in a few words what has changed at the place", part=_(fault.part))

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """The hold has ended, if the answers of its check bear it out."""
        state.put_right(self.fault, self.check, self.says, known)

    def describe(self, system: units.System = "metric") -> str:
        return _("put right, and answered again") + (f": {self.says}" if self.says else "")


KINDS: tuple[type[Kind], ...] = (Fault, Repair, Retest, Release, PutRight)

HOLDS: dict[str, str] = {
    "both": mark("holds the machine"),
    "run": mark("holds it for a run"),
    "road": mark("holds it for the road"),
}
"""What a fault holds, in words."""
UNREAD_FIX_BY = {"runs": 1}
"""When a gauge that cannot be read must be mended (common practice, no source)."""
_SIDE: dict[str, Holds] = {"run": "run", "road": "road", "shop": "both", "season": "both"}


def fault_of(walk: Walk, given: Given, check: str, *, totals: tuple[int, int, int], day: datetime) -> Fault | None:
    """The fault that an answer raises, None where it raises none. Its sentences are English, as all that is kept, with
    what the person typed, and beside them in the other languages of the sheet: whoever reads it, whoever answered.

    `totals` are the machine's life totals (s, mm, runs), from which a fix-by limit counts.
    """
    question = walk.sheet.question(given.question)
    with in_english():
        judgement = walk.in_language("en").judgement(given)
    if question is None or judgement.judged != "wrong" or judgement.if_not == "note":
        return None
    says = with_answer(said(question.ask), judgement.says)
    if given.note:
        says = f"{says} ({given.note})"
    part = judgement.part or question.part
    if judgement.if_not == "stop":
        retest = said(question.retest) if question.retest else default_retest(part)
        return Fault(
            part=part,
            says=says,
            holds=_SIDE[walk.sheet.checks_for],
            check=check,
            question=question.id,
            retest=retest,
            owner="" if judgement.owner == "machine" else judgement.owner,
            says_by_language=_in_other_languages(question, given),
            retest_by_language={} if question.retest is None else _without_english(question.retest),
        )
    limits = (question.fix_by if not judgement.part else None) or UNREAD_FIX_BY
    seconds, millimetres, runs = totals
    return Fault(
        part=part,
        says=says,
        check=check,
        question=question.id,
        fix_by_seconds=seconds + limits["hours"] * 3600 if "hours" in limits else None,
        fix_by_millimetres=millimetres + limits["metres"] * 1000 if "metres" in limits else None,
        fix_by_runs=runs + limits["runs"] if "runs" in limits else None,
        fix_by_day=(day.date() + timedelta(days=limits["days"])).isoformat() if "days" in limits else None,
        says_by_language=_in_other_languages(question, given),
    )


def _in_other_languages(question: Question, given: Given) -> dict[str, str]:
    """What was asked and what was seen, in each language of the sheet but English."""
    choice = question.choice(given.seen)
    note = f" ({given.note})" if given.note else ""
    return {
        language: with_answer(ask, said(choice.says, language) if choice is not None else given.seen) + note
        for language, ask in _without_english(question.ask).items()
    }


def _without_english(words: Words) -> dict[str, str]:
    return {language: text for language, text in words.items() if language != "en"}

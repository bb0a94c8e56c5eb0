"""Sheets as they were asked, and walk-rounds: begun, answered and ended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from reelcare.core import units
from reelcare.core.canonical_json import digest_of
from reelcare.core.checks.sheet import GATE_TITLES, Sheet
from reelcare.core.checks.verdict import Given, LaterSet, Signature, Walk
from reelcare.core.entries.base import Entry, Json, Kind, UpdateScope
from reelcare.core.machine.card import Card
from reelcare.core.state.fold_state import FoldState
from reelcare.core.state.machine_state import Answer, OpenCheck
from reelcare.core.state.plans import Known
from reelcare.core.text import _


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheeted(Kind):
    """A sheet as it was when it was first asked here (`sheet.to_plain`); checks name it, so that none repeats it."""

    kind = "sheet"
    least_role = "operator"
    reaches = UpdateScope.NOTHING
    news = "neutral"
    sheet: Mapping[str, Json]

    def describe(self, system: units.System = "metric") -> str:
        return _("sheet {sheet}", sheet=self.sheet.get("id", ""))

    def subject(self) -> str | None:
        return digest_of(dict(self.sheet))


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckBegun(Kind):
    """A walk-round begun, on the sheet that the entry `sheet` keeps.

    `left_out` are the questions that the card says do not apply; `planned` are the values of the day's set that
    answers are judged against; `again_of` is the check of the first run on the same set, where this one asks
    only what can have changed since. One that `follows_set` is held to a set kept later from then on.
    """

    kind = "check begun"
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "neutral"
    by_person = True
    sheet: str
    sheet_id: str
    checks_for: str
    language: str = "en"
    left_out: tuple[str, ...] = ()
    planned: Mapping[str, str] = field(default_factory=dict)
    again_of: str = ""
    follows_set: bool | None = None

    def validate_content(self) -> None:
        from reelcare.core.checks.limit_names import validate_plan  # only what comes from elsewhere needs it

        validate_plan(self.planned)

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.begin_check(self._open(state, entry))

    def apply_waiting(self, state: FoldState, entry: Entry, known: Known) -> None:
        """What it says of the machine counts; nobody goes on with it, on a sheet and a set that nobody here chose."""
        state.begin_check(replace(self._open(state, entry), told=True))

    def _open(self, state: FoldState, entry: Entry) -> OpenCheck:
        return OpenCheck(
            id=entry.id, sheet=self.sheet_id, kept_sheet=self.sheet, checks_for=self.checks_for, begun=entry.happened,
            by=entry.by, card=state.card or state.first_card, language=self.language, left_out=self.left_out,
            planned=self.planned, again_of=self.again_of, follows_set=bool(self.follows_set),
        )  # fmt: skip

    def describe(self, system: units.System = "metric") -> str:
        return _("{sheet} begun", sheet=self.sheet_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered(Kind):
    """One question answered. `seen` is what was seen (a choice's id, or the reading as typed, with its unit); one
    `from_paper` was written on a blank at the machine, and entered later."""

    kind = "answer"
    after_retirement = True  # whether the machine is in the yard is asked when the check is begun
    least_role = "operator"
    reaches = UpdateScope.STATE
    news = "neutral"
    by_person = True
    looked_up_by = "check"
    check: str
    question: str
    seen: str
    judged: Literal["right", "wrong", "noted"]
    note: str = ""
    from_paper: bool | None = None

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        state.take_answer(self.check, Answer(self.question, self.seen, entry.happened, entry.id, entry.by), known)

    def apply_waiting(self, state: FoldState, entry: Entry, known: Known) -> None:
        """A wrong answer takes the clearance away; a right one waits."""
        state.doubt_answer(self.check, Answer(self.question, self.seen, entry.happened, entry.id, entry.by), known)

    def describe(self, system: units.System = "metric") -> str:
        says = f"{self.question}: {self.seen} ({_(self.judged)})" + (f", {self.note}" if self.note else "")
        return _on_paper(says, self.from_paper)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckEnded(Kind):
    """A walk-round ended: `verdict` is "passed" (signed as complete), "held", or "left" (given up, with `why`)."""

    kind = "check ended"
    after_retirement = True  # whether the machine is in the yard is asked when the check is begun
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    witnessed = True
    looked_up_by = "check"
    check: str
    verdict: Literal["passed", "held", "left"]
    why: str = ""
    from_paper: bool | None = None

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Close the check; it has passed where its answers bear it out, unless its time is doubtful."""
        if entry.id in known.doubtful:
            state.leave_check(self.check)
            return
        if entry.id in known.distrusted:
            state.distrust_check(self.check, entry.happened, known)
            return
        state.end_check(self.check, self.verdict, entry.happened, entry.by, known)

    def apply_waiting(self, state: FoldState, entry: Entry, known: Known) -> None:
        """A machine that is set up for the road, or worked on, is no longer ready for a run."""
        if self.verdict == "passed":
            state.spend_by(self.check, entry.happened, known)

    def describe(self, system: units.System = "metric") -> str:
        says = {
            "passed": _("signed as complete"),
            "held": _("ended as held"),
            "left": _("given up: {why}", why=self.why),
        }[self.verdict]
        return _on_paper(says, self.from_paper)


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSigned(Kind):
    """A gate of a pre-start signed: from it on so much is permitted. The end of the check signs the last one."""

    kind = "gate signed"
    after_retirement = True  # whether the machine is in the yard is asked when the check is begun
    least_role = "operator"
    reaches = UpdateScope.LIMITS
    news = "good"
    by_person = True
    witnessed = True
    looked_up_by = "check"
    check: str
    gate: str
    from_paper: bool | None = None

    def apply(self, state: FoldState, entry: Entry, known: Known) -> None:
        """Where the answers bear it out and nothing holds the machine, so much is permitted. One whose time is doubtful
        ends its check: it is begun again."""
        if entry.id in known.doubtful:
            state.leave_check(self.check)
        elif entry.id in known.distrusted:
            state.distrust_check(self.check, entry.happened, known)
        else:
            state.sign_gate(self.check, Signature(self.gate, entry.happened, entry.by, entry.id), known)

    def apply_waiting(self, state: FoldState, entry: Entry, known: Known) -> None:
        """A machine that is set up for a run is no longer ready for the road, and the other way round."""
        state.spend_by(self.check, entry.happened, known)

    def describe(self, system: units.System = "metric") -> str:
        return _on_paper(_("{gate}, signed", gate=_(GATE_TITLES.get(self.gate, self.gate))), self.from_paper)


def _on_paper(says: str, from_paper: bool | None) -> str:
    """A line of the book, which says where it was first written on paper."""
    return ", ".join((says, _("from paper"))) if from_paper else says


KINDS: tuple[type[Kind], ...] = (Sheeted, CheckBegun, Answered, CheckEnded, GateSigned)


def signs(what: Kind) -> bool:
    """Whether an entry signs a gate, or a check as complete."""
    return isinstance(what, GateSigned) or (isinstance(what, CheckEnded) and what.verdict == "passed")


def given_in(entries: Sequence[Entry]) -> tuple[Given, ...]:
    """The answers among entries, in their order."""
    return tuple(
        Given(
            one.what.question, one.what.seen, one.happened, one.by, one.id, one.what.note, one.terminal,
            bool(one.what.from_paper),
        )
        for one in entries
        if isinstance(one.what, Answered)
    )  # fmt: skip


def signatures_in(entries: Sequence[Entry]) -> tuple[Signature, ...]:
    """The gates signed among entries, in their order."""
    return tuple(
        Signature(one.what.gate, one.happened, one.by, one.id) for one in entries if isinstance(one.what, GateSigned)
    )


def walk_of(sheet: Sheet, begun: Entry, answers: Sequence[Entry], card: Card, sets: tuple[LaterSet, ...] = ()) -> Walk:
    """The walk that entries tell of: the sheet as kept, the entry that began it, its answers, and the sets kept since
    that it follows."""
    assert isinstance(begun.what, CheckBegun)
    return Walk(
        sheet=sheet.without(begun.what.left_out),
        begun=begun.happened,
        given=given_in(answers),
        card=card,
        planned=begun.what.planned,
        language=begun.what.language,
        sets=sets,
        signed=signatures_in(answers),
    )

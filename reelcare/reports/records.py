"""Records for an insurer or an inspector: one machine with everything about it, and one check as it was asked.

The rules of this file: what was taken back stands beside what took it back. The heads of the chains stand at the end,
so that a paper can be held against a register later.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, tzinfo
from itertools import zip_longest

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.quality import timed_answers
from reelcare.core.checks.sheet import GATE_TITLES, Gate, Question
from reelcare.core.checks.verdict import Given
from reelcare.core.entries.checks import signs
from reelcare.core.entries.faults import HOLDS
from reelcare.core.machine.particulars import particulars
from reelcare.core.service.due_line import DueLine
from reelcare.core.service.due_list import QUIET
from reelcare.core.state.counters import totals_in_words
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _, localized, mark, plural
from reelcare.core.wording import said
from reelcare.register.acts.walk_rounds import Check
from reelcare.register.integrity.chain import Head
from reelcare.register.views.book import BookLine
from reelcare.register.views.entry_details import made_safe
from reelcare.reports.blocks import Block, Document, Heading, Paragraph, Signatures, pairs, table

FIRST = mark(
    "The machine's own manual, local codes and licensed practice come first; a record is no permission to skip them."
)


def machine(
    one: MachineNow,
    book: Sequence[BookLine],
    heads: Sequence[Head],
    stamp: str,
    zone: tzinfo,
    system: units.System = "metric",
    language: str = "en",
) -> Document:
    """The whole record of one machine."""
    totals = one.state.totals
    hours = localized(f"{totals.seconds / 3600:.1f} h")
    hose = _("{hose} of hose", hose=units.show(totals.millimetres / 1000, "length", system))
    worst, shown = one.standing.worst, one.counters_show(system)
    parts: list[Block] = [
        Paragraph(_(FIRST), "small"),
        pairs([
            (_("stands"), _stands(one)),
            (_("life"), totals_in_words(totals, one.state.least, hours, hose) + (f"; {shown}" if shown else "")),
            (_("place"), one.card.place),
            *((_(BECAUSE[reason.side]), reason.says) for reason in one.standing.because),
        ]),
        Heading(_("Particulars")),
        pairs(particulars(one.card, system)),
        Heading(_("Open faults")),
        table(
            (_("since"), _("part"), _("what is wrong"), _("holds"), _("status")),
            [
                (_day(fault.since, zone), _(fault.part), fault.shown, _(HOLDS.get(fault.holds, NO)), _(fault.status))
                for fault in one.faults
            ],
        ),
        *_services(one, language, system),
        Heading(_("Book")),
        table((_("when"), _("what"), _("says"), _("by")), [_book(line, zone, system) for line in book]),
        Heading(_("Heads")),
        Paragraph(
            _("This was printed from a register whose chains ended in these heads:"), "small"
        ),
        table((_("terminal"), _("entries"), _("digest")), [(one.terminal, one.count, one.digest) for one in heads]),
    ]  # fmt: skip
    under = "; ".join((one.card.name or _("no name"), _(worst)))
    return Document(_("Record of {tag}", tag=one.tag), under, tuple(parts), language, stamp=stamp)


def _stands(one: MachineNow) -> str:
    """What it may do, in words."""
    return _("for a run: {run}; for the road: {road}", run=_(one.standing.run), road=_(one.standing.road))


NO = mark("no")
BECAUSE = {
    "run": mark("because (for a run)"),
    "road": mark("because (for the road)"),
    "both": mark("because (for run and road)"),
}


def _minute(moment: datetime, zone: tzinfo) -> str:
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


def _services(one: MachineNow, language: str, system: units.System) -> list[Block]:
    """What is due, and when and at what reading each item was last done."""
    acute = [line for line in one.dues if line.due.state != QUIET]
    done = sorted((line for line in one.dues if line.last_done), key=lambda line: line.last_done or date.min)
    rows = [(line.item.title(language), _(line.item.part), _(line.band), line.due.why(system)) for line in acute]
    parts: list[Block] = [
        Heading(_("What is due")), table((_("item"), _("part"), _("state"), _("where it stands")), rows)
    ]  # fmt: skip
    if quiet := len(one.dues) - len(acute):
        parts.append(Paragraph(plural("{n} more item is ok", "{n} more items are ok", quiet), "small"))
    parts.append(Heading(_("Last services")))
    heads = (_("item"), _("last done"), _("at hours"), _("at metres"), _("next"))
    last = [_last(one, line, language, system) for line in reversed(done)]
    parts.append(table(heads, last, numbers=(2, 3)))
    if never := [line.item.title(language) for line in one.dues if not line.last_done]:
        parts.append(Paragraph(_("never done, as far as is known: {items}", items="; ".join(never)), "warning"))
    return parts


def _last(one: MachineNow, line: DueLine, language: str, system: units.System) -> tuple[object, ...]:
    totals = one.state.cycle(line.item).last_totals
    hours = metres = _("unknown")
    if totals:
        hours = localized(f"{totals[0] / 3600:.1f} h")
        # what hose it had pulled by then stands on the day, which may not have been told
        metres = units.show(totals[1] / 1000, "length", system) if line.done_at is None else metres
    return (line.item.title(language), line.last_done_as(), hours, metres, line.due.why(system))


def _book(line: BookLine, zone: tzinfo, system: units.System) -> tuple[object, ...]:
    says = line.says(system)
    if safe := made_safe(line.entry.what):
        says += "; " + _("made safe: {energies}", energies=safe)
    if line.taken_back is not None and isinstance(line.taken_back.what, e.Correction):
        told = _("taken back by {by}: {why}", by=line.taken_back.by, why=line.taken_back.what.why)
        says += f"  [{told}]"
    if line.uncounted:
        says += f"  [{line.why_uncounted}]"
    late = line.entry.recorded - line.entry.happened
    if late.total_seconds() > 86400:
        told = plural("recorded {n} day later", "recorded {n} days later", late.days)
        says += f"  [{told}]"
    return (f"{line.entry.happened.astimezone(zone):%Y-%m-%d %H:%M}", _(line.entry.what.kind), says, line.entry.by)


VERDICTS = {
    "passed": mark("Signed as complete."),
    "held": mark("It held the machine."),
    "left": mark("Given up: it does not clear the machine."),
    "": mark("Not ended."),
}
"""How a check ended, as its paper says it."""


def _day(moment: datetime, zone: tzinfo) -> str:
    return f"{moment.astimezone(zone):%Y-%m-%d}"


def check(
    found: Check,
    tag: str,
    heads: Sequence[Head],
    stamp: str,
    zone: tzinfo,
    faults: Sequence[e.Entry] = (),
    *,
    language: str = "en",
    asked_in: str = "",
) -> Document:
    """One check as it was asked and answered, to be signed, in the words that its sheet has in a language;
    `asked_in` names the language that it was asked in, where that is another one."""
    walk = found.walk.in_language(language)
    found = replace(found, walk=walk)
    ended = found.ended
    parts: list[Block] = [Paragraph(_(VERDICTS[found.verdict]), "good" if found.verdict == "passed" else "bad")]
    fast = {looked.given.id for looked in timed_answers(walk) if looked.fast}
    rows: list[tuple[object, ...]] = []
    reasons = _reasons(found)
    for stage, after in zip_longest(walk.sheet.stages, walk.sheet.stages[1:]):
        rows.append((said(stage.title, language),))
        rows += [row for question in stage.questions for row in _answers(found, question, zone, fast, reasons)]
        if stage.gate is not None and (after is None or after.gate != stage.gate):
            rows += _signed(found, stage.gate, zone)
    parts.append(table((_("question"), _("what was seen"), _("judged"), _("by"), _("at")), rows))
    parts += [Paragraph(f"({number}) {why}", "small") for number, why in enumerate(dict.fromkeys(reasons.values()), 1)]
    if faults:
        parts.append(Heading(_("Faults that it raised")))
        parts.append(
            table(
                (_("part"), _("what is wrong")),
                [(_(one.what.part), one.what.shown) for one in faults if isinstance(one.what, e.Fault)],
            )
        )
    begun = found.begun
    times = _("begun {when} by {by}", when=_minute(begun.happened, zone), by=begun.by)
    if asked_in:
        times += ", " + _("asked in {language}", language=asked_in)
    if ended:
        times += ", " + _("ended {when} by {by}", when=_minute(ended.happened, zone), by=ended.by)
    ends = "; ".join(f"{one.terminal} {one.count} {one.digest}" for one in heads)
    first = _(FIRST)
    parts.append(Paragraph(f"{first} " + _("Heads: {heads}", heads=ends), "small"))
    parts.append(Signatures((ended.by if ended else begun.by, _("seen by"))))
    title = _("{sheet}: {machine}", sheet=said(walk.sheet.title, language), machine=tag)
    return Document(title, times, tuple(parts), language, close=True, stamp=stamp)


WHY_AGAIN = {
    "again": mark("answered again"),
    "order": mark("does not count: an earlier question was still open"),
    "wrong": mark("to be put right, and answered again"),
    "moved": mark("asked again, as this changed it: {ask}"),
    "person": mark("asked again, as another person went on"),
    "pause": mark("asked again after a long pause"),
}
"""Why an answer was asked again or does not count, as a check on paper says it."""


def _reasons(found: Check) -> dict[Given, str]:
    """Why each of the answers that do not count does not, in words."""
    told = {}
    for given, undone in found.walk.undone().items():
        changed = found.walk.sheet.question(undone.by)
        ask = said(changed.ask, found.walk.language) if changed is not None else ""
        told[given] = _(WHY_AGAIN[undone.why], ask=ask)
    return told


def _signed(found: Check, gate: Gate, zone: tzinfo) -> list[tuple[object, ...]]:
    """Every signature of a gate; one row that says so where there is none."""
    title, ended = _(GATE_TITLES[gate]), found.ended
    told = [(one.by, one.at) for one in found.walk.signed if one.gate == gate]
    if gate == found.walk.sheet.gates[-1] and ended is not None and signs(ended.what):
        told.append((ended.by, ended.happened))  # the end of a check signs its last gate
    return [(title, "", _("signed"), by, _clock(found, at, zone)) for by, at in told] or [
        (title, "", _("not signed"), "", "")
    ]


def _clock(found: Check, at: datetime, zone: tzinfo) -> str:
    """A time of a check, with its day where that is not the one on which it was begun."""
    when, begun = at.astimezone(zone), found.begun.happened.astimezone(zone)
    return f"{when:%H:%M:%S}" if when.date() == begun.date() else f"{when:%Y-%m-%d %H:%M:%S}"


def _answers(
    found: Check, question: Question, zone: tzinfo, fast: set[str], reasons: Mapping[Given, str]
) -> list[tuple[object, ...]]:
    """Every answer to a question, in its order, with the number of the reason why it does not count; one row that says
    so where there is none."""
    ask = said(question.ask, found.walk.language)
    numbers = {why: number for number, why in enumerate(dict.fromkeys(reasons.values()), 1)}
    rows: list[tuple[object, ...]] = []
    for given in found.walk.given:
        if given.question != question.id:
            continue
        judged = found.walk.judgement(given)
        judgement = _(judged.judged)
        if given.id in fast:
            judgement = _("{judged}; in less than a second", judged=judgement)
        if given.from_paper:
            judgement = _("{judged}, from paper", judged=judgement)
        if given in reasons:
            judgement += f" ({numbers[reasons[given]]})"
        note = f" ({given.note})" if given.note else ""
        rows.append(("" if rows else ask, judged.says + note, judgement, given.by, _clock(found, given.at, zone)))
    return rows or [(ask, "", _("not answered"), "", "")]

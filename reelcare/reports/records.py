"""Records for an insurer or an inspector: one machine with everything about it, and one check as it was asked.

The rules of this file: what was taken back stands beside what took it back. The heads of the chains stand at the end,
so that a paper can be held against a register later.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.checks.quality import looks
from reelcare.core.checks.sheet import Question
from reelcare.core.machine.particulars import particulars
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.wording import count, said
from reelcare.register.acts.walk_rounds import Check
from reelcare.register.integrity.chain import Head
from reelcare.register.views.book import BookLine
from reelcare.reports.blocks import Block, Document, Heading, Paragraph, Signatures, pairs, table

FIRST = (
    "The machine's own manual, local codes and licensed practice come first; a record is no permission to skip them."
)


def machine(
    one: MachineNow,
    book: Sequence[BookLine],
    heads: Sequence[Head],
    made: datetime,
    zone: tzinfo,
    system: units.System = "metric",
    language: str = "en",
    *,
    stood: datetime | None = None,
) -> Document:
    """The whole record of one machine; `stood` is the moment past that it tells of."""
    totals = one.state.totals
    hose = units.show(totals.millimetres / 1000, "length", system)
    worst = one.standing.worst
    parts: list[Block] = [
        Paragraph(FIRST, "small"),
        pairs([
            ("stands", f"for a run: {one.standing.run}; for the road: {one.standing.road}"),
            ("life", f"{totals.seconds / 3600:.1f} h, {hose} of hose, {count(totals.runs, 'run')}"),
            ("place", one.card.place),
            *((f"because ({reason.side})", reason.says) for reason in one.standing.because),
        ]),
        Heading("Particulars"),
        pairs(particulars(one.card, system)),
        Heading("Faults that stand open"),
        table(
            ("since", "part", "what is wrong", "holds", "status"),
            [
                (_day(fault.since, zone), fault.part, fault.says, fault.holds or "no", fault.status)
                for fault in one.faults
            ],
        ),
        Heading("What is due"),
        table(
            ("item", "part", "state", "where it stands", "last done"),
            [
                (line.item.title(language), line.item.part, line.band, line.due.why, line.last_done or "never")
                for line in one.dues
            ],
        ),
        Heading("Book"),
        table(("when", "what", "says", "by"), [_book(line, zone, system) for line in book]),
        Heading("Heads"),
        Paragraph(
            "What is on this paper is so in a register whose chains end in these, or go through them:", "small"
        ),
        table(("terminal", "entries", "digest"), [(one.terminal, one.count, one.digest) for one in heads]),
    ]  # fmt: skip
    then = f" as it stood at {stood.astimezone(zone):%Y-%m-%d %H:%M}" if stood is not None else ""
    under = f"{one.card.name or 'no name'}; {worst}{then}; made {made.astimezone(zone):%Y-%m-%d %H:%M}"
    return Document(f"Record of {one.tag}", under, tuple(parts), language)


def _book(line: BookLine, zone: tzinfo, system: units.System) -> tuple[object, ...]:
    says = line.says(system)
    if line.taken_back is not None and isinstance(line.taken_back.what, e.Correction):
        says += f"  [taken back by {line.taken_back.by}: {line.taken_back.what.why}]"
    late = line.entry.recorded - line.entry.happened
    if late.total_seconds() > 86400:
        says += f"  [recorded {count(late.days, 'day')} later]"
    return (f"{line.entry.happened.astimezone(zone):%Y-%m-%d %H:%M}", line.entry.what.kind, says, line.entry.by)


VERDICTS = {
    "passed": "Signed as complete.",
    "held": "It held the machine.",
    "left": "Given up; it clears nothing.",
    "open": "Not ended.",
}
"""How a check ended, as its paper says it."""


def _day(moment: datetime, zone: tzinfo) -> str:
    return f"{moment.astimezone(zone):%Y-%m-%d}"


def check(
    found: Check, tag: str, heads: Sequence[Head], made: datetime, zone: tzinfo, faults: Sequence[e.Entry] = ()
) -> Document:
    """One check as it was asked and answered, on one page to be signed."""
    walk, language = found.walk, found.walk.language
    ended = found.ended
    verdict = ended.what.verdict if ended is not None and isinstance(ended.what, e.CheckEnded) else "open"
    parts: list[Block] = [
        Paragraph(VERDICTS[verdict], "good" if verdict == "passed" else "bad"),
    ]
    fast = {looked.given.id for looked in looks(walk) if looked.fast}
    rows: list[tuple[object, ...]] = []
    for stage in walk.sheet.stages:
        rows.append((said(stage.title, language),))
        rows += [_answer(found, question, zone, fast) for question in stage.questions]
    parts.append(table(("question", "what was seen", "judged", "by", "at"), rows))
    if faults:
        parts.append(Heading("Faults that it raised"))
        parts.append(
            table(
                ("part", "what is wrong"),
                [(one.what.part, one.what.says) for one in faults if isinstance(one.what, e.Fault)],
            )
        )
    begun = found.begun
    begun_text = f"begun {begun.happened.astimezone(zone):%Y-%m-%d %H:%M} by {begun.by}"
    ended_text = f", ended {ended.happened.astimezone(zone):%Y-%m-%d %H:%M} by {ended.by}" if ended else ""
    parts.append(
        Paragraph(f"{FIRST} Heads: " + "; ".join(f"{one.terminal} {one.count} {one.digest}" for one in heads), "small")
    )
    parts.append(Signatures((ended.by if ended else begun.by, "seen by")))
    title = f"{said(walk.sheet.title, language)}: {tag}"
    under = f"{begun_text}{ended_text}; made {made.astimezone(zone):%Y-%m-%d %H:%M}"
    return Document(title, under, tuple(parts), language, close=True)


def _answer(found: Check, question: Question, zone: tzinfo, fast: set[str]) -> tuple[object, ...]:
    given = found.walk.counting().get(question.id)
    ask = said(question.ask, found.walk.language)
    if given is None:
        return (ask, "", "not answered", "", "")
    judged = found.walk.judgement(given)
    note = f" ({given.note})" if given.note else ""
    mark = "; in less than a second" if given.id in fast else ""
    return (ask, judged.says + note, judged.judged + mark, given.by, f"{given.at.astimezone(zone):%H:%M:%S}")

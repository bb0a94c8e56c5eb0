"""A check on paper, to be carried and filled in at the machine: its questions with boxes, limits, cautions and gates.

The rules of this file: what stands here is what the app asks of this machine, in the same order, the choices under the
same figures; so a paper is entered afterwards as one form. It says what is right nowhere but where the app does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from reelcare.core import units
from reelcare.core.checks.judged_by import JudgedBy
from reelcare.core.checks.limits import limit_text
from reelcare.core.checks.sheet import GATE_TITLES, Question
from reelcare.core.checks.verdict import Walk
from reelcare.core.text import _, mark
from reelcare.core.wording import said
from reelcare.reports import tag as labels
from reelcare.reports.blocks import Block, Document, Paragraph, table

BOX = "☐"
LINE = "........................................"
STOPS = mark(
    "! marks a stop question: if the answer is wrong, put it right and look again before you go "
    "on. If something is broken, or a stop test fails, the machine is held: do not run it. To "
    "stop at any moment: trip the stop bar or shut the water, and stand clear. The machine's "
    "manual and local codes come first; this paper is no permission to skip them."
)
ENTER = mark("Enter it afterwards: w, then e in the app, or `check {tag} --from-paper --at TIME`.")


def blank(
    walk: Walk,
    machine: str,
    judged: Sequence[JudgedBy],
    system: units.System,
    stamp: str,
    held: Sequence[str] = (),
    known: Sequence[str] = (),
) -> Document:
    """The sheet of a walk as a form for one machine (its id); `judged` is what it is judged by, `held` what holds the
    machine as it is printed, and `known` what whoever begins should know."""
    card, language = walk.card, walk.language
    told = (Paragraph(" ".join(held), "bad"), Paragraph("; ".join(known), "warning"))
    parts: list[Block] = [one for one in told if one.words]
    if walk.sheet.gates:
        limits = "; ".join(map(_judged, judged))
        limits = limits[:1].upper() + limits[1:]
        parts.append(Paragraph(_("Answers are judged by this. {limits}.", limits=limits), "small"))
    parts.append(Paragraph(_(STOPS) + " " + _(ENTER, tag=card.tag), "small"))
    heads = (_("no."), _("question"), _("what is seen: tick one"))
    parts.append(replace(table(heads, _rows(walk, system)), to_fill_in=True))
    name = f"{card.tag}, {card.name}" if card.name else card.tag
    under = "; ".join(one for one in (
        card.place, _("sheet {sheet}", sheet=walk.sheet.on_paper),
        _("day .................  hour counter ............ h  metre counter ............ {unit}",
          unit=units.unit_for("length", system)),
    ) if one)  # fmt: skip
    title = _("{sheet}: {machine}", sheet=said(walk.sheet.title, language), machine=name)
    return Document(
        title, under, tuple(parts), language, close=True, code=labels.modules(machine, card.tag), stamp=stamp
    )


def _judged(one: JudgedBy) -> str:
    told = ", ".join(part for part in (one.planned or _("not planned"), one.limit) if part)
    return _("{label}: {told}", label=one.label, told=told)


def _rows(walk: Walk, system: units.System) -> Iterator[tuple[str, ...]]:
    """A row for each question, under the title of its gate, and one to sign after each gate."""
    sheet, number = walk.sheet, 0
    for gate in sheet.gates or ("",):
        title = _(GATE_TITLES[gate]) if gate else said(sheet.title, walk.language)
        yield (title.upper(),)
        for question in sheet.questions:
            if not gate or sheet.gate_of(question.id) == gate:
                number += 1
                yield _row(question, number, walk, system)
        yield ("", _("signed: {what}", what=title), _("name {line}  time .............", line=LINE))
    yield ("", _("What was wrong, and what was done about it:"), LINE * 2)


def _row(question: Question, number: int, walk: Walk, system: units.System) -> tuple[str, ...]:
    ask = said(question.ask, walk.language)
    if question.caution:
        ask += "\n" + _("CAUTION: {caution}", caution=said(question.caution, walk.language))
    return (f"{number} !" if question.can_hold else str(number), ask, _boxes(question, walk, system))


def _boxes(question: Question, walk: Walk, system: units.System) -> str:
    """The choices with a box and their figure each; a line for a reading, with its limits."""
    if not question.is_number:
        # a box stays with its figure
        shown = (f"{BOX}\N{NO-BREAK SPACE}{place}\N{NO-BREAK SPACE}{said(one.says, walk.language)}"
                 for place, one in enumerate(question.choices, 1))  # fmt: skip
        return "   ".join(shown)
    unit = question.unit(system)
    limit = limit_text(question, walk.card, walk.newest_plan, unit=unit)
    told = [f"................ {unit}".rstrip(), f"({limit})" if limit else ""]
    if question.cannot_read:
        told.append(
            f"{BOX}\N{NO-BREAK SPACE}c\N{NO-BREAK SPACE}" + _("cannot be read; at pump or hydrant: ............")
        )
    return "   ".join(one for one in told if one)

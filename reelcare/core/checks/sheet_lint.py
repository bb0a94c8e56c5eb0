"""A sheet against the published rules of check-list design (Degani & Wiener 1990, NASA CR-177549; rows Q of the
references): what a maker of sheets should think over. Nothing here keeps a sheet from being used.
"""

from __future__ import annotations

from collections.abc import Iterator

from reelcare.core.checks.sheet import Question, Sheet, Stage
from reelcare.core.text import _, mark

LONGEST_STAGE = 9
"""Questions in one stage: 5 to 9 (Gawande and Boorman, from memory; about 7 in aviation, row Q23)."""
TICKS = {
    "ok", "okay", "checked", "done", "yes", "no", "good", "fine", "bien", "hecho", "sí", "si", "revisado", "correcto",
    "oui", "non", "fait", "bon", "vérifié", "contrôlé",
}  # fmt: skip
"""Answers that say that somebody looked, and not what was seen (guideline 4: the status or the value)."""
UNDONE = ("pawl", "drive", "legs")
"""Parts of which a position that was seen can be undone on the way: asked again where that is (guideline 11)."""


def lint(sheet: Sheet) -> list[str]:
    """Everything to think over, each with its place."""
    found = [*_clears(sheet), *_places(sheet), *_again(sheet)]
    for stage in sheet.stages:
        found += _stage(stage)
        for question in stage.questions:
            found += [f"{stage.id}.{question.id}: {text}" for text in _question(question)]
    return found


def _clears(sheet: Sheet) -> Iterator[str]:
    """A sheet for a run clears the machine: by its gates, or by one signature where it has none."""
    if sheet.checks_for != "run":
        return
    if not sheet.gates:
        yield _("no stage has a `gate`: one signature at the end makes the machine clear for a run")
    if not any(one.kind == "test" and one.part == "end stop" for one in sheet.questions):
        yield _("no question tries the end stop (kind test, part end stop)")


def _stage(stage: Stage) -> Iterator[str]:
    if len(stage.questions) > LONGEST_STAGE:
        yield _(
            "{id}: {n} questions; {most} at most in one stage", id=stage.id, n=len(stage.questions), most=LONGEST_STAGE
        )
    if stage.in_order:
        return
    # guideline 10: the most critical first, where the order of the work allows it
    lesser = None
    for question in stage.questions:
        if question.if_not != "stop":
            lesser = lesser or question
        elif lesser is not None:
            yield _(
                "{stage}.{question}: a stop question after {lesser}, which stops nothing; or say in_order",
                stage=stage.id, question=question.id, lesser=lesser.id,
            )  # fmt: skip


def _question(question: Question) -> Iterator[str]:
    if question.why is None:
        yield _("does not say why it is asked")
    if question.if_not != "note" and question.do is None:
        yield _("does not say what to do if it is not right")
    for choice in question.choices:
        for text in choice.says.values():
            if text.strip().lower().rstrip(".!") in TICKS:
                yield _("the answer {text!r} says that somebody looked, not what was seen", text=text)


def _places(sheet: Sheet) -> Iterator[str]:
    """Guideline 7: stages are chunks that belong to one system or place; the title tells which."""
    seen: dict[str, str] = {}
    for stage in sheet.stages:
        title = stage.title.get("en", "").strip().lower()
        if title in seen:
            says = mark("{id}: the same title as {seen}; give each stage a title that names its place")
            yield _(says, id=stage.id, seen=seen[title])
        seen[title] = stage.id


def _again(sheet: Sheet) -> Iterator[str]:
    if sheet.checks_for != "run":
        return
    for part in UNDONE:
        asked = [one.id for one in sheet.questions for found, _where in one.positions if found == part]
        if len(asked) == 1:
            yield _("{asked}: {part} can be undone on the way; ask for it again from there", asked=asked[0], part=part)

"""A sheet as plain values again, and all its texts.

The rules of this file: it says of a sheet what `sheet_table.py` reads, and no other thing; an entry keeps it so.
"""

from __future__ import annotations

from typing import Any

from reelcare.core.checks.sheet import LIMITS, Question, Sheet


def to_plain(sheet: Sheet) -> dict[str, Any]:
    """The sheet as the table that `read_sheet` takes."""
    return {
        "id": sheet.id,
        "title": dict(sheet.title),
        "for": sheet.checks_for,
        "stages": [
            {
                "id": one.id,
                "title": dict(one.title),
                "questions": [_plain(question) for question in one.questions],
            }
            | ({"in_order": True} if one.in_order else {})
            | ({"gate": one.gate} if one.gate else {})
            for one in sheet.stages
        ],
        **{key: getattr(sheet, key) for key in ("begins", "ends") if getattr(sheet, key)},
        **({"needs": list(sheet.needs)} if sheet.needs else {}),
    }


def _plain(question: Question) -> dict[str, Any]:
    table: dict[str, Any] = {"id": question.id}
    if question.choices:
        table["choices"] = [
            {"id": one.id, "says": dict(one.says)}
            | ({"right": True} if one.right else {})
            | {key: getattr(one, key) for key in ("sets", "if_not", "owner") if getattr(one, key)}
            for one in question.choices
        ]
    for key in (
        "kind", "part", "if_not", "role", "sets", "source", "common_practice", "again", "keeps", "cannot_read", "owner",
        "by_hand", "never_times",
    ):  # fmt: skip
        if getattr(question, key):
            table[key] = getattr(question, key)
    if question.is_number:
        table["quantity"] = question.quantity
    for key in ("ask", "short", "why", "caution", "do", "retest", "fix_by"):
        if getattr(question, key) is not None:
            table[key] = dict(getattr(question, key))
    for key in LIMITS:
        if getattr(question, key) is not None:
            table[key] = list(getattr(question, key).ways)
    if question.about is not None:
        table["within"] = question.within
    for key in ("needs", "rests_on"):
        if getattr(question, key):
            table[key] = list(getattr(question, key))
    return table

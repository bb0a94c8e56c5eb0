"""`lanes`: the fields, their lanes, and a field added or changed."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.core import entries as e
from reelcare.core.night import field_words
from reelcare.core.night.field import Field, LaneFileError, read_field
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import nearest
from reelcare.register import sheets
from reelcare.register.views import fields
from reelcare.register.writing.writer import Writer

LANES = (
    mark("field"), TextColumn(mark("lane"), figures=True), TextColumn(mark("hydrant"), figures=True),
    TextColumn(mark("length"), figures=True), TextColumn(mark("spacing"), 2, figures=True),
    TextColumn(mark("rise"), 3, figures=True), TextColumn(mark("shares with"), 3),
)  # fmt: skip
_USE = mark("write `lanes [FIELD]` or `lanes add FIELD.toml`")


def lanes(asked: argparse.Namespace) -> int:
    """Show fields and their lanes, or add one from a file."""
    words = asked.words
    with common.open_register(asked) as register:
        if words[:1] == ["add"] and len(words) == 2:
            return _add(asked, register, Path(words[1]))
        if len(words) > 1 or words[:1] == ["add"]:
            raise Problem(_(_USE))
        at, _past = common.as_of(asked, register, common.now())
        known = [one.field for one in fields.all_of(register, at).values()]
        found = [one for one in known if not words or one.id == words[0] or one.is_at(words[0])]
    if words and not found:
        near = nearest(words[0], [one.id for one in known])
        raise Problem(_("{field}: no such field{near}", field=words[0], near=near))
    if asked.json:
        data = [as_json(one) for one in found]
        common.print_json(data[0] if words else data)
    else:
        system = common.system(asked)
        lines = [(field.id, *field_words.line(one, system)) for field in found for one in field.lanes]
        common.print_table(LANES, lines, empty=_("no field yet; `reelcare lanes add FIELD.toml --by NAME` adds one"))
        for field in found:
            common.say(f"{field.id}: {field_words.allowed(field, system)}")
    return 0


def _add(asked: argparse.Namespace, register: Writer, path: Path) -> int:
    table = sheets.plain_table(path)
    try:
        field = read_field(table)
    except LaneFileError as why:
        raise Problem(f"{path}: {why}") from None
    is_new = field.id not in fields.all_of(register)
    entry = common.add(asked, register, e.Mapped(field=table))
    for told in field_words.too_long(field, fields.longest_hose(register, field), common.system(asked)):
        common.say(told)
    told = mark("{field} is added, {lanes}") if is_new else mark("{field} is changed, {lanes}")
    words = _(told, field=field.id, lanes=plural("{n} lane", "{n} lanes", len(field.lanes)))
    return common.answer(asked, {"entry": entry.id, "field": field.id, "lanes": len(field.lanes)}, words)


def as_json(field: Field) -> dict[str, Any]:
    """A field for other programs, in SI and m3."""
    return {
        "id": field.id,
        "place": field.place,
        "lanes": [
            {
                "number": one.number,
                "hydrant": one.hydrant,
                "length_m": one.length,
                "spacing_m": one.spacing,
                "rise_m": one.rise,
                "shared_with": list(one.shared_with),
                "flow_m3_h": None if one.flow is None else one.flow * 3600,
                "inlet_kpa": None if one.inlet is None else one.inlet / 1000,
            }
            for one in field.lanes
        ],
        "licence": {
            "m3_day": field.licence.day,
            "m3_season": field.licence.season,
            "hours": field.licence.hours.texts if field.licence.hours else None,
        },
        "tariff": field.tariff.texts if field.tariff else None,
        "dark": field.dark.texts if field.dark else None,
        "move_minutes": {"same_hydrant": field.same_hydrant / 60, "other_hydrant": field.other_hydrant / 60},
    }

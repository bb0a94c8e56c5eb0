"""Forms for a field: one lane, and what licence, tariff and daylight allow.

The rules of this file: what is kept is the field changed, as `lanes add` does from a file; what somebody else
has changed since a form was opened stays changed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from reelcare.core import entries as e
from reelcare.core import units
from reelcare.core.night import field_table
from reelcare.core.night import field_words as words
from reelcare.core.night.field import LaneFileError, read_field
from reelcare.core.text import _, mark
from reelcare.register.views import fields
from reelcare.tui.requests import ChangeAllowed, ChangeLane
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.widgets.typed_quantity import with_unit


class FieldLine(NamedTuple):
    """One line: its label, an example, of what it is a quantity, and what is said with the example."""

    label: str
    example: str
    quantity: units.Quantity | None = None
    hint: str = ""


AS_KEPT, IF_BLANK = mark("{example} (blank: as in the kept set)"), mark("{example}, if blank")
LANE: Mapping[str, FieldLine] = {
    "number": FieldLine(mark("lane"), "4"),
    "hydrant": FieldLine(mark("hydrant"), "7"),
    "length": FieldLine(mark("length"), "320 m", "length"),
    "spacing": FieldLine(mark("spacing"), "68 m", "length", AS_KEPT),
    "rise": FieldLine(mark("rise of the gun over the machine"), "3 m", "length", AS_KEPT),
    "shared_with": FieldLine(mark("shares its flow with"), mark("lanes or neighbours, as in: 3, mill")),
    "flow": FieldLine(mark("flow of the hydrant"), "43 m3/h", "flow", AS_KEPT),
    "inlet": FieldLine(mark("pressure of the hydrant"), "6.9 bar", "pressure", AS_KEPT),
}
"""The lines of a lane."""
ALLOWED: Mapping[str, FieldLine] = {
    "licence.m3_season": FieldLine(mark("licence, a season"), "20000 m3", "volume"),
    "licence.m3_day": FieldLine(mark("licence, a day"), "900 m3", "volume"),
    "licence.hours": FieldLine(mark("licence, hours"), "18:00-08:00"),
    "tariff.hours": FieldLine(mark("low tariff"), "22:00-06:00"),
    "dark": FieldLine(mark("dark, no move"), "21:30-05:00"),
    "moves.same_hydrant": FieldLine(mark("move on one hydrant"), "45 min", "duration", IF_BLANK),
    "moves.other_hydrant": FieldLine(mark("move to another hydrant"), "75 min", "duration", IF_BLANK),
}


class FieldForm(Form):
    """A form whose lines are a part of a field."""

    LINES: Mapping[str, FieldLine]
    place = ""
    opened_with: Mapping[str, str] = {}
    """What stood in the lines at first, as the field says it."""

    def shown(self) -> Mapping[str, str]:
        """What stands in the lines at first, by key."""
        raise NotImplementedError

    def form_lines(self) -> Sequence[FormField]:
        """One line for each key."""
        self.opened_with = self.shown()
        return [
            FormField(_id(key), _(line.label), self.opened_with.get(key, ""), self._hint(line))
            for key, line in self.LINES.items()
        ]

    def _hint(self, line: FieldLine) -> str:
        """An example, where it is a quantity in the person's units, and what an empty line means."""
        if line.quantity is None:
            return _(line.example)
        is_time = line.quantity == "duration"  # in minutes for everybody
        example = line.example if is_time else self.example(line.example, line.quantity)
        return _(line.hint, example=example) if line.hint else example

    def typed(self) -> dict[str, str]:
        """What stands in the lines now, with its unit; only what is not empty. What was not touched is as it was."""
        found = {}
        for key, line in self.LINES.items():
            text, quantity = self.value(_id(key)), line.quantity
            if text and quantity is not None and text != self.opened_with.get(key):
                text = self.read(_id(key), lambda one, of=quantity: self._with_unit(one, of))  # type: ignore[misc]
            if text:
                found[key] = text
        return found

    def _with_unit(self, text: str, quantity: units.Quantity) -> str:
        if quantity == "duration" and text.isdecimal():
            return f"{text} min"
        return with_unit(text, quantity, self.preferences.system)

    def changed(self, table: Mapping[str, Any], typed: Mapping[str, str]) -> dict[str, Any]:
        """The table of the field with what was typed."""
        raise NotImplementedError

    def keep(self) -> bool:
        """Save the field with what was changed."""
        host, known, first = self.host, fields.find(self.register, self.place), _id(next(iter(self.LINES)))
        table = self.changed(known.table if known is not None else field_table.new_table(self.place), self.typed())
        try:
            field = read_field(table)
        except LaneFileError as why:
            key, slip = field_table.key_of(why.problems[0])
            return self.wrong(slip, _id(key) if key in self.LINES else first)
        kept = self.write(lambda: self.register.add(e.Mapped(field=table), by=host.person, now=self.now()), first)
        if kept is None:
            return False
        told = words.too_long(field, fields.longest_hose(self.register, field), self.preferences.system)
        host.tell(". ".join([_("{field} is changed", field=field.place or field.id), *told[:1]]), bad=bool(told))
        return True


class LaneForm(FieldForm):
    """One lane of a field, or a further one."""

    LINES = LANE

    def __init__(self, request: ChangeLane) -> None:
        super().__init__()
        self.place, self.number = request.place, request.number

    def page(self) -> str:
        """Which lane of which place."""
        if self.number:
            return _("Lane {lane}  {place}", lane=self.number, place=self.place)
        return _("Another lane  {place}", place=self.place)

    def shown(self) -> Mapping[str, str]:
        """The lane as it is; of a further one, what the last one has and is seldom different."""
        known = fields.find(self.register, self.place)
        lanes: list[dict[str, Any]] = known.table.get("lanes", []) if known is not None else []
        if self.number:
            one = next((lane for lane in lanes if str(lane.get("number")) == self.number), {})
            return {key: _text(one.get(key, "")) for key in LANE}
        last = lanes[-1] if lanes else {}
        taken = [int(one["number"]) for one in lanes if str(one.get("number", "")).isdecimal()]
        return {"number": str(max(taken, default=0) + 1), "length": _text(last.get("length", "")),
                "spacing": _text(last.get("spacing", ""))}  # fmt: skip

    def changed(self, table: Mapping[str, Any], typed: Mapping[str, str]) -> dict[str, Any]:
        """The table with this lane."""
        lane: dict[str, Any] = dict(typed)
        for key in ("number", "hydrant"):
            if lane.get(key, "").isdecimal():
                lane[key] = int(lane[key])
        if "shared_with" in lane:
            lane["shared_with"] = [one for one in re.split(r"\s*,\s*", lane["shared_with"]) if one]
        return field_table.with_lane(table, lane, self.number)


class AllowedForm(FieldForm):
    """What licence, tariff and daylight allow, and how long a move takes."""

    LINES = ALLOWED

    def __init__(self, request: ChangeAllowed) -> None:
        super().__init__()
        self.place = request.place

    def page(self) -> str:
        """Of which place."""
        return _("Hours  {place}", place=self.place)

    def before(self) -> Sequence[str]:
        """What an empty line means."""
        return (_("An empty line sets no limit; hours may go over midnight."),)

    def shown(self) -> Mapping[str, str]:
        """All that is said now."""
        known = fields.find(self.register, self.place)
        return field_table.allowed_of(known.table) if known is not None else {}

    def changed(self, table: Mapping[str, Any], typed: Mapping[str, str]) -> dict[str, Any]:
        """The table with other hours."""
        return field_table.with_allowed(table, typed)


def _id(key: str) -> str:
    """The id of the line of a key."""
    return key.replace(".", "-")


def _text(value: Any) -> str:
    """A value of a table as it is typed."""
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)

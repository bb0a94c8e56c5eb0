"""The names that a limit can take from the card or the day's set, and what each of them measures.

The rules of this file: it is asked when a sheet comes from a file, or a plan of the day from another register. A sheet
that is kept with a check is read as it was, with whatever names stand in it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from reelcare.core import units
from reelcare.core.checks.sheet import LIMITS, Question, Sheet
from reelcare.core.machine.card import READERS
from reelcare.core.text import _
from reelcare.core.typed_time import check_year
from reelcare.core.wording import nearest

OF_CARD: Mapping[str, units.Quantity] = {
    name: reader.measures
    for name, reader in READERS.items()
    if reader.measures is not None and not name.startswith("in_use.")
}
"""Every figure of a card; what was done before is no limit."""
DERIVED: Mapping[str, units.Quantity] = {"hose.rated": "pressure"}
"""What follows from figures of a card: the pressure that its hose is rated for."""
OF_SET: Mapping[str, units.Quantity] = {
    "planned_speed": "speed", "inlet_pressure": "pressure", "most_inlet": "pressure",
    "gun_pressure": "pressure", "least_coils": "count", "coils_left": "count", "pull_out": "length",
}  # fmt: skip
"""Every figure of the plan of the day."""
_NAMES = {f"card.{name}": measures for name, measures in (*OF_CARD.items(), *DERIVED.items())} | {
    f"set.{name}": measures for name, measures in OF_SET.items()
}


def validate_plan(planned: Mapping[str, str]) -> None:
    """Whether the plan of a day that was sealed elsewhere can be read, as answers are held to it and books tell of it.
    Raises ValueError.

    >>> validate_plan({"planned_speed": "22 m/h", "coils_left": "3.4", "finish": "2026-05-01T22:40"})
    """
    for name, quantity in OF_SET.items():
        try:
            if name in planned:
                units.read(planned[name], quantity)
        except units.UnitsError as why:
            raise units.UnitsError(_("{where}: {what}", where=f"planned.{name}", what=why)) from None
    if finish := planned.get("finish"):
        check_year(datetime.fromisoformat(finish), finish)


def problems(sheet: Sheet) -> Iterator[str]:
    """What is wrong with the names that a sheet's limits go by: unknown, or of another quantity than the answer."""
    for stage in sheet.stages:
        for question in stage.questions:
            yield from _of_question(question)


def _of_question(question: Question) -> Iterator[str]:
    for key in LIMITS:
        limit = getattr(question, key)
        for way in limit.ways if limit is not None else ():
            where = f"{question.id}.{key}: {way!r}"
            if not way.startswith(("card.", "set.")):
                continue
            measures = _NAMES.get(way)
            if measures is None:
                yield _("{where} is not known{nearest}", where=where, nearest=nearest(way, tuple(_NAMES)))
            elif measures != question.quantity:
                yield _(
                    "{where} measures {measures}, and {quantity} is asked for",
                    where=where, measures=measures, quantity=question.quantity,
                )  # fmt: skip

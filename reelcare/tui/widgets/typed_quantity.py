"""A quantity as a person types it: a bare number is in the unit that they use."""

from __future__ import annotations

from reelcare.core import units
from reelcare.core.text import typed_figure


def with_unit(text: str, quantity: units.Quantity, system: units.System, role: str = "") -> str:
    """A typed quantity with its unit, as it is kept. Raises a UnitsError where it does not begin with a number.

    >>> with_unit("6.5", "pressure", "metric"), with_unit("94 psi", "pressure", "metric"), with_unit("3", "count", "us")
    ('6.5 bar', '94 psi', '3')
    """
    text = typed_figure(text)
    if quantity == "count" or units.split(text)[1]:
        return text
    return f"{text} {units.unit_for(quantity, system, role)}"

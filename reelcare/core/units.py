"""Quantities as people write them, and as they are kept: SI inside, the person's units at the edge.

The rules of this file: one exact table of factors, taken from their definitions (the international foot is
0.3048 m, the pound 0.45359237 kg, the US gallon 231 cubic inches; NIST Special Publication 811, appendix B).
What could be read in two ways is refused with the ways it could be meant. Reading never guesses a unit.
"""

from __future__ import annotations

import math
import re
from typing import Literal, NamedTuple

from reelcare.core.text import POINT, _, localized, mark

Quantity = Literal[
    "length", "pressure", "flow", "speed", "temperature", "duration", "force", "area", "volume", "torque", "voltage",
    "count",
]  # fmt: skip
System = Literal["metric", "us"]

FOOT = 0.3048
INCH = 0.0254
MILE = 1609.344
GALLON = 231 * INCH**3
POUND_FORCE = 0.45359237 * 9.80665
PSI = POUND_FORCE / INCH**2
ACRE = 4046.8564224  # international: 43,560 square feet
KWH = 3.6e6


class UnitsError(ValueError):
    """A quantity that cannot be read: the message says what was wrong and what would be right."""


class UnknownUnit(UnitsError):
    """A unit that is not in the table."""


class Unit(NamedTuple):
    """A unit: what it measures, and how many SI units it is."""

    quantity: Quantity
    factor: float


UNITS: dict[str, Unit] = {
    "m": Unit("length", 1.0),
    "mm": Unit("length", 0.001),
    "cm": Unit("length", 0.01),
    "km": Unit("length", 1000.0),
    "in": Unit("length", INCH),
    "ft": Unit("length", FOOT),
    "yd": Unit("length", 3 * FOOT),
    "mi": Unit("length", MILE),
    "Pa": Unit("pressure", 1.0),
    "kPa": Unit("pressure", 1e3),
    "MPa": Unit("pressure", 1e6),
    "bar": Unit("pressure", 1e5),
    "mbar": Unit("pressure", 1e2),
    "psi": Unit("pressure", PSI),
    "m3/s": Unit("flow", 1.0),
    "m3/h": Unit("flow", 1 / 3600),
    "l/s": Unit("flow", 0.001),
    "l/min": Unit("flow", 0.001 / 60),
    "l/h": Unit("flow", 0.001 / 3600),
    "gpm": Unit("flow", GALLON / 60),
    "m/s": Unit("speed", 1.0),
    "m/min": Unit("speed", 1 / 60),
    "m/h": Unit("speed", 1 / 3600),
    "mm/h": Unit("speed", 0.001 / 3600),
    "km/h": Unit("speed", 1000 / 3600),
    "ft/h": Unit("speed", FOOT / 3600),
    "ft/min": Unit("speed", FOOT / 60),
    "in/h": Unit("speed", INCH / 3600),
    "mph": Unit("speed", MILE / 3600),
    "knots": Unit("speed", 1852 / 3600),
    "s": Unit("duration", 1.0),
    "min": Unit("duration", 60.0),
    "h": Unit("duration", 3600.0),
    "d": Unit("duration", 86400.0),
    "N": Unit("force", 1.0),
    "kN": Unit("force", 1000.0),
    "lbf": Unit("force", POUND_FORCE),
    "m2": Unit("area", 1.0),
    "ha": Unit("area", 1e4),
    "acre": Unit("area", ACRE),
    "m3": Unit("volume", 1.0),
    "l": Unit("volume", 0.001),
    "ml": Unit("volume", 1e-6),
    "acre-in": Unit("volume", ACRE * INCH),
    "Nm": Unit("torque", 1.0),
    "lbf ft": Unit("torque", POUND_FORCE * FOOT),
    "degC": Unit("temperature", 1.0),
    "degF": Unit("temperature", 5 / 9),
    "V": Unit("voltage", 1.0),
}
"""Every unit that can be read. Temperatures are kept in degrees Celsius."""

_ALIASES = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "foot": "ft", "feet": "ft", "'": "ft",
    "inch": "in", "inches": "in", '"': "in", "yards": "yd", "yard": "yd", "mile": "mi", "miles": "mi",
    "m³/h": "m3/h", "m^3/h": "m3/h", "cmh": "m3/h", "m³/s": "m3/s", "m^3/s": "m3/s",
    "us gpm": "gpm", "gal/min (us)": "gpm", "usgpm": "gpm", "lps": "l/s", "lpm": "l/min",
    "ft/hr": "ft/h", "fph": "ft/h", "fpm": "ft/min", "m/hr": "m/h", "kph": "km/h", "mi/h": "mph",
    "in/hr": "in/h", "mm/hr": "mm/h", "hour": "h", "hours": "h", "hr": "h", "hrs": "h",
    "minute": "min", "minutes": "min", "second": "s", "seconds": "s", "day": "d", "days": "d",
    "hectare": "ha", "hectares": "ha", "acres": "acre", "m²": "m2", "m^2": "m2", "m³": "m3", "m^3": "m3",
    "litre": "l", "litres": "l", "liter": "l", "liters": "l", "°c": "degC", "c": "degC", "°f": "degF",
    "f": "degF", "n m": "Nm", "n·m": "Nm", "lbf·ft": "lbf ft", "ft lbf": "lbf ft", "psig": "psi",
    "volt": "V", "volts": "V", "knot": "knots", "kn (wind)": "knots", "acre-inch": "acre-in", "acre-inches": "acre-in",
    "ac-in": "acre-in", "ac in": "acre-in", "acre in": "acre-in", "acre inch": "acre-in", "acre inches": "acre-in",
    "gpm (us)": "gpm", "us gal/min": "gpm", "lb/in2": "psi", "lb/in²": "psi", "lbf/in2": "psi", "ac": "acre",
    "deg f": "degF", "deg c": "degC", "feet/hour": "ft/h", "ft/hour": "ft/h", "ft per hour": "ft/h",
    "feet per hour": "ft/h", "ft-lb": "lbf ft", "ft·lb": "lbf ft", "ft lb": "lbf ft", "lb-ft": "lbf ft",
    "lb ft": "lbf ft", "lbf-ft": "lbf ft",
}  # fmt: skip
_BY_LOWER = {name.lower(): name for name in UNITS}
_AMBIGUOUS = {
    "gal": mark("write US gallons as `gpm` (flow), or use litres; a gallon may be US or imperial"),
    "gallon": mark("a gallon may be US or imperial; use litres"),
    "gallons": mark("a gallon may be US or imperial; use litres"),
    "gal/min": mark("write US gallons as `gpm` (flow), or use litres; a gallon may be US or imperial"),
    "gph": mark("gallons an hour may be US or imperial; use l/h or gpm (US)"),
    "igpm": mark("imperial gallons are not read; use l/min"),
    "ton": mark("a ton may be metric, short or long; use kN"),
    "lb": mark("a pound is a mass or a force; write lbf for a force"),
    "lbs": mark("a pound is a mass or a force; write lbf for a force"),
}
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.DOTALL)
_FRACTION = re.compile(r"(?:\d+\s*)?[½¼¾⅛⅜⅝⅞]|(?:\d+[\s-]+)?\d+\s*/\s*\d")
_PARTED = re.compile(r"[+-]?\d{1,3},\d{3}")
_LONGEST = 40

COMMON: dict[Quantity, str] = {
    "length": mark("m, mm, ft or in"),
    "pressure": mark("bar, kPa or psi"),
    "flow": mark("m3/h, l/s or gpm"),
    "speed": mark("m/h, ft/h, km/h or mph"),
    "temperature": mark("degC or degF"),
    "duration": mark("h or min"),
    "force": mark("N, kN or lbf"),
    "area": mark("ha or acre"),
    "volume": mark("m3, l or acre-in"),
    "torque": mark("Nm or lbf ft"),
    "voltage": mark("V"),
    "count": mark("a plain number"),
}


def number(text: str) -> float:
    """A plain finite number. Raises UnitsError.

    >>> number("12.5")
    12.5
    """
    text = text.strip()
    if text.replace(".", "", 1).isdigit() and text.isascii() and len(text) < 16:
        return float(text)  # the common case, which long run logs are full of
    match = _NUMBER.fullmatch(text)
    if match is None or match.group(2):
        raise UnitsError(_("{short}: not a number", short=_short(text)))
    return _number(match.group(1), text)


def _number(digits: str, text: str) -> float:
    if _PARTED.fullmatch(digits) and localized(POINT) != POINT:
        raise UnitsError(
            _(
                "{short}: the sign could be for decimals or separate thousands; write {whole} or {part}",
                short=_short(text),
                whole=digits.replace(",", ""),
                part=digits.replace(",", ".") + "0",
            )
        )
    if "," in digits:
        raise UnitsError(_(
            "{short}: a comma could be a decimal sign or separate thousands; write {digits} or leave it out",
            short=_short(text), digits=digits.replace(",", "."),
        ))  # fmt: skip
    value = float(digits)
    if not math.isfinite(value):
        raise UnitsError(_("{short}: too large; check the figure", short=_short(text)))
    return value


def _short(text: str) -> str:
    text = text.strip()
    return repr(text if len(text) <= _LONGEST else text[:_LONGEST] + "…")


def split(text: str) -> tuple[float, str]:
    """A number and the name of its unit ('' where none is written). Raises UnitsError.

    >>> split("320 m"), split("72ft/h"), split("4")
    ((320.0, 'm'), (72.0, 'ft/h'), (4.0, ''))
    """
    match = _NUMBER.fullmatch(text.strip()[:200])
    if _FRACTION.match(text.strip()):
        raise UnitsError(_("{short}: write a fraction with decimals, as 0.75 for 3/4", short=_short(text)))
    if match is None:
        raise UnitsError(_("{short}: no number found; write it as in `320 m`", short=_short(text)))
    value = _number(match.group(1), text)
    written = " ".join(match.group(2).split())
    return value, _unit_named(written, text) if written else ""


def _unit_named(written: str, text: str) -> str:
    if written in UNITS:
        return written
    low = written.lower().removesuffix(".")
    if low in _AMBIGUOUS:
        raise UnitsError(f"{_short(text)}: {_(_AMBIGUOUS[low])}")
    name = _ALIASES.get(low) or _BY_LOWER.get(low)
    # "M" or "MM" are not written for metres; "mPa" is not a megapascal
    if name is None or (low == "mpa" and written != "MPa"):
        raise UnknownUnit(_("{text}: {unit} is not a unit known here", text=_short(text), unit=_short(written)))
    return name


def read(text: str, quantity: Quantity) -> float:
    """A quantity in SI (temperature in degC, count as it is). Raises UnitsError.

    >>> round(read("10 psi", "pressure")), read("1050 ft", "length"), read("43 m3/h", "flow") * 3600
    (68948, 320.04, 43.0)
    """
    try:
        value, name = split(text)
    except UnknownUnit as why:
        raise UnitsError(_("{why}; write one number, {and_unit}", why=why, and_unit=_and_unit(quantity))) from None
    if quantity == "count":
        if name:
            raise UnitsError(_("{short}: must be a plain number, without a unit", short=_short(text)))
        return value
    if not name:
        raise UnitsError(_(
            "{short}: say the unit, as in `{value:g} {first}` ({common})",
            short=_short(text), value=value, first=_first(quantity), common=_(COMMON[quantity]),
        ))  # fmt: skip
    unit = UNITS[name]
    if unit.quantity != quantity:
        raise UnitsError(_(
            "{short}: {name} measures {quantity}; write it in {common}",
            short=_short(text), name=name, quantity=_(unit.quantity), common=_(COMMON[quantity]),
        ))  # fmt: skip
    return from_unit(value, name)


def _and_unit(quantity: Quantity) -> str:
    return _("without a unit") if quantity == "count" else _("and one unit ({common})", common=_(COMMON[quantity]))


def _first(quantity: Quantity) -> str:
    return COMMON[quantity].split(",")[0].split(" or ")[0]


def in_unit(value: float, name: str) -> float:
    """An SI value in a unit of the table.

    >>> round(in_unit(68947.57, "psi"), 3)
    10.0
    """
    if name == "degF":
        return value * 9 / 5 + 32
    return value / UNITS[name].factor


ROLES: dict[str, tuple[str, float, str, float]] = {
    # role: metric unit, its step; US customary unit, its step. A step is what a person can set or read.
    "length": ("m", 1, "ft", 1),
    "depth": ("mm", 0.5, "in", 0.05),
    "bore": ("mm", 0.1, "in", 0.01),
    "diameter": ("m", 0.01, "ft", 0.1),
    "stroke": ("mm", 1, "in", 0.1),
    "pressure": ("bar", 0.1, "psi", 1),
    "drive loss": ("bar", 0.05, "psi", 0.5),
    "flow": ("m3/h", 0.1, "gpm", 1),
    "travel speed": ("m/h", 0.5, "ft/h", 1),
    "road speed": ("km/h", 0.1, "mph", 0.1),
    "wind": ("km/h", 1, "mph", 1),
    "rate": ("mm/h", 0.1, "in/h", 0.01),
    "temperature": ("degC", 1, "degF", 1),
    "duration": ("h", 0.1, "h", 0.1),
    "force": ("kN", 0.1, "lbf", 10),
    "area": ("ha", 0.01, "acre", 0.01),
    "volume": ("m3", 1, "acre-in", 0.01),
    "torque": ("Nm", 1, "lbf ft", 1),
    "voltage": ("V", 0.1, "V", 0.1),
}


def _of_role(quantity: Quantity, role: str) -> tuple[str, float, str, float]:
    return ROLES[role or ("travel speed" if quantity == "speed" else quantity)]


def unit_for(quantity: Quantity, system: System, role: str = "") -> str:
    """The unit in which a person of that system reads a quantity in that role.

    >>> unit_for("speed", "us"), unit_for("length", "metric", "depth")
    ('ft/h', 'mm')
    """
    metric, _, us, _ = _of_role(quantity, role)
    return metric if system == "metric" else us


def step_for(quantity: Quantity, system: System, role: str = "") -> float:
    """The step, in that unit, in which a person of that system sets a quantity in that role.

    >>> step_for("speed", "metric"), step_for("pressure", "us")
    (0.5, 1)
    """
    _, metric_step, _, us_step = _of_role(quantity, role)
    return metric_step if system == "metric" else us_step


def from_unit(value: float, name: str) -> float:
    """A value in a unit of the table, in SI. The inverse of `in_unit`.

    >>> round(from_unit(10, "psi"))
    68948
    """
    return (value - 32) * 5 / 9 if name == "degF" else value * UNITS[name].factor


def show(value: float, quantity: Quantity, system: System = "metric", *, role: str = "") -> str:
    """A quantity as a person reads it: in their units, rounded to what can be set.

    >>> show(320.04, "length", "us"), show(22.3 / 3600, "speed"), show(69000, "pressure", role="drive loss")
    ('1050 ft', '22.5 m/h', '0.70 bar')
    """
    if quantity == "count":
        return localized(f"{value:g}")
    return write(value, unit_for(quantity, system, role), step_for(quantity, system, role))


def write(value: float, name: str, step: float = 0.0) -> str:
    """An SI value in a named unit for a person, rounded to a step (0: six figures).

    >>> write(0.0254, "in"), write(1234.56, "m", 0.1)
    ('1 in', '1234.6 m')
    """
    return localized(as_kept(value, name, step))


def as_kept(value: float, name: str, step: float = 0.0) -> str:
    """An SI value in a named unit as it is kept and read again, whatever the language; rounded as by `write`.

    >>> as_kept(150_000, "bar", 0.01)
    '1.50 bar'
    """
    there = in_unit(value, name)
    shown = _label(name)
    if not step:
        return f"{there:.6g} {shown}"
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0
    rounded = round(there / step) * step
    return f"{rounded:.{decimals}f} {shown}"


def example(metric: str, quantity: Quantity, system: System, role: str = "") -> str:
    """An example as a person of that system types it, from one in metric units: what they type without a unit is in
    theirs.

    >>> example("320 m", "length", "us"), example("320 m", "length", "metric")
    ('1050 ft', '320 m')
    """
    return localized(metric) if system == "metric" else show(read(metric, quantity), quantity, system, role=role)


def _label(name: str) -> str:
    return {"degC": "°C", "degF": "°F", "m3/h": "m³/h", "m3": "m³"}.get(name, name)

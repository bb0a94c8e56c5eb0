"""What the value of an option can be: each function reads one, and says what is right where it is not."""

from __future__ import annotations

import argparse

from reelcare.core.text import _, typed_figure


def word(text: str) -> str:
    """A word that something is looked for by: whatever the locale, and composed (NFC) as what is kept."""
    from reelcare.core.clean import clean

    return clean(text)


def port(text: str) -> int:
    """A port of this computer; 0 stands for any that is free."""
    if not (text.isascii() and text.isdigit() and len(text) <= 5 and int(text) <= 65535):
        raise argparse.ArgumentTypeError(
            _("{text!r}: must be a number from 1 to 65535, or 0 for any free port", text=text)
        )
    return int(text)


def days(text: str) -> int:
    """A whole number of days, up to ten years."""
    try:
        many = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(_("{text!r} is not a whole number of days", text=text)) from None
    if not 0 <= many <= 3660:
        raise argparse.ArgumentTypeError(_("{many} days: must be 0 to 3660", many=many))
    return many


def runs_between_alarms(text: str) -> float:
    """The mean number of runs between two false alarms."""
    if not (text.isascii() and text.isdigit()) or not 20 <= int(text) <= 100_000:
        raise argparse.ArgumentTypeError(_("{text!r}: must be a number of runs from 20 to 100000", text=text))
    return float(text)


def cost(text: str) -> float:
    """A cost, in any one currency."""
    try:
        amount = float(typed_figure(text))
    except ValueError:
        amount = -1.0
    if not 0 < amount < 1e12:
        raise argparse.ArgumentTypeError(_("{text!r}: a cost must be above 0", text=text))
    return amount


def most(text: str) -> int:
    """How many lines at most."""
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError(_("{text!r}: must be a number of 1 or more", text=text))
    return int(text)


def weeks(text: str) -> int:
    """A number of weeks, up to a year and two months."""
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 60:
        raise argparse.ArgumentTypeError(_("{text!r}: must be a number of weeks from 1 to 60", text=text))
    return int(text)

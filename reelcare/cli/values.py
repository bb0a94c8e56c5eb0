"""Readers of what is typed after an option: each refuses what it cannot be, and says what is right."""

from __future__ import annotations

import argparse

from reelcare.core import units
from reelcare.core.text import _, mark, typed_figure


def word(text: str) -> str:
    """A word to look something up by: decoded whatever the locale, and composed (NFC) as what is kept."""
    from reelcare.core.clean import clean

    return clean(given(text))


def given(text: str) -> str:
    """What is typed, as it is; where that is nothing, a script has left its variable empty, and means no *all*."""
    if not text.strip():
        raise argparse.ArgumentTypeError(_("empty; say which, or leave it out"))
    return text


def _whole(text: str, least: int, most: int, says: str) -> int:
    """A whole number from `least` to `most`; `says` is what is said of anything else."""
    if not (text.isascii() and text.isdigit() and len(text) < 10 and least <= int(text) <= most):
        raise argparse.ArgumentTypeError(_(says, text=text))
    return int(text)


def port(text: str) -> int:
    """A port of this computer; 0 stands for any that is free."""
    return _whole(text, 0, 65535, mark("{text!r}: must be a number from 1 to 65535, or 0 for any free port"))


def days(text: str) -> int:
    """A whole number of days, up to ten years."""
    try:
        many = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(_("{text!r} is not a whole number of days", text=text)) from None
    if not 0 <= many <= 3660:
        raise argparse.ArgumentTypeError(_("{many} days: must be 0 to 3660", many=many))
    return many


def months(text: str) -> int:
    """For how many months an instruction holds."""
    return _whole(text, 1, 120, mark("{text!r}: must be a whole number of months from 1 to 120"))


def runs_between_alarms(text: str) -> float:
    """The mean number of runs between two false alarms."""
    return float(_whole(text, 20, 100_000, mark("{text!r}: must be a number of runs from 20 to 100000")))


def cost(text: str) -> float:
    """A cost, in any one currency."""
    try:
        amount = units.number(typed_figure(text))
    except units.UnitsError as why:
        raise argparse.ArgumentTypeError(str(why)) from None
    if not 0 < amount < 1e12:
        raise argparse.ArgumentTypeError(_("{text!r}: a cost must be above 0", text=text))
    return amount


def most(text: str) -> int:
    """How many lines at most."""
    return _whole(text, 1, 1_000_000, mark("{text!r}: must be a number of 1 or more"))


def weeks(text: str) -> int:
    """A number of weeks, up to a year and two months."""
    return _whole(text, 1, 60, mark("{text!r}: must be a number of weeks from 1 to 60"))

"""The languages that texts for people come in, and their catalogues.

They are compiled from `locale/*/LC_MESSAGES/reelcare.po` when the package is built (see hatch_build.py). A text without
translation stays English.
"""

from __future__ import annotations

import os
from functools import cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path

from reelcare.core import text

LANGUAGES = {"en": "English", "es": "español", "fr": "français"}
"""Each language by its code, as those who speak it call it; in the order in which the app goes through them."""
DECIMAL_SIGNS = {"en": ".", "es": ",", "fr": ","}
"""What each language writes between units and tenths (CLDR, numbers: es and fr have the comma)."""
_FOLDER = Path(__file__).resolve().parent / "locale"


def wished(language: str = "") -> str:
    """The language that is asked for, else that of the environment, else that of the computer where it is one of ours,
    else English. Raises ValueError: not known."""
    named = os.environ.get("REELCARE_LANGUAGE") or _of_the_computer()
    if not language and named not in LANGUAGES:
        raise ValueError(f"REELCARE_LANGUAGE: {named}: no such language; choose from {', '.join(LANGUAGES)}")
    return language or named


def _of_the_computer() -> str:
    """The language of messages by the locale of the environment (POSIX.1, 8.2), as in `es_ES.UTF-8`."""
    locale = next((one for name in ("LC_ALL", "LC_MESSAGES", "LANG") if (one := os.environ.get(name))), "")
    language = locale.partition(".")[0].partition("_")[0]
    return language if language in LANGUAGES else "en"


def after(language: str) -> str:
    """The next language of the list; after the last one, the first.

    >>> after("en"), after("fr")
    ('es', 'en')
    """
    codes = list(LANGUAGES)
    return codes[(codes.index(language) + 1) % len(codes)]


def install(language: str) -> None:
    """Give all texts from now on in a language; a face does so once it knows which."""
    text.install(catalogue(language), language, DECIMAL_SIGNS[language])


@cache
def catalogue(language: str) -> NullTranslations:
    """The texts of a language; English ones where the installation has none of it."""
    try:
        with (_FOLDER / language / "LC_MESSAGES" / "reelcare.mo").open("rb") as file:
            return GNUTranslations(file)
    except FileNotFoundError:
        return text.ENGLISH

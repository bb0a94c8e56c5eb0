"""Texts for people: English is the key, and a catalogue that a face hands in gives the other languages.

The rules of this file: one function for every text that somebody reads; nothing is loaded here. What is kept in entries
and what stands in JSON never goes through it. A text with values names them, since their order differs by language.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol


class Catalogue(Protocol):
    """What gives the texts of a language, as `gettext.NullTranslations` does."""

    def gettext(self, message: str, /) -> str:
        """The text in the language, else as it is."""

    def ngettext(self, one: str, many: str, n: int, /) -> str:
        """The language's plural form for a number, else one of the two."""


class _English:
    def gettext(self, message: str, /) -> str:
        return message

    def ngettext(self, one: str, many: str, n: int, /) -> str:
        return one if n == 1 else many


ENGLISH: Catalogue = _English()
_catalogue, _language = ENGLISH, "en"


def install(catalogue: Catalogue = ENGLISH, language: str = "en") -> None:
    """Give all texts from now on in the language of a catalogue, which has this code."""
    global _catalogue, _language
    _catalogue, _language = catalogue, language


def current_language() -> str:
    """The code of the language that texts are given in: what tables say in that language goes with them.

    >>> current_language()
    'en'
    """
    return _language


@contextmanager
def in_english() -> Iterator[None]:
    """Give texts in English for as long as it stands: for what is kept in entries.

    >>> with in_english():
    ...     _("held")
    'held'
    """
    before = _catalogue, _language
    install()
    try:
        yield
    finally:
        install(*before)


def _(text: str, /, **values: object) -> str:
    """A text in the person's language, with its values in place; an empty one as it is.

    >>> _("Yard of {n} machines", n=3), _("")
    ('Yard of 3 machines', '')
    """
    if not text:
        return text  # the empty key of a catalogue is its header
    told = _catalogue.gettext(text)
    return told.format(**values) if values else told


def plural(one: str, many: str, n: int, /, **values: object) -> str:
    """A text that depends on a number, which stands in it as `n`.

    >>> plural("{n} run", "{n} runs", 1), plural("{n} run", "{n} runs", 3)
    ('1 run', '3 runs')
    """
    return _catalogue.ngettext(one, many, n).format(n=n, **values)


def mark(text: str) -> str:
    """The same text, known to the catalogues: for what is read before a language is installed. `_` translates it.

    >>> mark("Fault")
    'Fault'
    """
    return text

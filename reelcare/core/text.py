"""Texts for people: English is the key, and a catalogue that a face hands in gives the other languages.

The rules of this file: one function for every text that somebody reads; nothing is loaded here. What is kept in entries
and what stands in JSON never goes through it. A text with values names them, since their order differs by language.

Figures follow the language, too: a number with decimals is shown with the decimal sign of the language, and typed with
it. What is kept has a point.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from gettext import NullTranslations
from typing import NamedTuple

ENGLISH = NullTranslations()
"""The catalogue of no language: each text is its own key."""
POINT = "."


class TextLanguage(NamedTuple):
    """What texts are given in: a catalogue, the code of its language, and the decimal sign."""

    catalogue: NullTranslations = ENGLISH
    code: str = "en"
    sign: str = POINT


_installed = TextLanguage()
_here: ContextVar[TextLanguage] = ContextVar("language of texts")
"""What one thread alone gives its texts in for a moment, instead of what is installed."""
_WITH_COMMA = re.compile(r"(\d*),(\d+)")
_WITH_BOTH = re.compile(r"(?<![\d.,])[1-9]\d{0,2}(?:\.\d{3})+(?=,\d)")
_THOUSAND = re.compile(r"(?<![\d.,])(?!0)(\d{1,3})\.(\d{3})(?![\d.])")


def install(catalogue: NullTranslations = ENGLISH, language: str = "en", sign: str = POINT) -> None:
    """Give all texts from now on in the language of a catalogue, which has this code and this decimal sign."""
    global _installed
    _installed = TextLanguage(catalogue, language, sign)


def current_language() -> str:
    """The code of the language that texts are given in: what tables say in that language goes with them.

    >>> current_language()
    'en'
    """
    return _here.get(_installed).code


@contextmanager
def in_english() -> Iterator[None]:
    """Give texts in English for as long as it stands: for what is kept in entries. Other threads, such as one that
    draws the screen meanwhile, go on in the person's language.

    >>> with in_english():
    ...     _("held")
    'held'
    """
    before = _here.set(TextLanguage())
    try:
        yield
    finally:
        _here.reset(before)


def _(text: str, /, **values: object) -> str:
    """A text in the person's language, with its values in place; an empty one as it is.

    >>> _("Yard of {n} machines", n=3), _("")
    ('Yard of 3 machines', '')
    """
    if not text:
        return text  # the empty key of a catalogue is its header
    told = _here.get(_installed).catalogue.gettext(text)
    return _filled(told, values) if values else told


def plural(one: str, many: str, n: int, /, **values: object) -> str:
    """A text that depends on a number, which stands in it as `n`.

    >>> plural("{n} run", "{n} runs", 1), plural("{n} run", "{n} runs", 3)
    ('1 run', '3 runs')
    """
    return _filled(_here.get(_installed).catalogue.ngettext(one, many, n), {"n": n, **values})


class _Filler(string.Formatter):
    """Fills in values as `str.format` does, but for the decimal sign."""

    def format_field(self, value: object, format_spec: str) -> str:
        told: str = format(value, format_spec)
        return localized(told) if isinstance(value, float) else told


_FILLER = _Filler()


def _filled(text: str, values: dict[str, object]) -> str:
    return text.format(**values) if _here.get(_installed).sign == POINT else _FILLER.vformat(text, (), values)


def localized(written: str) -> str:
    """A figure that was written with a point, as the language writes it; only for what is shown.

    >>> localized(f"{7.54:.1f} bar")
    '7.5 bar'
    """
    return written.replace(POINT, _here.get(_installed).sign)


def typed_figure(text: str) -> str:
    """What a person typed, as it is kept and read: with a point, where their language writes a comma.

    `1,234` is left as it is typed, which no reading takes: it could be a thousand. So could `1.234` there, where a
    point parts thousands, and it goes the same way. `1.234,5` can be one thing alone.

    >>> typed_figure(" 7,5 bar"), typed_figure("1.234 m")
    (' 7,5 bar', '1.234 m')
    """
    if _here.get(_installed).sign == POINT:
        return text
    text = _WITH_BOTH.sub(lambda found: found.group().replace(".", ""), text, count=1)
    return _WITH_COMMA.sub(_point, _THOUSAND.sub(r"\1,\2", text, count=1), count=1)


def as_typed(kept: str) -> str:
    """A figure that is kept with a point, as a person of this language types it: `typed_figure` reads it again. One of
    three places has one more, since it would be a thousand.

    >>> as_typed("7.5 bar"), as_typed("300.125 m")
    ('7.5 bar', '300.125 m')
    """
    return kept if _here.get(_installed).sign == POINT else localized(_THOUSAND.sub(r"\1.\g<2>0", kept, count=1))


def _point(found: re.Match[str]) -> str:
    whole, part = found.groups()
    could_part = len(part) == 3 and len(whole) <= 3 and whole.strip("0")
    return found.group() if could_part else f"{whole}.{part}"


def mark(text: str) -> str:
    """The same text, known to the catalogues: for what is read before a language is installed. `_` translates it.

    >>> mark("Fault")
    'Fault'
    """
    return text

"""A language for tests: each text stands in ⟦ ⟧, so that one which does not go through the catalogues is seen.

Values within a text stand outside the brackets: `⟦held since ⟧May`; they must have gone through by themselves.
"""

import re
from gettext import NullTranslations
from string import Formatter

OPENS, CLOSES = "⟦", "⟧"
_BRACKETED = re.compile(f"{OPENS}[^{OPENS}{CLOSES}]*{CLOSES}")


class Pseudo(NullTranslations):
    """A catalogue that translates any text; `asked` holds all that it was asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: set[str] = set()

    def gettext(self, message: str) -> str:
        self.asked.add(message)
        return bracketed(message)

    def ngettext(self, one: str, many: str, n: int) -> str:
        return self.gettext(one if n == 1 else many)


def bracketed(message: str) -> str:
    """The text in brackets, its fields outside them."""
    told = ""
    try:
        parts = list(Formatter().parse(message))
    except ValueError:
        return f"{OPENS}{message}{CLOSES}"  # braces that are no fields
    for words, field, form, _conversion in parts:
        if words:
            told += f"{OPENS}{words.replace('{', '{{').replace('}', '}}')}{CLOSES}"
        if field is not None:
            told += f"{{{field}{':' if form else ''}{form or ''}}}"
    return told


def outside(shown: str) -> str:
    """What of a shown text did not go through the catalogues."""
    return _BRACKETED.sub(" ", shown)

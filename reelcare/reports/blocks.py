"""What a report is made of, before it is known whether it becomes a page or a PDF.

The rules of this file: values only. Texts stand here as they were typed; whoever lays them out makes them safe.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from reelcare.core.text import _

Tone = Literal["", "good", "warning", "bad", "small"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading of a part."""

    words: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph in a tone."""

    words: str
    tone: Tone = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table; `numbers` are the columns that stand to the right. Without heads: names with their values. A row of one
    cell in a table of several columns is a heading of the rows after it. One `to_fill_in` is set on paper in two
    columns, the cells of a row under each other."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()
    to_fill_in: bool = False


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines to sign on."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars under each other: a name, a value, and what is written at its end."""

    rows: tuple[tuple[str, float, str], ...]


@dataclass(frozen=True, slots=True)
class Columns:
    """Columns beside each other, as over the weeks of a season: a name and a value, in a unit."""

    values: tuple[tuple[str, float], ...]
    unit: str = ""


Block = Heading | Paragraph | Table | Signatures | Bars | Columns


@dataclass(frozen=True, slots=True)
class Document:
    """A report: its title, the line under it, and its blocks."""

    title: str
    under: str
    blocks: tuple[Block, ...]
    language: str = "en"
    close: bool = False
    """Set close where that keeps it on one page."""
    is_wide: bool = False
    """On paper that lies across: its tables have many columns."""
    code: tuple[tuple[bool, ...], ...] = ()
    """The modules of a code that stands beside the title, its quiet zone among them."""
    stamp: str = ""
    """When it was made, and of when it tells: after the line under the title, and at the foot of each page."""

    @property
    def told_under(self) -> str:
        """The whole line under the title."""
        return "; ".join(one for one in (self.under, self.stamp) if one)


def table(heads: Sequence[str], rows: Iterable[Sequence[object]], *, numbers: Sequence[int] = ()) -> Table:
    """A table of any values."""
    return Table(tuple(heads), tuple(tuple(str(one) for one in row) for row in rows), tuple(numbers))


def pairs(rows: Iterable[tuple[str, object]]) -> Table:
    """Names with their values."""
    return table((), rows)


def stamp(made: datetime, stood: datetime | None = None, *, demo: bool) -> str:
    """The stamp of what was made at a moment, and tells how things stood at an earlier one (None: then); both in the
    zone of the register, which is a `demo` or not. It stands at the foot of each page of a PDF, too, so that a sheet
    that is found alone says it."""
    told = [_("DEMO: machines and people are invented")] if demo else []
    if stood is not None:
        told.append(_("as it stood at {when}", when=f"{stood:%Y-%m-%d %H:%M}"))
    told.append(_("made {when}", when=f"{made:%Y-%m-%d %H:%M}"))
    return "; ".join(told)

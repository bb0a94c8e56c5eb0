"""`formats`: what may stand in each file that is read, and what each key of JSON and column of CSV means, with units.

The rules of this file: which keys there are, and what is right there, is asked of the readers themselves; what a key
means stands in `formats.toml`, a line for each. All of it is English, as the keys are.
"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.cli.table import TextColumn
from reelcare.cli.terminal import width_of_tables
from reelcare.core.checks import sheet, sheet_table
from reelcare.core.entries.runs import STOPPED_BY
from reelcare.core.machine import card
from reelcare.core.night import field
from reelcare.core.service import plan_table
from reelcare.core.spreadsheet import columns
from reelcare.core.text import _
from reelcare.register.exchange import run_logs
from reelcare.reports import tables as csv_tables
from reelcare.reports import water

CARD_EXAMPLE = """\
tag = "T01"
name = "Heron"
place = "North Field"
in_use_since = "2024-04-01"
[drum]
core_diameter = "1.6 m"
coils_per_layer = 12
layers = 5
[hose]
outside = "110 mm"
inside = "90 mm"
length = "350 m"
[drive]
kind = "turbine"
most_loss = "0.69 bar"
[legs]
kind = "hydraulic"
[cart]
kind = "gun"
"""
FIELD_EXAMPLE = """\
id = "north"
place = "North Field"
[[lanes]]
number = 1
hydrant = 3
length = "320 m"
[licence]
m3_season = 40000
hours = "20:00-08:00"
"""
RUN_EXAMPLE = """\
machine,started,ended,metres,inlet_kpa,stopped_by
T01,2026-05-01T06:30,2026-05-01T19:10,320,620,end stop
"""
MATCHING_EXAMPLE = """\
dates = "d/m/y"
decimal = ","
[columns]
machine = "No."
started = ["Day", "From"]
ended = ["Day", "To"]
metres = "Laid out (m)"
[machines]
tag = "No."
hose.length = "Hose (m)"
[units]
metres = "m"
"""


class FormatRow(NamedTuple):
    """One key: what is right there ('' where its meaning says it), and what it means."""

    key: str
    right: str
    says: str


Tables = tuple[tuple[str, tuple[FormatRow, ...]], ...]


class Format(NamedTuple):
    """One form: the word that names it, its title, what there is to say of it, its tables, and an example."""

    name: str
    title: str
    about: str
    tables: Tables
    example: str = ""
    language: str = "toml"


def formats(asked: argparse.Namespace) -> None:
    """Print one form, or all of them."""
    wanted = [one for one in all_formats() if asked.form in ("", one.name)]
    if asked.json:
        common.print_json({one.name: {title: [row._asdict() for row in rows] for title, rows in one.tables}
                           for one in wanted})  # fmt: skip
        return
    if not wanted:
        names = ", ".join(one.name for one in all_formats())
        raise Problem(_("{form}: no such form; there are {names}", form=asked.form, names=names))
    if width_of_tables() is None:
        print("\n".join(filter(None, map(_markdown, wanted))), end="")
        return
    for at, one in enumerate(wanted):
        _print(one, gap=at > 0)


def _print(one: Format, *, gap: bool) -> None:
    """One form on a terminal: as the page has it, in tables that are fitted to its width."""
    common.print_text(one.title.upper(), gap=gap)
    common.print_text(one.about)
    for title, rows in one.tables:
        print()
        if len(one.tables) > 1:
            common.print_text(_title(one, title))
        if any(row.right for row in rows):
            common.print_table(("key", TextColumn("right", 2), "means"), rows)
        else:
            common.print_table(("key", "means"), [(row.key, row.says) for row in rows])
    if one.example:
        print()
        for line in one.example.splitlines():
            common.print_text(f"  {line}")


def text() -> str:
    """All forms as a page."""
    return "".join(f"\n{_markdown(one)}" for one in all_formats())


def all_formats() -> tuple[Format, ...]:
    """Every form, in the order of the page."""
    return (*_toml_files(), *_tables_of_runs(), _csv(), _json())


@cache
def meanings() -> Mapping[str, Mapping[str, str]]:
    """What each key means, by form; those of JSON by `json` and the command, those of CSV by `csv` and the report."""
    found = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
    return {**found, **{f"{form} {name}": keys for form in ("csv", "json") for name, keys in found.pop(form).items()}}


def _rows(form: str, keys: Iterable[tuple[str, str]]) -> tuple[FormatRow, ...]:
    said = meanings()[form]
    return tuple(FormatRow(key, right, said[key]) for key, right in keys)


def _plain(form: str, keys: Iterable[str]) -> tuple[FormatRow, ...]:
    return _rows(form, ((key, "") for key in keys))


def _toml_files() -> tuple[Format, ...]:
    of_card = [(key, reader.right) for key, reader in (*card.TOP.items(), *card.READERS.items())]
    of_field = [("id", "a text"), ("place", "a text")]
    of_field += [(f"lanes[].{key}", reader.right) for key, reader in field.LANE.items()]
    of_field += [(f"{part}.{key}", one.right) for part, keys in field.SECTIONS.items() for key, one in keys.items()]
    sheets = (
        ("a sheet", _plain("sheet", sheet_table.SHEET_KEYS)), ("a stage", _plain("stage", sheet.Stage._fields)),
        ("a question", _plain("question", sheet.Question._fields)),
        ("a choice", _plain("choice", sheet.Choice._fields)),
    )  # fmt: skip
    said = {"kinds": ", ".join(sheet.KINDS), "fors": ", ".join(sheet.FORS), "needs": ", ".join(card.NEEDS)}
    plans = (("a plan", _plain("plan", plan_table.PLAN_KEYS)), ("an item", _plain("item", plan_table.ITEM_KEYS)))
    of_cards = _rows("card", [*of_card, ("parts.*", "a text")])
    return (
        _form("card", "Card", (("a card", of_cards),), CARD_EXAMPLE),
        _form("sheet", "Sheet", sheets, **said),
        _form("plan", "Plan", plans),
        _form("lanes", "Field", (("a field", _rows("field", of_field)),), FIELD_EXAMPLE),
    )


def _form(name: str, title: str, tables: Tables, example: str = "", language: str = "toml", **said: str) -> Format:
    return Format(name, title, meanings()["about"][name].format_map(said), tables, example, language)


def _tables_of_runs() -> tuple[Format, ...]:
    needed = columns.NEEDED_OF_RUNS
    right = {key: "needed" for key in needed} | {"stopped_by": ", ".join(f"`{one}`" for one in STOPPED_BY)}
    runs = _rows("runs", ((key, right.get(key, "")) for key in (*needed, *run_logs.OPTIONAL)))
    of_matching = {"dates": ", ".join(f"`{one}`" for one in columns.DATES),
                   "decimal": " or ".join(f"`{one}`" for one in columns.DECIMALS)}  # fmt: skip
    keys = ((key, of_matching.get(key, "")) for key in columns.MATCHING_KEYS)
    matching = (("a matching", _rows("matching", keys)),)
    return (
        _form("runs", "Run log", (("a run log", runs),), RUN_EXAMPLE, "csv"),
        _form("matching", "Matching", matching, MATCHING_EXAMPLE, runs=", ".join(columns.RUNS)),
    )


def _csv() -> Format:
    written = (
        ("report due, report list", "csv due", csv_tables.DUE), ("report workload", "csv workload", csv_tables.WORK),
        ("report water", "csv water", water.COLUMNS),
    )  # fmt: skip
    return _form("csv", "CSV", tuple((title, _plain(said, heads)) for title, said, heads in written))


def _json() -> Format:
    commands = [name.removeprefix("json ") for name in meanings() if name.startswith("json ")]
    tables = tuple(
        (name.replace("-w", " w").replace("-f", " f"), _plain(f"json {name}", meanings()[f"json {name}"]))
        for name in commands
    )
    return _form("json", "JSON", tables)


def _title(one: Format, table: str) -> str:
    return f"{table} --json" if one.name == "json" else table


def _markdown(one: Format) -> str:
    parts = [f"## {one.title}\n\n{one.about}\n"]
    for title, rows in one.tables:
        if len(one.tables) > 1:
            parts.append(f"\n### {_title(one, title)}\n")
        right = any(row.right for row in rows)
        parts.append("\n| key | right | means |\n|---|---|---|\n" if right else "\n| key | means |\n|---|---|\n")
        for row in rows:
            cells = (f"`{row.key}`", row.right, row.says) if right else (f"`{row.key}`", row.says)
            parts.append(f"| {' | '.join(cells)} |\n")
    if one.example:
        parts.append(f"\n```{one.language}\n{one.example}```\n")
    return "".join(parts)

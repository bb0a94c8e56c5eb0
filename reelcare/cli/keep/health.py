"""`health`: what could be wrong with this computer, this terminal and this register; and what to do about it.

The rules of this file: it changes nothing, asks nothing of any network but the register's own server, and tells no
secret. Ends with 1 where something is to be done.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import locale
import os
import platform
import shutil
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

from reelcare import __version__, files
from reelcare.cli import common
from reelcare.cli.terminal import is_utf8
from reelcare.core.text import _, mark
from reelcare.installation import adds
from reelcare.register.database.opening import shown
from reelcare.register.errors import RegisterError
from reelcare.register.proof import health as condition
from reelcare.register.proof.health import HealthLine

EXTRAS = (
    ("postgres", "psycopg", mark("a register on a server")),
    ("pdf", "fpdf", mark("reports as PDF")),
    ("serve", "textual_serve", mark("the app in a browser")),
    ("xlsx", "openpyxl", mark("workbooks")),
)
"""Extras: their name, the package that shows that they are there, and what they are for."""


def health(asked: argparse.Namespace) -> int:
    """Look at everything and tell."""
    folders = (_("data folder"), files.data_folder()), (_("settings"), files.config_folder())
    looks = [*_versions(), *_terminal(), *(condition.room(name, at) for name, at in folders), *_register(asked)]
    if asked.json:
        common.print_json([{"name": one.name, "found": one.found, "advice": one.advice} for one in looks])
    else:
        for one in looks:
            common.print_text(f"{'!' if one.advice else ' '} {one.name:<20}{one.found}")
            if one.advice:
                common.print_text(f"{'':22}{one.advice}")
    return 1 if any(one.advice for one in looks) else 0


def _versions() -> Iterator[HealthLine]:
    yield HealthLine("reelcare", __version__)
    yield HealthLine(
        "Python", _("{version} on {system}", version=platform.python_version(), system=platform.platform(terse=True))
    )
    for name in ("textual", "peewee"):
        try:
            yield HealthLine(name, importlib.metadata.version(name))
        except importlib.metadata.PackageNotFoundError:
            yield HealthLine(name, _("not there"), _("parts of the program are missing; install reelcare again"))
    yield condition.engine()
    for name, package, what in EXTRAS:
        there = find_spec(package) is not None
        yield HealthLine(
            _("extra {name}", name=name),
            _("there") if there else _("not there ({what}: {adds})", what=_(what), adds=adds(name)),
        )


def _terminal() -> Iterator[HealthLine]:
    if not sys.stdout.isatty():
        yield HealthLine(_("terminal"), _("none: the output goes to a file or another program"))
        return
    size = shutil.get_terminal_size()
    kind = os.environ.get("TERM", "")
    colours = os.environ.get("COLORTERM") or (_("none (NO_COLOR)") if os.environ.get("NO_COLOR") else _("as TERM says"))
    small = size.columns < 80 or size.lines < 24
    yield HealthLine(
        _("terminal"),
        _("{kind}, {columns}x{lines}, colours: {colours}", kind=kind or _("TERM is not set"), columns=size.columns,
          lines=size.lines, colours=colours),
        _("the app needs a terminal that can move its cursor; use the commands") if kind in ("", "dumb")
        else _("the app is made for 80x24 and more") if small else "",
    )  # fmt: skip
    named = locale.setlocale(locale.LC_CTYPE, None)
    yield HealthLine(
        _("letters"), f"{sys.stdout.encoding} ({named})", "" if is_utf8() else _("set a UTF-8 locale, or use --ascii")
    )


def _register(asked: argparse.Namespace) -> Iterator[HealthLine]:
    where = common.where(asked)
    try:
        from reelcare.register.exchange import copies
        from reelcare.register.opening import open_reader

        told = condition.before_opening(where) if isinstance(where, Path) else None
        if told is not None:
            yield told
            return
        with open_reader(where) as register:
            yield from condition.of(register, common.now(), copies.folder_of(register.path))
    except RegisterError as why:
        yield HealthLine(_("register"), shown(where), str(why))
    except OSError as why:
        yield HealthLine(
            _("register"),
            shown(where),
            _("{strerror}: make it readable for you, or name another", strerror=why.strerror),
        )

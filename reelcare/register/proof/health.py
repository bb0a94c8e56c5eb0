"""How a register and the engine under it are: what `health` looks at in this room. Nothing is changed."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reelcare.core.text import _, localized, plural
from reelcare.core.wording import ago
from reelcare.register.database import schema_check, sqlite_file
from reelcare.register.database.models import EntryRow, MachineRow
from reelcare.register.database.sqlite import Sqlite
from reelcare.register.integrity import pins, witness
from reelcare.register.proof import proving
from reelcare.register.proof.proving import NO_HEADS
from reelcare.register.reading import doubts, yard
from reelcare.register.reading.reader import Reader

FAULTY = ((3, 7, 0), (3, 51, 2))
"""The versions of SQLite in which two connections that write and checkpoint in the same moment could, very rarely,
damage a register (the WAL-reset fault, mended in 3.51.3; sqlite.org/wal.html)."""
LEAST_ROOM = 100 << 20
"""Free bytes below which more room is advised."""


@dataclass(frozen=True, slots=True)
class HealthLine:
    """Something that was looked at: its name, what was found, and what to do about it ('' where nothing is)."""

    name: str
    found: str
    advice: str = ""


def engine(version: tuple[int, int, int] | None = None) -> HealthLine:
    """The version of SQLite, and its fault where it has one."""
    at = version or sqlite3.sqlite_version_info
    shown = ".".join(map(str, at))
    if FAULTY[0] <= at <= FAULTY[1]:
        return HealthLine(
            "SQLite", shown,
            _("a rare bug of this version can damage a register that several programs write to: "
              "use 3.51.3 or newer, and keep the daily copies"),
        )  # fmt: skip
    return HealthLine("SQLite", shown)


def modes(path: Path) -> HealthLine:
    """Whether others can read the register's files."""
    files = [one for end in ("", "-wal", "-shm", ".heads") if (one := path.with_name(path.name + end)).exists()]
    open_to = [one.name for one in files if one.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)]
    if open_to:
        return HealthLine(_("files"), _("open to others: {open_to}", open_to=", ".join(open_to)), f"chmod 600 {path}*")
    return HealthLine(_("files"), _("{files}, private", files=len(files)))


def room(name: str, folder: Path) -> HealthLine:
    """Whether a folder (or the nearest one above it that is there) can be written to, and how much is free in it."""
    try:
        near = next(one for one in (folder, *folder.resolve().parents) if one.exists())
        free = shutil.disk_usage(near).free >> 20
    except OSError as why:
        return HealthLine(
            name, f"{folder}: {why.strerror}", _("you may not read this; ask whoever looks after this computer")
        )
    found = (
        _("{folder}, {free} MiB free", folder=folder, free=free)
        if near == folder
        else _("{folder} (not there yet), {free} MiB free", folder=folder, free=free)
    )
    if not os.access(near, os.W_OK):
        return HealthLine(name, found, _("nothing can be written here; name another register with --register"))
    if free < LEAST_ROOM >> 20:
        return HealthLine(name, found, _("only {free} MiB are free; make room", free=free))
    return HealthLine(name, found)


def before_opening(path: Path) -> HealthLine | None:
    """Why a register in a file is not to be opened by somebody who only looks; None where it can be.

    Raises a RegisterError where it is none of ours, OSError where it may not be looked at.
    """
    if not path.exists():
        return HealthLine(_("register"), _("{path}: not there yet; made when it is first written to", path=path))
    if sqlite_file.is_older(path):
        return HealthLine(
            _("register"),
            _("{path}: an older version wrote it; it is brought up to date when it is next opened", path=path),
        )
    return None


def clock_behind(reader: Reader, now: datetime) -> str:
    """What to tell before anything is signed with a clock that is behind this terminal's last entry; '' where it is
    not."""
    last = doubts.later_entry(reader.db, reader.terminal, now)
    if last is None:
        return ""
    shown = f"{last.astimezone(reader.zone):%Y-%m-%d %H:%M}"
    return _("The last entry here is of {shown}: set this computer's clock right.", shown=shown)


def _writable(path: Path) -> str:
    """What makes a file writable: its own bits, unless they allow it already."""
    if path.stat().st_mode & stat.S_IWUSR:
        return _("its disk is read-only, or the file is another user's; `reelcare copy PATH` makes one of your own")
    return f"chmod u+w {path}"


def of(reader: Reader, now: datetime, copies: Path) -> list[HealthLine]:
    """How an open register is, and its daily copies in the folder `copies`."""
    found = [HealthLine(_("register"), reader.where, reader.warning)]
    if reader.is_demo:
        found.append(HealthLine(_("demo"), _("this is a demo: its machines, people and entries are invented")))
    if isinstance(reader.db, Sqlite):
        found.append(room(_("its folder"), reader.path.absolute().parent))
        if not os.access(reader.path, os.W_OK):
            found.append(
                HealthLine(_("writing"), _("you may only read {path}", path=reader.path), _writable(reader.path))
            )
    entries, machines = (table.select().count(reader.db) for table in (EntryRow, MachineRow))
    found.append(
        HealthLine(
            _("holds"),
            ", ".join(
                (
                    plural("{n} entry", "{n} entries", entries),
                    plural("{n} machine", "{n} machines", machines),
                    _("terminal {terminal}", terminal=reader.terminal),
                )
            ),
        )
    )
    if isinstance(reader.db, Sqlite):
        found.append(modes(reader.path))
    found += [_clock(reader, now), _end_of_the_chain(reader)]
    found += _schema(reader)
    found += _kept(reader, now)
    found += _people(reader)
    return [*found, _copies(copies, now)]


def _clock(reader: Reader, now: datetime) -> HealthLine:
    """Whether the clock is behind the last entry of this terminal."""
    last = doubts.later_entry(reader.db, reader.terminal, now)
    if last is None:
        return HealthLine(_("clock"), _("not before the last entry"))
    behind = localized(f"{(last - now).total_seconds() / 3600:.1f}")
    found = _("{behind} h before the last entry", behind=behind)
    return HealthLine(_("clock"), found, _("set this computer's clock right, then go on writing"))


def _end_of_the_chain(reader: Reader) -> HealthLine:
    """Whether the last entries are whole, and as they were witnessed."""
    name, wrong = _("end of the chain"), proving.prove_the_end(reader)
    if wrong:
        cure = _("`reelcare prove` says more; `reelcare restore COPY` goes back to a copy")
        return HealthLine(name, f"{wrong[0].place}: {wrong[0].what}", cure)
    if witness.kept(reader.path):
        return HealthLine(name, _("intact, and as it was witnessed"))
    return HealthLine(name, "; ".join((_("intact"), _("not checked: {text}", text=_(NO_HEADS)))))


def _copies(folder: Path, now: datetime) -> HealthLine:
    """How many daily copies there are, and how old the newest is."""
    made = sorted(folder.glob("*.db"))
    if not made:
        return HealthLine(_("copies"), _("none yet"), _("one is made when you leave the app; or `reelcare copy PATH`"))
    newest = ago(datetime.fromtimestamp(made[-1].stat().st_mtime, now.tzinfo), now)
    return HealthLine(_("copies"), _("{made}, the newest {newest}", made=len(made), newest=newest))


def _schema(reader: Reader) -> list[HealthLine]:
    """A line where triggers, indexes or columns are not as they must be; one for all of them."""
    wrong = schema_check.schema_problems(reader.db)
    return [HealthLine(_("schema"), "; ".join(wrong), _("`reelcare prove` says more"))] if wrong else []


def _kept(reader: Reader, now: datetime) -> list[HealthLine]:
    """A line where machines are kept as clear that their entries do not call so."""
    wrong = yard.unproven_clear(reader, yard.listed(reader, now), now)
    if not wrong:
        return []
    says = _("{tags}: shown as clear, but the entries do not say so", tags=", ".join(wrong))
    return [HealthLine(_("standing"), says, _("`reelcare prove` says more, `reelcare rebuild` mends it"))]


def _people(reader: Reader) -> list[HealthLine]:
    """Whether somebody can unlock somebody, and whether names are proved."""
    roles = reader.roles()
    supervisors = [name for name, role in roles.items() if role == "supervisor"]
    found = [
        HealthLine(
            _("people"),
            plural("{n} enrolled", "{n} enrolled", len(roles)),
            _("with one supervisor, nobody can unlock them: enrol a second one") if len(supervisors) == 1 else "",
        )
    ]
    not_proved = pins.names_not_proved(reader.db, roles)
    if not_proved:
        found.append(HealthLine(_("names"), not_proved))
    return found

"""The rows of the yard: which band a machine stands in, and what matters most about it, in two lines.

The rules of this file: a row says what is not normal. What is said of a band is not said again in its rows.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from textual.content import Content

from reelcare.core import units
from reelcare.core.checks.clearance import planned_end
from reelcare.core.service.due_line import ACUTE, DueLine
from reelcare.core.state.counters import total_cell
from reelcare.core.state.limits import Limits
from reelcare.core.state.standing import HOLDING, Standing
from reelcare.core.text import _, mark
from reelcare.core.wording import cells, day, duration
from reelcare.register.errors import RegisterError
from reelcare.register.reading import yard
from reelcare.register.reading.reader import Reader
from reelcare.register.reading.yard import ListedMachine
from reelcare.tui.text import join
from reelcare.tui.theme import STYLES, TONES, state
from reelcare.tui.widgets.bands import Band
from reelcare.tui.widgets.rows import Cell, Column, Row

COLUMNS = (
    Column(mark("machine"), 11, 1),
    Column(mark("place"), 12, 2),
    Column(mark("what"), 26, 1, grows=True),
    Column(mark("left"), 12, 1, right=True),
    Column(mark("road"), 7, 3),
    Column(mark("hours"), 5, 5, right=True),
    Column(mark("for"), 10, 4),
)
"""What a machine has run, and when it was checked, stand in the pane. Road stands only where it is not *check due*."""
BANDS = ("held", "running", "check due", "clear")
NAMES = {"held": mark("held"), "running": mark("running"), "check due": mark("check due"), "clear": mark("clear")}
SIGNED = {"held": "held", "running": "clear", "check due": "check due", "clear": "clear"}
"""The state whose sign a band has."""


def sign(word: str) -> str:
    """The sign of a state without its word."""
    return state(word).split(" ", 1)[0]


def is_quiet(one: ListedMachine) -> bool:
    """Whether a machine has nothing to say beside its band."""
    return one.judged.is_quiet and all(note.near_miss for note in one.notes)


def arranged(machines: Sequence[ListedMachine]) -> list[ListedMachine]:
    """Machines in the order of the bands: in a band those that are late first, then what is due soonest; those that
    have nothing to say last, by tag."""
    return sorted(machines, key=_order)


def _order(one: ListedMachine) -> tuple[int, bool, bool, float, str]:
    quiet, late = is_quiet(one), "late home" in one.judged.words
    return BANDS.index(one.judged.band), quiet, not late, 0.0 if quiet else -one.judged.used, one.tag


def bands(machines: Sequence[ListedMachine]) -> list[Band]:
    """The bands of machines that are arranged."""
    found = []
    for name in BANDS:
        some = [one for one in machines if one.judged.band == name]
        if not some:
            continue
        tags = [one.tag for one in some if is_quiet(one)]
        head = f"{sign(SIGNED[name])} {_(NAMES[name])}"
        quiet = _("nothing else on {n}:", n=len(tags))
        found.append(
            Band(f"{head} {len(some)}", TONES[SIGNED[name]], len(some), tags,
                 f"{sign(SIGNED[name])} {quiet}", f"{head} {len(some)}, {quiet}")
        )  # fmt: skip
    return found


LONG = 40
"""Cells from which on why a machine is held has both lines of its row, where there are two."""


class Said(NamedTuple):
    """Something that matters about a machine: in full, in few words, what is left of it, and how loud it is."""

    full: str
    left: str = ""
    tone: str = ""
    short: str = ""

    @property
    def cells(self) -> tuple[Cell, Cell]:
        """What it is, in full where that has room, and what is left; no word is cut."""
        return Cell(self.short or self.full, self.tone, lambda size: self._lines(size)[0]), Cell(self.left)

    def below(self, second: Said) -> tuple[Cell, Cell]:
        """The cells under these: the rest of what had no room, else what matters second, of which nothing is left."""
        if second.left:
            return second.cells
        told, left = second.cells

        def draw(size: int) -> str | Content:
            rest = self._lines(size)[1]
            return join((f"… {rest}", STYLES.get(self.tone, ""))) if rest else second._lines(size)[0]

        return told._replace(draw=draw), left

    def _lines(self, size: int) -> tuple[str, str]:
        """What stands in a line of so many cells, and what is left for the next one."""
        if cells(self.full) <= size or self.short:
            return self.full if cells(self.full) <= size else self.short, ""
        first = next(iter(textwrap.wrap(self.full, max(size - 2, 1))), "")
        return f"{first} …", self.full[len(first) :].strip()


class YardRows:
    """What is said of machines, read from a register at a moment, in a language."""

    def __init__(self, reader: Reader, language: str, system: units.System, now: datetime) -> None:
        self._reader, self._language, self._system, self._now = reader, language, system, now

    def rows(self, machines: Sequence[ListedMachine]) -> list[Row]:
        """The rows of machines, each as it is kept at this moment; empty for one that has left the yard meanwhile."""
        try:
            found = yard.with_limits(self._reader, [one.id for one in machines], self._now)
        except RegisterError:  # they are read as they are drawn: why is told by the screen, which looks by itself
            return [(_tagged("unknown", one.tag), one.place, Cell(_("cannot be read now"), "bad")) for one in machines]
        return [self.row(*found[one.id]) if one.id in found else () for one in machines]

    def row(self, one: ListedMachine, limits: Limits) -> Row:
        """The cells of both lines of a machine."""
        lines = [line for line in yard.due_lines(self._reader, one, limits) if line.news]
        first, second = _with_note(self._notes(one), (*self._told(one, limits, lines), Said(""), Said("")))
        word, road = SIGNED[one.judged.band], one.judged.standing.road
        given = next((line.given for line in lines if line.given is not None), None)
        return (
            Cell(f"{sign(word)} {one.tag}", draw=lambda _size: _tagged(word, one.tag)),
            Cell(one.place),
            *first.cells,
            Cell(state(road) if road != "check due" else "", TONES[road]),
            Cell(total_cell(f"{one.totals.seconds / 3600:.0f}", one.totals.seconds, is_least="hours" in limits.least)),
            Cell(given.to if given is not None else ""),
            Cell(f"  {one.name}", "faint"),
            Cell(""),
            *first.below(second),
            *(Cell(""),) * 2,
            Cell(day(given.day) if given is not None else "", "faint"),
        )

    def _told(self, one: ListedMachine, limits: Limits, lines: Sequence[DueLine]) -> list[Said]:
        """What matters about a machine, most first: why it is held, that it is late, what is due, notes, its run."""
        stands = yard.reasons(self._reader, one, limits, self._language, self._system)
        told = [*self._held(stands, limits), *self._late(one, limits)]
        held = {reason.fault or reason.item for reason in stands.because if reason.code in HOLDING}
        rest = [line for line in lines if line.item.id not in held]
        told += [self._line(line) for line in rest if line.due.state in ACUTE or line.kind == "fault"]
        if "open check" in one.judged.words:
            told.append(Said(f"{sign('open')} " + _("check left open"), tone=TONES["due"]))
        told += self._notes(one)
        if one.judged.band == "running":
            told += self._running(one, limits)
        if one.judged.band == "clear":
            told += [Said(reason.says, tone="faint") for reason in stands.because if reason.side == "run"][:1]
        told += [self._line(line) for line in rest if line.due.state in ("soon", "ok") and line.kind == "service"][:1]
        return told or [Said(_("no plan"), tone="faint")]

    @staticmethod
    def _notes(one: ListedMachine) -> list[Said]:
        """The notes for whoever comes next."""
        notes = [note for note in one.notes if not note.near_miss]
        return [Said(_("note  {by}: {says}", by=note.by, says=note.says)) for note in notes]

    def _held(self, stands: Standing, limits: Limits) -> list[Said]:
        """Why it is held and what comes next; and how a repair of it is tested."""
        reason = next((one for one in stands.because if one.code in HOLDING), None)
        if reason is None:
            return []
        fault = next((one for one in limits.faults if one.id == reason.fault), None)
        if fault is None:
            return _alone(Said(reason.says, _("its service") if reason.item else "", "bad"))
        ends_beside = not fault.owner and reason.code != "fix-by"  # what ends it stands in the next column
        says = fault.of_part if ends_beside else reason.says
        why = Said(says, _(fault.ends_with), "bad")
        if fault.ends_with == "release" or not fault.retest:
            return _alone(why)
        return [why, Said(_("re-test: {how}", how=fault.retest_shown), tone="faint")]

    def _late(self, one: ListedMachine, limits: Limits) -> list[Said]:
        """That its run should have ended, and how long ago."""
        due = self._home(limits)
        if "late home" not in one.judged.words or due is None:
            return []
        over = duration(int((self._now - due).total_seconds() // 60))
        told = _("late home: due {when:%H:%M}", when=due)
        return [Said(f"{sign('overdue')} {told}", _("{amount} over", amount=over), TONES["overdue"])]

    def _running(self, one: ListedMachine, limits: Limits) -> list[Said]:
        """When its run ends by its plan, and how soon; else who signed it and when. Of a late one that is told."""
        passed, due = limits.passed.get("run"), self._home(limits)
        if passed is None or "late home" in one.judged.words:
            return []
        if due is not None:
            left = duration(int((due - self._now).total_seconds() // 60))
            return [Said(_("home {when:%H:%M}", when=due), left)]
        signed = _("signed {at:%H:%M} by {name}", at=passed.at.astimezone(self._reader.zone), name=passed.by)
        looked = passed.gate == "running"
        return [Said(signed if looked else _("not yet looked at; water {signed}", signed=signed), tone="faint")]

    def _home(self, limits: Limits) -> datetime | None:
        """When the run at hand ends by its plan, in the register's zone; None where nothing was planned."""
        passed = limits.passed.get("run")
        return planned_end(passed, self._reader.zone) if passed is not None else None

    def _line(self, line: DueLine) -> Said:
        """A line of the work list."""
        stands, title = line.due.state, line.item.title(self._language)
        word = "due" if line.kind == "fault" and stands == "soon" else stands
        return Said(
            f"{sign(word)} {title}", line.left_in_words(self._system), TONES[word], f"{sign(word)} {title.short}"
        )


def _alone(why: Said) -> list[Said]:
    """Why a machine is held; a long one has the second line as well."""
    return [why, Said("")] if cells(why.full) > LONG else [why]


def _with_note(notes: Sequence[Said], told: Sequence[Said]) -> tuple[Said, Said]:
    """What both lines of a row say; a note that would have none has the second, and the first tells of it."""
    first, second = told[:2]
    if not notes or first in notes or second in notes:
        return first, second
    more = [_("{what}; note", what=one) if one else "" for one in (first.full, first.short)]
    return first._replace(full=more[0], short=more[1]), notes[-1]


def _tagged(word: str, tag: str) -> Content:
    return join((sign(word), STYLES[TONES[word]]), " ", (tag, "bold"))

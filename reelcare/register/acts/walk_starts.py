"""Beginning a walk-round: what is asked, of which set, and whether it goes on from an earlier check."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from reelcare.core import entries as e
from reelcare.core.checks import sheet as sheets
from reelcare.core.checks.clearance import AHEAD, LAPSE
from reelcare.core.checks.sheet_table import to_plain
from reelcare.core.state.machine_state import PulledOut
from reelcare.core.text import _, mark
from reelcare.register.acts import sets
from reelcare.register.acts.checks import Check, check, sets_since
from reelcare.register.database.models import EntryRow
from reelcare.register.errors import Over, Refused
from reelcare.register.reading.reader import Reader
from reelcare.register.timestamps import milliseconds
from reelcare.register.writing.writer import Writer

E = EntryRow


def prepare(
    reader: Reader,
    machine: str,
    sheet: sheets.Sheet,
    *,
    by: str,
    at: datetime,
    language: str = "en",
    again: bool = False,
) -> Check:
    """A walk-round on a machine, held to the set that is planned for it. Nothing is written: its first answer does
    that.

    `again` asks only what can have changed since the first run on the same hydrant. Raises Refused where a check on
    this sheet is open already, or where nothing can be asked `again`.
    """
    _refuse_open(reader, machine, sheet.id, at)
    card = reader.card(machine, at)
    if not sheet.fits(card):
        says = mark("this sheet is for machines with {needs}; the card says that this has none")
        raise Refused(_(says, needs=_(" and ").join(sheet.needs)))
    if again and not sheet.goes_on:
        first = _first_check(reader, machine, sheet, at)
        earlier, kept, left_out = first.id, first.begin.sheet, sheets.left_out_again(sheet, card)
    else:
        earlier = _stopped_check(reader, machine, at) if sheet.goes_on else ""
        kept, left_out = _kept_id(reader, sheet), sheets.left_out(sheet, card)
    what = e.CheckBegun(
        sheet=kept,
        sheet_id=sheet.id,
        checks_for=sheet.checks_for,
        language=language,
        left_out=left_out,
        again_of=earlier,
        planned=dict(sets.planned_for(reader, machine, at)),
        follows_set=True,
    )
    begun = e.Entry("", machine, at, at, reader.terminal, by, what)
    later = sets_since(reader, [begun])[begun.id]  # where it is entered afterwards
    return Check("", machine, begun, None, e.walk_of(sheet, begun, (), card, later), sheet)


def prepare_again(reader: Reader, going: Check, at: datetime) -> Check:
    """A check that is not written yet, as it would be begun at another moment: held to the card and the set of then.
    Raises Refused as `prepare`."""
    sheet, begin = going.sheet, going.begin
    assert sheet is not None
    again = bool(begin.again_of) and not sheet.goes_on
    by, language = going.begun.by, begin.language
    return prepare(reader, going.machine, sheet, by=by, at=at, language=language, again=again)


def _stopped_check(reader: Reader, machine: str, at: datetime) -> str:
    """The check of the run that was stopped half-way. Raises Refused where there is none."""
    out = half_way(reader, machine, at)
    if out is None:
        says = mark(
            "no hose was pulled out here under gates signed in the last {hours} h: answer the whole sheet, pre-start"
        )
        raise Refused(_(says, hours=LAPSE // timedelta(hours=1)))
    return out.check


def _first_check(reader: Reader, machine: str, sheet: sheets.Sheet, at: datetime) -> Check:
    """The check of the first run on the same hydrant. Raises Refused where there is none."""
    first = first_of_the_set(reader, machine, sheet, at)
    if first is None:
        raise Refused(_("no run on this hydrant was cleared in the last day: answer the whole sheet"))
    return first


def half_way(reader: Reader, machine: str, at: datetime) -> PulledOut | None:
    """By which check's gates the hose is out, so that its run can go on after a stop half-way; None where it cannot."""
    out = reader.state(machine).out
    return out if out is not None and timedelta(0) <= at - out.at <= LAPSE else None


def is_stopped(reader: Reader, machine: str, at: datetime) -> bool:
    """Whether the entries say that a run was stopped half-way: its hose is out, and what was signed for it is used up
    or undone."""
    claim = reader.state(machine).passed.get("run")
    return half_way(reader, machine, at) is not None and (claim is None or claim.spent is not None)


def begin_drafts(writer: Writer, going: Check, now: datetime) -> tuple[str, list[e.Draft]]:
    """What begins a check that is not written yet: the id that it has from then on, and the drafts. Raises Over
    where another check on its sheet was begun meanwhile."""
    assert going.sheet is not None
    _refuse_open(writer, going.machine, going.sheet_id, going.begun.happened)
    drafts, kept = [], going.begin.sheet
    if not kept:
        kept = writer.ids.next(milliseconds(now))
        drafts.append(e.Draft(what=_keeps(going.sheet), happened=going.begun.happened, id=kept))
    id = writer.ids.next(milliseconds(now))
    what = replace(going.begin, sheet=kept)
    return id, [*drafts, e.Draft(what=what, machine=going.machine, happened=going.begun.happened, id=id)]


def begin(
    writer: Writer,
    machine: str,
    sheet: sheets.Sheet,
    *,
    by: str,
    now: datetime,
    happened: datetime | None = None,
    again: bool = False,
) -> Check:
    """Begin a walk-round at once, before its first answer; see `prepare`."""
    going = prepare(writer, machine, sheet, by=by, at=happened or now, again=again)
    id, drafts = begin_drafts(writer, going, now)
    writer.append(drafts, by=by, now=now)
    return check(writer, id)


def _refuse_open(reader: Reader, machine: str, sheet: str, at: datetime) -> None:
    for one in reader.state(machine).open_checks:
        if one.sheet == sheet and one.begun <= at + AHEAD:  # one that a clock ahead began blocks nothing
            since = f"{one.begun.astimezone(reader.zone):%Y-%m-%d %H:%M}"
            raise Over(_("a check on this sheet is open since {since}; go on with it, or leave it", since=since))


def first_of_the_set(reader: Reader, machine: str, sheet: sheets.Sheet, at: datetime) -> Check | None:
    """The whole check that a second run on the same hydrant may go on from; None where there is none.

    It was passed, on this very sheet, within the time that a clearance stands; a run has used it up, and neither a
    hold nor the road has come between.
    """
    state = reader.state(machine)
    claim, road = state.passed.get("run"), state.passed.get("road")
    if claim is None or claim.spent is None or sheet.checks_for != "run":
        return None
    # the sheet after the run can be answered at the machine, and the run logged as ended a little later
    is_run = state.last_run is not None and state.last_run >= claim.at
    if not (is_run and claim.spent_by in ("the run", "another check since")):
        return None
    first = check(reader, claim.check)
    if first.begin.again_of:
        first = check(reader, first.begin.again_of)
    passed_at = first.ended.happened if first.ended is not None else None
    if first.walk.sheet.gates:
        whole = reader.state(machine).whole.get(first.id)
        passed_at = whole.at if whole is not None else None
    if passed_at is None or at - passed_at > LAPSE or (road is not None and road.at >= passed_at):
        return None
    # where it was carried in, another entry can keep the same sheet
    return first if _kept_id(reader, sheet, E.id == first.begin.sheet) else None


def _keeps(sheet: sheets.Sheet) -> e.Sheeted:
    """What keeps a sheet as it is now."""
    return e.Sheeted(sheet=to_plain(sheet))


def _kept_id(reader: Reader, sheet: sheets.Sheet, *which: Any) -> str:
    """The entry, of all or of some, that keeps this very sheet, by its digest; '' where none does."""
    what = _keeps(sheet)
    found = reader.db.fetch(E.select(E.id).where(E.kind == what.kind, E.refers == what.subject(), *which).limit(1))
    return str(found[0][0]) if found else ""

"""Beginning a walk-round on a machine, or going on with the one that is open."""

from __future__ import annotations

from reelcare.core.checks.sheet import GOES_ON, PRE_START, Sheet, for_machine, left_out, left_out_again
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _
from reelcare.core.timestamps import day_of
from reelcare.register import sheets
from reelcare.register.acts import notes, walk_rounds
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskChoice, AskYesNo, OpenWalkRound


async def start_walk_round(screen: BaseScreen, machine: MachineNow, sheet_id: str) -> None:
    """Open the check that is going on, or begin one; over the same set, ask whether all is asked again."""
    register, host = screen.register, screen.host
    for one in machine.state.open_checks:
        if one.sheet == sheet_id or (one.sheet == GOES_ON and sheet_id == PRE_START):
            screen.open(OpenWalkRound(machine, walk_rounds.check(register, one.id), resumed=True))
            return
    sheet = sheets.load().by_id.get(sheet_id)
    if sheet is None:
        host.tell(_("{sheet}: no such sheet; `reelcare sheets` says what is wrong", sheet=sheet_id), bad=True)
        return
    if not await _know_before(screen, machine):
        return
    if sheet_id == PRE_START and walk_rounds.half_way(register, machine.id, host.now()) is not None:
        short = sheets.load().by_id.get(GOES_ON)
        goes_on = await _same_run(screen, machine, short, sheet) if short is not None else False
        if goes_on is None:
            return
        sheet = short if goes_on and short is not None else sheet
    again: bool | None = False
    if walk_rounds.first_of_the_set(register, machine.id, sheet, host.now()) is not None:
        again = await _same_hydrant(screen, machine, sheet)
        if again is None:
            return
    going = host.write(
        lambda: walk_rounds.prepare(
            register, machine.id, sheet, by=host.person, at=host.now(), language=screen.preferences.language,
            again=bool(again),
        )
    )  # fmt: skip
    if going is not None:
        screen.open(OpenWalkRound(machine, going, resumed=False))


async def _know_before(screen: BaseScreen, machine: MachineNow) -> bool:
    """Say what is known before the first question: stop items of which nothing is known, and notes, which are read
    with that. Whether the check goes on."""
    register, host = screen.register, screen.host
    known = machine.known_before(screen.now(), register.zone)
    if not known:
        return True
    shown = {one.id for one in machine.notes(day_of(screen.now(), register.zone))}
    title = _("{tag}, before the first question:", tag=machine.tag)
    goes_on = await screen.ask(AskYesNo(title, known, yes=_("read: begin"), no=_("go back; it stays")))
    now = screen.now()  # what was left meanwhile was not shown
    if goes_on and shown:
        host.write(lambda: notes.read(register, machine.id, by=host.person, now=now, happened=now, shown=shown))
    return bool(goes_on)


async def _same_run(screen: BaseScreen, machine: MachineNow, short: Sheet, whole: Sheet) -> bool | None:
    """Whether a run whose hose is out goes on after a stop half-way; None where nobody says."""
    some, all_ = (len(for_machine(one, machine.card).questions) for one in (short, whole))
    goes_on = _("the run goes on after a stop half-way, its hose out: {n} questions", n=some)
    return await _is_first(screen, machine, goes_on, _("another run: all {n} questions", n=all_))


async def _same_hydrant(screen: BaseScreen, machine: MachineNow, sheet: Sheet) -> bool | None:
    """Whether the run is a second one on the same hydrant; None where nobody says."""
    some, all_ = (len(sheet.without(out(sheet, machine.card)).questions) for out in (left_out_again, left_out))
    second = _("a second run on this hydrant: the {n} questions whose answers can have changed", n=some)
    return await _is_first(screen, machine, second, _("a new set: all {n} questions", n=all_))


async def _is_first(screen: BaseScreen, machine: MachineNow, *choices: str) -> bool | None:
    """Whether a machine is checked for the first of these; None where nobody says."""
    number = await screen.ask(AskChoice(_("What is {tag} checked for?", tag=machine.tag), choices))
    return None if number is None else number == 0

"""Beginning a walk-round on a machine, or going on with the one that is open."""

from __future__ import annotations

from reelcare.core.checks.sheet import Sheet, left_out, left_out_again
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.text import _
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.tui.base import BaseScreen
from reelcare.tui.requests import AskChoice, OpenWalkRound


async def start_walk_round(screen: BaseScreen, machine: MachineNow, sheet_id: str) -> None:
    """Open the check that is going on, or begin one; over the same set, ask whether all is asked again."""
    register, host = screen.register, screen.host
    for one in machine.state.checks:
        if one.sheet == sheet_id:
            screen.open(OpenWalkRound(machine, walk_rounds.check(register, one.id), resumed=True))
            return
    sheet = sheets.load().by_id.get(sheet_id)
    if sheet is None:
        host.tell(_("{sheet}: no such sheet; `reelcare sheets` says what is wrong", sheet=sheet_id), bad=True)
        return
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


async def _same_hydrant(screen: BaseScreen, machine: MachineNow, sheet: Sheet) -> bool | None:
    """Whether the run is a second one on the same hydrant; None where nobody says."""
    card = machine.card
    asked, all_ = (len(sheet.without(out(sheet, card)).questions) for out in (left_out_again, left_out))
    choices = (
        _("a second run on this hydrant: the {n} questions whose answers can have changed", n=asked),
        _("a new set: all {n} questions", n=all_),
    )
    number = await screen.ask(AskChoice(_("What is {tag} checked for?", tag=machine.tag), choices))
    return None if number is None else number == 0

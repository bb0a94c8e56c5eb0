"""The standing line: on every screen of a machine what it may do now, why not, and what ends that; on lists the counts.

The rules of this file: only what somebody typed is cut, so that what ends a hold always stands there whole.
"""

from __future__ import annotations

from collections.abc import Iterable

from textual.content import Content

from reelcare.core.drawing.signs import STATES
from reelcare.core.state.machine_now import MachineNow
from reelcare.core.state.standing import Reason, Standing
from reelcare.core.text import _
from reelcare.tui.text import join, said, whole_words
from reelcare.tui.theme import STYLES, TONES, state

LONG_WORD = 14
"""How much of a row can stay blank where a long word goes into the next."""


def two_rows(width: int) -> int:
    """How many cells two rows of `width` surely have room for."""
    return 2 * width - LONG_WORD


def road_line(machine: MachineNow, width: int) -> Content:
    """How a machine stands for the road alone, where it is checked for that, in one line of `width` cells."""
    word = machine.standing.road
    shown = [one for one in machine.standing.because if one.side != "run" and one.code != "unknown"]
    ends = ", ".join(_(one) for one in machine.ends_of(shown[0])) if word != "clear" else ""
    end = "   " + (_("Ends by {steps}", steps=ends) if ends else _("for one move"))
    head = f"{state(word)}{_side('road')}: "
    why = whole_words(shown[0].says, max(width - len(head) - len(end), 8))
    return join((head, STYLES[TONES[word]]), why, end)


def standing_line(machine: MachineNow, width: int) -> Content:
    """How a machine stands, in one line of `width` cells."""
    standing, word = machine.standing, machine.standing.worst
    shown = _reasons(standing)
    why, side = shown[0].says, _side(shown[0].side) if word == "held" else ""
    holds = [one for one in shown if one.fault or one.item]
    more = _(" and {n} more", n=len(holds) - 1) if len(holds) > 1 else ""
    ends = ", ".join(_(one) for one in machine.ends_by) if word != "clear" else ""
    end = "   " + (_("Ends by {steps}", steps=ends) if ends else _("for one run"))
    road = "   " + _("road {standing}", standing=state(standing.road)) if standing.road not in (word, "held") else ""
    head = f"{state(word)}{side}: "
    room = width - len(head) - len(more) - len(end) - len(road)
    if room < len(why):  # the road is told where there is room for it
        room, road = room + len(road), ""
    why = why if len(why) <= room else whole_words(why, max(room, 8))
    return join((head, STYLES[TONES[word]]), why, more, end, road)


def _reasons(standing: Standing) -> list[Reason]:
    """The reasons of the word that is shown: of a machine that is clear, what cleared it for a run."""
    if standing.worst == "clear":
        return [one for one in standing.because if one.side != "road"]
    return [one for one in standing.because if one.code not in ("passed", "unknown")]


def _side(side: str) -> str:
    return {"both": "", "run": _(" for a run"), "road": _(" for the road")}[side]


def counted(counts: Iterable[tuple[str, int, str]], *rest: str) -> Content:
    """Counts as (state, how many, that in words), those that are not 0, and what else is said.

    >>> counted([("held", 2, "2 held"), ("overdue", 0, "0 overdue")], "all places").plain
    '■ 2 held   all places'
    """
    told = [said(f"{STATES[word][0]} {words}", STYLES[TONES[word]]) for word, number, words in counts if number]
    return Content("   ").join([*told, *(said(one) for one in rest if one)])

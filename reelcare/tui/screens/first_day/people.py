"""People: who is enrolled, in which role, how they sign, until when they are instructed; and the form that enrols."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from reelcare.core import entries as e
from reelcare.core.people import ROLES
from reelcare.core.text import _, mark, plural
from reelcare.register.acts import people
from reelcare.register.errors import Refused
from reelcare.register.integrity import pins
from reelcare.register.views import instructions
from reelcare.tui.keys import bind
from reelcare.tui.lists import ListScreen
from reelcare.tui.requests import AskChoice, AskPin, AskText, AskYesNo, EnrolPerson
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.text import said
from reelcare.tui.widgets.inputs.choice_list import KeyChoice
from reelcare.tui.widgets.rows import Cell, Column, Row, Rows

COLUMNS = (
    Column(mark("name"), 20, 1, grows=True),
    Column(mark("role"), 12, 1),
    Column(mark("signs with"), 10, 2),
    Column(mark("instructed on"), 16, 2),
    Column(mark("until"), 10, 2),
)
LETTERS = {"o": "operator", "m": "mechanic", "s": "supervisor"}
MONTHS = 12
"""For how long an instruction holds where nothing else is said (yearly, as the law asks in many places)."""


class PeoplePage(ListScreen):
    """Who is enrolled."""

    PAGE = mark("People")
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("people.enrol", "n", mark("Enrol"), mark("Enrols a person")),
        bind("people.role", "r", mark("Role"), mark("Gives another role")),
        bind("people.pin", "i", mark("PIN"), mark("Gives a PIN, by which this person signs")),
        bind("people.unlock", "k", mark("Unlock"), mark("Lets a locked person try again")),
        bind(
            "people.instruct",
            "g",
            mark("Instructed"),
            mark("Records that this person was shown a machine, or all machines"),
        ),
        bind("people.left", "x", mark("Has left"), mark("Records that this person has left")),
        bind("people.leave", "escape", mark("Back"), mark("Back to the screen before")),
    ]

    def body(self) -> ComposeResult:
        """The list."""
        yield Static(said(_("Somebody who has left can no longer sign, and stays in the book.")), classes="note")
        yield Rows(COLUMNS, id="people", enter_chooses=False)

    def counts(self) -> Content:
        """How many there are, and whether names are proved."""
        roles = self.register.roles()
        told = plural("{n} person", "{n} people", len(roles))
        return said(" · ".join(one for one in (told, pins.names_not_proved(self.register.db, roles)) if one))

    def fill(self) -> None:
        """Read who is there, and show it."""
        self.people = dict(self.register.roles())
        tags = self.register.tags()
        self.shown: dict[str, instructions.Instruction] = {}
        for one in sorted(instructions.all_of(self.register, self.now()), key=lambda one: one.until):
            self.shown.setdefault(one.person, one)
        self.query_one(Rows).show([self._row(name, role, tags) for name, role in self.people.items()])
        self.refresh_head()

    def _row(self, name: str, role: str, tags: dict[str, str]) -> Row:
        has_pin, one = pins.has(self.register.db, name), self.shown.get(name)
        tone = "" if one is None else "bad" if one.left < 0 else "warning" if one.left <= instructions.AHEAD else ""
        on_what = tags.get(one.machine, _("all machines")) if one is not None else "-"
        return (
            Cell(name, "part"), Cell(_(role)), Cell(_("PIN") if has_pin else _("name")), Cell(on_what, tone),
            Cell(str(one.until) if one is not None else "", tone),
        )  # fmt: skip

    def _here(self) -> str:
        return self.under_cursor(list(self.people)) or ""

    def _written(self, what: Callable[[], object], told: str) -> None:
        if self.host.write(lambda: (what(), True)[1]):
            self.fill()
            self.host.tell(told)

    def action_enrol(self) -> None:
        """Enrol a person."""
        self.open_to_write(EnrolPerson(), e.Enrolled.kind)

    @on(Rows.Chosen)
    @work
    async def action_role(self) -> None:
        """Give another role."""
        name, host = self._here(), self.host
        if not name or not await host.may_write(e.Enrolled.kind):
            return
        number = await self.ask(AskChoice(_("Which role does {name} have?", name=name), tuple(_(one) for one in ROLES)))
        if number is None or ROLES[number] == self.people[name]:
            return
        role, now = ROLES[number], self.now()
        self._written(
            lambda: people.enrol(self.register, name, role, by=host.person, now=now),
            _("{name} is {role} from now on", name=name, role=_(role)),
        )

    @work
    async def action_pin(self) -> None:
        """Give a PIN; a supervisor's comes with a recovery code, which is shown once."""
        name, host = self._here(), self.host
        if not name or not await host.may_write():
            return
        title = _("A new PIN of {name}", name=name)
        first = await self.ask(AskPin(name, title))
        second = await self.ask(AskPin(name, _("The same PIN once more"))) if first is not None else None
        if first is None or second is None:
            return
        pin = first.reveal()
        if pin != second.reveal():
            host.tell(_("the two PINs are not the same; nothing was changed"), bad=True)
            return
        code = host.write(lambda: self.register.give_pin(name, pin, by=host.person))
        if code is None:
            return
        if code:
            says = _("Write it down and lock it away: it lets {name} in once where the PIN is lost.", name=name)
            await self.ask(AskYesNo(_("Recovery code: {code}", code=code), (says,), yes=mark("written down")))
        self.fill()
        host.tell(_("{name} signs with a PIN from now on", name=name))

    @work
    async def action_unlock(self) -> None:
        """Let a locked person try again."""
        name, host = self._here(), self.host
        if not name or not await host.may_write(e.Enrolled.kind):
            return
        waited = host.write(lambda: (self.register.unlock(name, by=host.person),))
        if waited is not None:
            host.tell(_("{name} can try again", name=name) if waited[0] else _("{name} was not locked", name=name))

    @work
    async def action_left(self) -> None:
        """Somebody has left; what is still given to them is told."""
        name, host = self._here(), self.host
        if not name or not await host.may_write(e.Enrolled.kind):
            return
        says = (_("Can no longer sign, and stays in the book."),)
        if not await self.ask(AskYesNo(_("Has {name} left?", name=name), says)):
            return
        now = self.now()
        done = host.write(lambda: people.leave(self.register, name, by=host.person, now=now))
        if done is None:
            return
        self.fill()
        given = ", ".join(f"{tag} {line}" for tag, line in done[1])
        told = _("{name} has left: can no longer sign, and stays in the book", name=name)
        host.tell(told + (". " + _("Still given to them: {lines}", lines=given) if given else ""))

    @work
    async def action_instruct(self) -> None:
        """Somebody was shown a machine, or all of them, by who is at the terminal."""
        name, host = self._here(), self.host
        if not name or not await host.may_write(e.Instructed.kind):
            return
        asks = _("Which machine was {name} shown?", name=name)
        typed = await self.ask(AskText(asks, _("Its tag; leave blank for all machines."), needed=False))
        if typed is None:
            return
        months = await self.ask(AskText(_("For how many months?"), value=str(MONTHS), needed=False))
        if months is None:
            return
        if months and not (months.isascii() and months.isdigit() and len(months) < 5):
            host.tell(_("{text!r}: must be a whole number of months from 1 to 120", text=months), bad=True)
            return
        try:
            of = self.register.machine_id(typed) if typed else ""
        except Refused as why:
            host.tell(str(why), bad=True)
            return
        what = e.Instructed(name=name, of=of, valid=int(months or MONTHS))
        now = self.now()
        self._written(
            lambda: self.register.add(what, by=host.person, now=now),
            _("{name}: instructed on {tag}, for {months}", name=name, tag=typed or _("all machines"),
              months=plural("{n} month", "{n} months", what.valid)),
        )  # fmt: skip


class PersonForm(Form):
    """A person to be enrolled; the role is asked last."""

    PAGE = mark("Enrol a person")
    KEEP = mark("Enrol")

    def form_lines(self) -> Sequence[FormField]:
        """The name."""
        return (FormField("name", _("name"), "", _("as it stands in the book")),)

    def outcomes(self) -> Sequence[KeyChoice]:
        """The roles."""
        says = {
            "operator": _("operator: sets, starts, stops and moves"),
            "mechanic": _("mechanic: all that, and works on machines"),
            "supervisor": _("supervisor: all that, and keeps people, cards and plans"),
        }
        return [KeyChoice(letter, says[role]) for letter, role in LETTERS.items()]

    def keep(self) -> bool:
        """Enrol the person."""
        name, role, host, now = self.value("name"), LETTERS[self.outcome()], self.host, self.now()
        if not name:
            return self.wrong(_("The name is missing"), "name")
        if name in self.register.roles():
            return self.wrong(_("{name} is enrolled already", name=name), "name")
        act = self.write(lambda: people.enrol(self.register, name, role, by=host.person, now=now), "name")
        if act is not None:
            host.tell(_("{name} is enrolled as {role}", name=name, role=_(role)))
        return act is not None

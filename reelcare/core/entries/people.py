"""People and their roles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.entries.base import Context, Kind, UpdateScope
from reelcare.core.people import LEFT, NOBODY, ROLES
from reelcare.core.text import _, plural
from reelcare.core.wording import nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Enrolled(Kind):
    """A person enrolled, or given another role; with the role `LEFT`, one who is there no more."""

    kind = "person"
    least_role = "supervisor"
    reaches = UpdateScope.NOTHING
    news = "good"
    for_all = True
    before_beginning = True
    name: str
    role: str

    def problems(self, context: Context) -> Iterator[str]:
        """Name and role can be; the first person is a supervisor, and one supervisor stays."""
        if not self.name:
            yield _("name: empty")
        roles = context.roles
        if self.role == LEFT and self.name not in roles:
            yield _("name: {name} is not enrolled{hint}", name=self.name, hint=nearest(self.name, list(roles)))
            return
        if self.role not in (*ROLES, LEFT):
            yield _("role: {role!r}{nearest}", role=self.role, nearest=nearest(self.role, ROLES))
            return
        if not roles and self.role != "supervisor":
            yield _("role: the first person enrolled must be a supervisor")
        if self.name.casefold() == NOBODY and self.name not in roles:
            yield _("name: {name} is the word for nobody; choose another", name=self.name)
        near = [name for name in roles if name.casefold() == self.name.casefold() and name != self.name]
        if near:
            yield _("name: {near} is enrolled already; write it the same way, or choose another", near=near[0])
            return
        steps_down = roles.get(self.name) == "supervisor" and self.role != "supervisor"
        if steps_down and list(roles.values()).count("supervisor") == 1:
            yield _("role: {name} is the only supervisor; enrol another first", name=self.name)

    def describe(self, system: units.System = "metric") -> str:
        return _("{name} has left", name=self.name) if self.role == LEFT else f"{self.name}, {self.role}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered(Kind):
    """A supervisor came back with the recovery code, the PIN being lost or locked."""

    kind = "recovery"
    least_role = "supervisor"
    reaches = UpdateScope.NOTHING
    news = "neutral"
    name: str

    def describe(self, system: units.System = "metric") -> str:
        return _("{name} signed in with the recovery code", name=self.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Instructed(Kind):
    """Somebody was shown a machine (`of` is its id, '' means all of them) by who writes it; it holds for so many
    months. The entry itself is about no machine."""

    kind = "instruction"
    least_role = "mechanic"
    reaches = UpdateScope.NOTHING
    news = "good"
    by_person = True
    name: str
    of: str = ""
    valid: int = 12

    def problems(self, context: Context) -> Iterator[str]:
        """The person is enrolled, and the time can be."""
        if self.name not in context.roles:
            hint = nearest(self.name, list(context.roles))
            yield _("name: {name} is not enrolled{hint}", name=self.name, hint=hint)
        if not 1 <= self.valid <= MOST_MONTHS:
            yield _("valid: {valid} months; must be 1 to {most}", valid=self.valid, most=MOST_MONTHS)

    def describe(self, system: units.System = "metric") -> str:
        return plural(
            "{name} instructed, for {n} month", "{name} instructed, for {n} months", self.valid, name=self.name
        )


MOST_MONTHS = 120

KINDS: tuple[type[Kind], ...] = (Enrolled, Recovered, Instructed)

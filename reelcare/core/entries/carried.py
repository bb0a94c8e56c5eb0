"""Coming together: a carry file brought in, and what of it was accepted or refused.

Both belong to the register that wrote them: in another one they say what was done there, and change nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from reelcare.core import units
from reelcare.core.entries.base import SHORTEST_WHY, Context, Entry, Json, Kind, UpdateScope, WaitsFor
from reelcare.core.text import _, mark


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedIn(Kind):
    """A carry file brought in: the SHA-256 of the file, the terminal that made it, and how many entries of which kind
    were new."""

    kind = "carried in"
    least_role = "operator"
    reaches = UpdateScope.NOTHING
    news = "neutral"
    looked_up_by = "digest"
    digest: str
    terminal: str
    brought: Mapping[str, Json]

    def describe(self, system: units.System = "metric") -> str:
        kinds = ", ".join(f"{many} {_(kind)}" for kind, many in sorted(self.brought.items()))
        return _("carried in from {terminal}: {kinds}", terminal=self.terminal, kinds=kinds)


@dataclass(frozen=True, slots=True, kw_only=True)
class CarryDecision(Kind):
    """Entries of other registers accepted or refused here, with the reason; the last word on an entry holds."""

    kind = "carry decision"
    least_role = "supervisor"
    reaches = UpdateScope.NOTHING
    news = "good"
    for_all = True
    entries: tuple[str, ...]
    accepted: bool
    why: str

    def problems(self, context: Context) -> Iterator[str]:
        if len(self.why) < SHORTEST_WHY:
            yield _("why: say in a few words why")
        if not self.entries:
            yield _("entries: none; name what is accepted or refused")

    def describe(self, system: units.System = "metric") -> str:
        text = mark("accepts {entries}: {why}") if self.accepted else mark("refuses {entries}: {why}")
        return _(text, entries=", ".join(one[-8:] for one in self.entries), why=self.why)

    def waits_for(self, entry: Entry) -> WaitsFor:
        """Nothing: a decision of another register changes nothing here."""
        return ""


KINDS: tuple[type[Kind], ...] = (CarriedIn, CarryDecision)

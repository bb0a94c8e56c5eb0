"""What another plan changes: which items go, which come, and which hold a machine no more."""

from __future__ import annotations

from dataclasses import dataclass

from reelcare.core.service.plan import Item, Plan


@dataclass(frozen=True, slots=True)
class PlanChange:
    """The items that go, in the order of the old plan, those that come, and stop items that stay but hold no more."""

    gone: tuple[Item, ...]
    new: tuple[Item, ...]
    loosened: tuple[Item, ...]

    @property
    def to_confirm(self) -> tuple[Item, ...]:
        """The stop items that would hold no more: a person names each of them before that."""
        return (*(item for item in self.gone if item.stop), *self.loosened)


def change_of(before: Plan, after: Plan) -> PlanChange:
    """What one plan in place of another changes.

    >>> from reelcare.core.service.plan_table import read_plan
    >>> item = {"id": "oil", "what": "Oil", "every": {"hours": 100}}
    >>> old = read_plan({"id": "p", "items": [item, {**item, "id": "stop", "stop": True}]})
    >>> [one.id for one in change_of(old, read_plan({"id": "p", "items": [item]})).to_confirm]
    ['stop']
    """
    kept = {item.id: item for item in after.items}
    return PlanChange(
        gone=tuple(item for item in before.items if item.id not in kept),
        new=tuple(item for item in after.items if before.item(item.id) is None),
        loosened=tuple(item for item in before.items if item.stop and item.id in kept and not kept[item.id].stop),
    )

"""The figures of one item of the service plan, in a form; kept, they are a new plan in force from now on."""

from __future__ import annotations

from collections.abc import Sequence

from reelcare.core.service.plan_table import PlanError, read_plan, to_plain
from reelcare.core.text import _, localized, mark
from reelcare.register.acts import plans
from reelcare.tui.requests import ChangePlanItem
from reelcare.tui.screens.form import Form, FormField
from reelcare.tui.widgets.inputs.checkbox import Checkbox

LIMBS = (mark("hours"), mark("metres"), mark("runs"), mark("months"))


class PlanItemForm(Form):
    """The figures of one item; kept, they are a new plan in force from now on."""

    KEEP = mark("Use this plan")

    def __init__(self, request: ChangePlanItem) -> None:
        super().__init__()
        self.machine_id, self.whose, self.item = request.machine or "", request.whose, request.item

    def page(self) -> str:
        """Which item of the plan."""
        title = self.item.title(self.preferences.language)
        return title if self.machine_id else f"{self.whose}: {title}"

    def before(self) -> Sequence[str]:
        """What an empty line means."""
        return (_("Whichever comes first counts; an empty line does not count."),)

    def boxes(self) -> Sequence[tuple[str, str]]:
        """Whether it holds."""
        return (("stop", _("holds the machine when it is past its grace")),)

    def form_lines(self) -> Sequence[FormField]:
        """Every limb, every first limb, grace."""
        table = next(
            one for one in to_plain(self.register.plans().newest(self.machine_id))["items"] if one["id"] == self.item.id
        )
        first = table.get("first", {})
        return (
            *(
                FormField(f"every-{name}", _("every, {name}", name=_(name)), _figure(table["every"].get(name)))
                for name in LIMBS
            ),
            *(
                FormField(f"first-{name}", _("the first time, {name}", name=_(name)), _figure(first.get(name)))
                for name in LIMBS
            ),
            FormField("grace", _("grace, percent"), str(self.item.grace)),
        )

    def on_mount(self) -> None:
        """The box stands as the plan has it."""
        self.query_one("#box-stop", Checkbox).value = self.item.stop

    def _interval(self, which: str) -> dict[str, float]:
        return {name: self.figure(f"{which}-{name}") for name in LIMBS if self.value(f"{which}-{name}")}

    def keep(self) -> bool:
        """Write the new plan down."""
        host, machine = self.host, self.machine_id or None
        # what somebody else has changed since this form was opened stays changed
        plain = to_plain(self.register.plans().newest(machine or ""))
        table = next((one for one in plain["items"] if one["id"] == self.item.id), None)
        if table is None:
            return self.wrong(_("it is no longer in the plan: somebody took it out meanwhile"))
        table["every"] = self._interval("every")
        table.pop("first", None)
        if first := self._interval("first"):
            table["first"] = first
        table["grace"] = self.figure("grace")
        table["stop"] = self.ticked("stop")
        try:
            changed = read_plan(plain)
        except PlanError as why:
            return self.wrong(why.problems[0], "every-hours")
        if changed == self.register.plans().newest(machine or ""):
            host.tell(_("Nothing was changed."))
            return True
        loosened = [item.id for item in plans.what_changes(self.register, plain, machine).loosened]
        kept = host.write(
            lambda: plans.put_in_force(self.register, plain, machine, by=host.person, now=self.now(), drop=loosened)
        )
        if kept is not None:
            host.tell(
                _(
                    "{whose}: {title} is changed from now on",
                    whose=self.whose,
                    title=self.item.title(self.preferences.language),
                )
            )
        return kept is not None


def _figure(value: object) -> str:
    return localized(f"{value:g}") if isinstance(value, (int, float)) else ""

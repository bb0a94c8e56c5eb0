"""Which screen answers which request: the one module that knows the screens. Each is loaded when it is first opened."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import is_dataclass
from importlib import import_module
from typing import Any, cast

from textual.screen import Screen

from reelcare.register.writing.writer import Writer
from reelcare.tui import requests as r
from reelcare.tui.requests import Answer, Opens

SCREENS: Mapping[type[Opens[Any]], str] = {
    r.AskChoice: "widgets.inputs.dialogs.Choose",
    r.AskYesNo: "widgets.inputs.dialogs.Confirm",
    r.AskText: "widgets.inputs.dialogs.Ask",
    r.AskPerson: "widgets.inputs.people.ChoosePerson",
    r.AskPin: "widgets.inputs.people.PinDialog",
    r.ShowEntry: "screens.machine.entry.EntryPage",
    r.ShowHelp: "screens.help.Help",
    r.LogRun: "screens.work.run.RunForm",
    r.LogFault: "screens.work.fault.FaultForm",
    r.LogFaultStep: "screens.work.fault.FaultStepForm",
    r.LogService: "screens.work.service.ServiceForm",
    r.ReadCounters: "screens.machine.counters.CountersForm",
    r.Measure: "screens.machine.measure.MeasureForm",
    r.ChangePlanItem: "screens.work.plan_item.PlanItemForm",
    r.ChangeLane: "screens.settings.lane_forms.LaneForm",
    r.ChangeAllowed: "screens.settings.lane_forms.AllowedForm",
    r.ChangeMachine: "screens.first_day.machine.MachineForm",
    r.EnrolPerson: "screens.first_day.people.PersonForm",
    r.EnterPaper: "screens.checks.paper.PaperForm",
    r.OpenYard: "screens.yard.Yard",
    r.OpenBench: "screens.work.bench.Bench",
    r.OpenDue: "screens.work.due.DueList",
    r.OpenWeeks: "screens.work.weeks.Weeks",
    r.OpenNight: "screens.work.night.NightScreen",
    r.OpenLanes: "screens.settings.lanes.Lanes",
    r.OpenSignals: "screens.evidence.signals.Signals",
    r.OpenFailures: "screens.evidence.failures.Failures",
    r.OpenMarks: "screens.evidence.marks.Marks",
    r.OpenWaiting: "screens.work.waiting.Waiting",
    r.OpenWalkRound: "screens.checks.walk.WalkRound",
    r.OpenSetUp: "screens.settings.set_up.SetUp",
    r.OpenSteps: "screens.machine.steps.Steps",
    r.OpenBook: "screens.machine.book.Book",
    r.OpenCard: "screens.machine.card.CardPage",
    r.OpenPlan: "screens.work.plan.PlanPage",
    r.OpenStart: "screens.first_day.start.StartPage",
    r.OpenPreview: "screens.first_day.preview.PreviewPage",
    r.OpenLastDone: "screens.first_day.last_done.LastDonePage",
    r.OpenPeople: "screens.first_day.people.PeoplePage",
}
"""The class of the screen that is made from each request; a request that says nothing is not handed on to it."""


def screen_for(request: Opens[Answer], register: Writer) -> Screen[Answer]:
    """Make the screen that a request asks for.

    Raises a RegisterError or ValueError where the tables that it stands on cannot be read.
    """
    if type(request) not in SCREENS:
        raise NotImplementedError(f"no screen answers {type(request).__name__}")
    stands_on = _tables(request, register)
    module, _dot, name = SCREENS[type(request)].rpartition(".")
    made = getattr(import_module(f"reelcare.tui.{module}"), name)
    return cast("Screen[Answer]", made(request, *stands_on) if is_dataclass(request) else made())


def _tables(request: Opens[Any], register: Writer) -> tuple[object, ...]:
    """What a screen is made from besides its request."""
    match request:
        case r.OpenSetUp():
            from reelcare.register.acts import sets

            return (sets.basis(register, request.machine.id),)
        case r.OpenSteps():
            from reelcare.register import sheets

            return (sheets.machine_model().for_machine(register.card(request.machine)),)
    return ()

"""Which screen answers which request: the one module that knows the screens. Each is loaded when it is first opened."""

from __future__ import annotations

from typing import Any, cast

from textual.screen import Screen

from reelcare.register.writing.writer import Writer
from reelcare.tui import requests as r
from reelcare.tui.requests import Answer, Opens


def screen_for(request: Opens[Answer], register: Writer) -> Screen[Answer]:
    """Make the screen that a request asks for.

    Raises a RegisterError or ValueError where the tables that it stands on cannot be read.
    """
    made = _dialog(request) or _form(request) or _list(request) or _page(request, register) or _first_day(request)
    if made is None:
        raise NotImplementedError(f"no screen answers {type(request).__name__}")
    return cast("Screen[Answer]", made)


def _dialog(request: Opens[Any]) -> Screen[Any] | None:
    match request:
        case r.AskChoice():
            from reelcare.tui.widgets.inputs.dialogs import Choose

            return Choose(request)
        case r.AskYesNo():
            from reelcare.tui.widgets.inputs.dialogs import Confirm

            return Confirm(request)
        case r.AskText():
            from reelcare.tui.widgets.inputs.dialogs import Ask

            return Ask(request)
        case r.AskPerson():
            from reelcare.tui.widgets.inputs.people import ChoosePerson

            return ChoosePerson(request)
        case r.AskPin():
            from reelcare.tui.widgets.inputs.people import PinDialog

            return PinDialog(request)
        case r.ShowEntry():
            from reelcare.tui.screens.machine.entry import EntryPage

            return EntryPage(request)
        case r.ShowHelp():
            from reelcare.tui.screens.help import Help

            return Help(request)
    return None


def _form(request: Opens[Any]) -> Screen[Any] | None:
    match request:
        case r.LogRun():
            from reelcare.tui.screens.work.run import RunForm

            return RunForm(request)
        case r.LogFault():
            from reelcare.tui.screens.work.fault import FaultForm

            return FaultForm(request)
        case r.LogFaultStep():
            from reelcare.tui.screens.work.fault import FaultStepForm

            return FaultStepForm(request)
        case r.LogService():
            from reelcare.tui.screens.work.service import ServiceForm

            return ServiceForm(request)
        case r.ReadCounters():
            from reelcare.tui.screens.machine.counters import CountersForm

            return CountersForm(request)
        case r.Measure():
            from reelcare.tui.screens.machine.measure import MeasureForm

            return MeasureForm(request)
        case r.ChangePlanItem():
            from reelcare.tui.screens.work.plan_item import PlanItemForm

            return PlanItemForm(request)
        case r.ChangeLane():
            from reelcare.tui.screens.settings.lane_forms import LaneForm

            return LaneForm(request)
        case r.ChangeAllowed():
            from reelcare.tui.screens.settings.lane_forms import AllowedForm

            return AllowedForm(request)
    return None


def _list(request: Opens[Any]) -> Screen[Any] | None:
    match request:
        case r.OpenYard():
            from reelcare.tui.screens.yard import Yard

            return Yard()
        case r.OpenBench():
            from reelcare.tui.screens.work.bench import Bench

            return Bench(request)
        case r.OpenDue():
            from reelcare.tui.screens.work.due import DueList

            return DueList()
        case r.OpenWeeks():
            from reelcare.tui.screens.work.weeks import Weeks

            return Weeks(request)
        case r.OpenNight():
            from reelcare.tui.screens.work.night import NightScreen

            return NightScreen(request)
        case r.OpenLanes():
            from reelcare.tui.screens.settings.lanes import Lanes

            return Lanes(request)
        case r.OpenSignals():
            from reelcare.tui.screens.evidence.signals import Signals

            return Signals()
        case r.OpenFailures():
            from reelcare.tui.screens.evidence.failures import Failures

            return Failures()
        case r.OpenMarks():
            from reelcare.tui.screens.evidence.marks import Marks

            return Marks()
        case r.OpenWaiting():
            from reelcare.tui.screens.work.waiting import Waiting

            return Waiting()
    return None


def _page(request: Opens[Any], register: Writer) -> Screen[Any] | None:
    match request:
        case r.EnterPaper():
            from reelcare.tui.screens.checks.paper import PaperForm

            return PaperForm(request)
        case r.OpenWalkRound():
            from reelcare.tui.screens.checks.walk import WalkRound

            return WalkRound(request)
        case r.OpenSetUp():
            from reelcare.register.acts import sets
            from reelcare.tui.screens.settings.set_up import SetUp

            return SetUp(request, sets.basis(register, request.machine.id))
        case r.OpenSteps():
            from reelcare.register import sheets
            from reelcare.tui.screens.machine.steps import Steps

            return Steps(request, sheets.machine_model().for_machine(register.card(request.machine)))
        case r.OpenBook():
            from reelcare.tui.screens.machine.book import Book

            return Book(request)
        case r.OpenCard():
            from reelcare.tui.screens.machine.card import CardPage

            return CardPage(request)
        case r.OpenPlan():
            from reelcare.tui.screens.work.plan import PlanPage

            return PlanPage(request)
    return None


def _first_day(request: Opens[Any]) -> Screen[Any] | None:
    match request:
        case r.OpenStart():
            from reelcare.tui.screens.first_day.start import StartPage

            return StartPage()
        case r.OpenPreview():
            from reelcare.tui.screens.first_day.preview import PreviewPage

            return PreviewPage(request)
        case r.OpenLastDone():
            from reelcare.tui.screens.first_day.last_done import LastDonePage

            return LastDonePage()
        case r.OpenPeople():
            from reelcare.tui.screens.first_day.people import PeoplePage

            return PeoplePage()
        case r.EnrolPerson():
            from reelcare.tui.screens.first_day.people import PersonForm

            return PersonForm()
        case r.ChangeMachine():
            from reelcare.tui.screens.first_day.machine import MachineForm

            return MachineForm(request)
    return None

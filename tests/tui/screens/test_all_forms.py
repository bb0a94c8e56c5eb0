"""What holds in every form of the app: arrows, nothing ticked or wiped by mistake, and Esc asks where it must."""

import importlib
import pkgutil
from collections.abc import Iterator
from typing import Any

import pytest
from textual.widgets import Button, Input

from reelcare.core.wording import cells
from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.reading import yard as yards
from reelcare.tui import requests as r
from reelcare.tui import screens
from reelcare.tui.requests import Opens
from reelcare.tui.screens.checks.paper import PaperForm
from reelcare.tui.screens.form import Form
from reelcare.tui.screens.settings.lane_forms import FieldForm
from reelcare.tui.widgets.inputs.checkbox import Checkbox
from reelcare.tui.widgets.inputs.dialogs import Confirm

pytestmark = pytest.mark.long


def requests_of(register: Any, now: Any) -> Iterator[Opens[Any]]:
    """A request for each form; services and fault steps of the machines that have them."""

    def machine(tag: str) -> Any:
        return yards.machine_now(register, register.machine_id(tag), now, permits=True)

    held, worn = machine("T02"), machine("T03")
    yield r.LogRun(worn)
    yield r.LogFault(worn.id, worn.tag)
    yield r.LogFaultStep(held.id, held.tag, held.faults[0])
    yield r.LogService(worn, next(one for one in worn.dues if one.item.id == "gearbox-oil-change"))
    yield r.ReadCounters(worn)
    yield r.ChangePlanItem(worn.id, worn.tag, worn.plan.items[0])
    yield r.Measure(worn, "gun")
    yield r.Measure(worn, "drum")
    yield r.Measure(worn, "cans")
    yield r.EnrolPerson()
    yield r.ChangeMachine(worn.id)
    yield r.ChangeLane(worn.card.place)
    yield r.ChangeAllowed(worn.card.place)
    sheet = sheets.load().by_id["pre-start"]
    yield r.EnterPaper(worn, walk_rounds.begin(register, worn.id, sheet, by="Tomas", now=now))


def forms(of: type[Form] = Form) -> Iterator[type[Form]]:
    """Every form that there is: modules of screens are loaded only where one is opened."""
    for module in pkgutil.walk_packages(screens.__path__, "reelcare.tui.screens."):
        importlib.import_module(module.name)
    for one in of.__subclasses__():
        yield one
        yield from forms(one)


async def goes_through(driver: Any, form: Form) -> None:
    """Down from line to line to the end, and up again; what stands in a line is not selected on arriving."""
    stops = [one for one in form.focus_chain if not isinstance(one, Button)]
    stops[0].focus()
    await driver.pilot.pause()
    for one in stops[1:]:
        await driver.pilot.press("down")
        assert form.focused is one, f"{type(form).__name__}: down does not come to {one!r}"
        assert not isinstance(one, Input) or one.selection.is_empty
    for one in reversed(stops[:-1]):
        await driver.pilot.press("up")
        assert form.focused is one, f"{type(form).__name__}: up does not come to {one!r}"
        assert not isinstance(one, Input) or one.selection.is_empty


async def test_what_holds_in_every_form_holds_in_each(drive: Any, register: Any) -> None:
    tried: set[type[Any]] = set()
    async with drive(size=(80, 16)) as driver:
        await driver.keys("p", "a")
        yard = driver.app.screen
        for request in requests_of(register, driver.clock.now):
            form = driver.app.screen_for(request)
            await driver.app.push_screen(form)
            await driver.pilot.pause()
            tried.add(type(form))
            await goes_through(driver, form)
            began = form._filled_in()
            for box in form.query(Checkbox):
                box.focus()
                await driver.type("a b")
                assert box.value is began[box.id], f"{type(form).__name__}: words ticked {box.id}"
            await driver.keys("up", "down")
            assert form._filled_in() == began, type(form).__name__
            lines = list(form.query(Input))
            if lines:
                lines[0].focus()
                await driver.pilot.pause()
                was = lines[0].value
                await driver.keys("x")
                assert lines[0].value == f"{was}x", f"{type(form).__name__}: typing wiped what stood there"
            else:
                form.query(Checkbox).first().focus()
                await driver.keys("space")
            await driver.keys("escape")
            driver.expect(Confirm)
            await driver.keys("n")
            assert driver.app.screen is form
            await driver.keys("backspace" if lines else "space", "escape")
            assert driver.app.screen is yard, f"{type(form).__name__}: unchanged, Esc leaves"
    assert tried == set(forms()) - {FieldForm}
    assert PaperForm in tried


@pytest.mark.parametrize("language", ["en", "es", "fr"])
async def test_no_hint_is_cut_at_80_columns(drive: Any, register: Any, language: str) -> None:
    """Of a paper form the choices stand on the paper."""
    async with drive(size=(80, 24), language=language) as driver:
        await driver.keys("p", "a")
        for request in requests_of(register, driver.clock.now):
            await driver.app.push_screen(driver.app.screen_for(request))
            await driver.pilot.pause()
            form = driver.app.screen
            for line in () if isinstance(form, PaperForm) else form.query(Input):
                assert cells(line.placeholder) < line.size.width, (type(form).__name__, line.id)
            driver.app.pop_screen()
            await driver.pilot.pause()

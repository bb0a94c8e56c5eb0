"""The scale of a reading: what is read stands between the limits just where the judge calls it right."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core.checks.limits import judge
from reelcare.core.checks.reading_scale import scale_of
from reelcare.core.checks.sheet import Limit, Question
from reelcare.core.drawing.limits import BEYOND, draw_scale
from reelcare.core.machine.card import Card
from reelcare.register import sheets

PLANNED = {"inlet_pressure": "6.3 bar", "planned_speed": "25 m/h", "least_coils": "3"}
READ = [one for sheet in sheets.load(own=Path("no-such-folder")).by_id.values() for one in sheet.questions
        if one.is_number]  # fmt: skip
UNITS = {"pressure": "bar", "speed": "m/h", "voltage": "V", "length": "m", "count": ""}


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(READ), st.integers(0, 30_000), st.booleans(), st.integers(24, 60))
def test_what_is_read_stands_between_the_limits_just_where_it_is_right(
    asked: Question, figure: int, is_planned: bool, width: int
) -> None:
    seen = f"{figure if asked.quantity == 'count' else figure / 100} {UNITS[asked.quantity]}".strip()
    planned = PLANNED if is_planned else {}
    judged = judge(asked, seen, card=Card("R1"), planned=planned)
    scale = scale_of(asked, Card("R1"), planned, "metric", judged)
    if scale is None or judged.judged not in ("right", "wrong"):
        return
    figures, line, read = (f"{row:<{width}}" for row in draw_scale(scale, width=width).rows)
    (at,) = (x for x, sign in enumerate(read) if sign in "▴" + BEYOND)
    low = line.find("[") if scale.least is not None else -1
    high = next((x for x, sign in enumerate(line) if x > low and sign in "]║"), len(line))
    assert (low <= at <= high) == (judged.judged == "right"), (seen, judged.says, line, read)
    never = line.rfind("║")
    if never >= 0:
        assert (at > never) == judged.holds or asked.if_not == "stop", (seen, line, read)
    assert "0" in figures


def test_a_limit_far_past_what_is_right_is_left_to_the_words() -> None:
    never = Limit(("150 m/h",))
    asked = Question("speed", {"en": "?"}, "reading", "drive", "note", quantity="speed", about=Limit(("25 m/h",)),
                     never_above=never)  # fmt: skip
    scale = scale_of(asked, Card("R1"), {}, "metric")
    assert scale is not None
    assert "║" not in draw_scale(scale).text()


@pytest.mark.parametrize("system", ["metric", "us"])
def test_nothing_is_drawn_for_what_nothing_limits_and_figures_are_in_the_persons_unit(system: str) -> None:
    bare = Question("q", {"en": "?"}, "reading", "gauges", "note", quantity="pressure")
    assert scale_of(bare, Card("R1"), {}, system) is None  # type: ignore[arg-type]
    inlet = next(one for one in READ if one.id == "inlet")
    scale = scale_of(inlet, Card("R1"), PLANNED, system)  # type: ignore[arg-type]
    assert scale is not None
    assert scale.unit == {"metric": "bar", "us": "psi"}[system]
    # 6.3 bar and its tenth, 6.3 bar being 91.4 psi (1 psi = 6894.76 Pa, NIST SP 811)
    assert scale.least == pytest.approx({"metric": 5.67, "us": 82.24}[system], abs=0.01)

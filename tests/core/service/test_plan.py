"""Service plans: what is taken, what is refused, and that the shipped one is whole."""

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from reelcare import languages
from reelcare.core.service.plan_table import PlanError, read_plan, to_plain

SHIPPED = tomllib.loads(Path("checklists/plan-default.toml").read_text("utf-8"))


def problems(items: Sequence[Mapping[str, object]]) -> str:
    with pytest.raises(PlanError) as refused:
        read_plan({"id": "p", "items": items})
    return "\n".join(refused.value.problems)


def test_every_slip_is_told_at_once_with_its_item() -> None:
    told = problems(
        [
            {"id": "a", "what": "a"},
            {"id": "b", "what": "b", "every": {"hours": 0}},
            {"id": "c", "what": "c", "every": {"hour": 5}},
            {"id": "d", "what": "d", "every": {"months": 1.5}},
            {"id": "e", "every": {"runs": 3}, "grace": 80},
            {"id": "f", "what": "f", "every": {"runs": 3}, "covers": ["z"]},
            {"id": "f", "what": "f", "every": {"runs": 3}, "colour": "red"},
            {"id": "g", "what": "g", "every": {"runs": 3}, "anchor": "calendar"},
            {"id": "h", "what": "h", "every": {"runs": 3}, "safety": True, "grace": 5},
            {"id": "i", "what": "i", "every": {"runs": 3}, "part": "gearbax"},
            {"id": "j", "what": "j", "every": {"months": 3}, "on": "04-15"},
            {"id": "k", "what": "k", "every": {"months": 3}, "anchor": "calendar", "on": "02-30"},
            {"id": "l", "what": "l", "every": {"runs": 3}, "first_after_repair": True},
            {"id": "m", "what": "m", "every": {"hours": float("nan"), "runs": True}},
        ]
    )
    for place in ("(a).every: missing", "(b).every.hours: 0", "(c).every.hour: not known; did you mean hours",
                  "(d).every.months: 1.5", "(e).what: missing", "(e).grace: 80", "(f).covers: 'z'",
                  "two items are called f", "(f).colour: not known", "(g).anchor", "(h).grace: 5"):  # fmt: skip
        assert place in told


@pytest.mark.parametrize("covers", [{"a": ["a"]}, {"a": ["b"], "b": ["a"]}, {"a": ["b"], "b": ["c"], "c": ["a"]}])
def test_a_plan_that_covers_itself_in_a_circle_is_refused(covers: dict[str, list[str]]) -> None:
    items = [{"id": one, "what": one, "every": {"hours": 1}, "covers": covers.get(one, [])} for one in ("a", "b", "c")]
    assert "circle" in problems(items)


@pytest.mark.parametrize("table", [{}, {"id": "p"}, {"id": "p", "items": []}, {"id": "p", "items": ["x"]}, {"id": 3}])
def test_what_is_no_plan_is_refused(table: dict[str, object]) -> None:
    with pytest.raises(PlanError):
        read_plan(table)


def test_a_bad_title_is_told_as_well() -> None:
    with pytest.raises(PlanError, match="title: must be a text"):
        read_plan({"id": "p", "title": 5, "source": "own", "items": [{"id": "a", "what": "a", "every": {"hours": 1}}]})


def test_covers_reach_through_any_number_of_steps() -> None:
    plan = read_plan(
        {"id": "p", "items": [{"id": one, "what": one, "every": {"hours": 1}, "covers": covers}
                              for one, covers in (("a", ["b"]), ("b", ["c"]), ("c", []))]}
    )  # fmt: skip
    assert {one.id for one in plan.with_covered("a")} == {"a", "b", "c"}


def test_the_plain_form_is_the_plan() -> None:
    plan = read_plan(SHIPPED)
    assert read_plan(to_plain(plan)) == plan


def test_the_shipped_plan_says_how_and_what_can_hurt() -> None:
    plan = read_plan(SHIPPED)
    for item in plan.items:
        assert item.steps, item.id
        assert item.cautions, item.id
        assert item.minutes, item.id
    end_stop, nuts, opening, lay_up = (plan.item(id) for id in ("end-stop", "wheel-nuts", "season-opening", "lay-up"))
    assert end_stop is not None
    assert end_stop.stop
    assert end_stop.safety
    assert end_stop.grace == 0
    assert nuts is not None
    assert nuts.first_after_repair
    assert opening is not None
    assert lay_up is not None
    assert (opening.on, lay_up.on) == ("opens", "closes")
    # where hands go into the machine, energies are made safe first
    opened = ("grease", "chain", "drive-belt", "gearbox-oil-level", "gearbox-oil-change", "strainer", "pawl")
    for id in opened:
        assert {"water", "drum"} <= set((plan.item(id) or nuts).isolate), id


def test_every_text_of_the_shipped_plan_is_there_in_every_language() -> None:
    for item in read_plan(SHIPPED).items:
        for words in (item.what, item.short, *item.steps, *item.cautions, *item.supplies):
            assert list(words) == list(languages.LANGUAGES), item.id
            assert all(words.values()), item.id
            assert len(set(words.values())) == len(words) or words["en"] == "Turbine", item.id

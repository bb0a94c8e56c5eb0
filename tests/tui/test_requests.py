"""Requests: each has its screen, and its answer is that of the screen; names stand once."""

import importlib
import inspect
import pkgutil
import re
import types
from collections import Counter
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from textual.screen import Screen

import reelcare
import reelcare.tui
from reelcare.tui import requests, screen_table
from reelcare.tui.requests import Opens

REQUESTS = [
    one
    for one in vars(requests).values()
    if isinstance(one, type) and Opens in one.__mro__[1:] and not one.__subclasses__()
]
"""Those that are made: what several have in common is a class above them."""


def classes(package: types.ModuleType) -> list[type]:
    """Every class of a package, where it is defined."""
    found: dict[str, type] = {}
    for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        if module.name.endswith("__main__"):
            continue
        for one in vars(importlib.import_module(module.name)).values():
            if isinstance(one, type) and one.__module__ == module.name:
                found[f"{module.name}.{one.__qualname__}"] = one
    return list(found.values())


def answer_of(one: type, generic: type) -> Any:
    """What a request or a screen gives back."""
    for base in one.__mro__:
        for origin in getattr(base, "__orig_bases__", ()):
            if getattr(origin, "__origin__", None) is not None and issubclass(origin.__origin__, generic):
                [found] = get_args(origin)
                if not hasattr(found, "__bound__"):
                    return eval(found.__forward_arg__, vars(requests)) if hasattr(found, "__forward_arg__") else found
    raise AssertionError(one)


def asked_by(screen: Any) -> type | None:
    """The request that a screen is made from."""
    parameters = inspect.signature(screen.__init__).parameters
    if "request" not in parameters:
        return None
    asked: type = get_type_hints(screen.__init__)["request"]
    return asked


def test_no_request_has_two_screens() -> None:
    made = [one for one in classes(reelcare.tui) if issubclass(one, Screen) and not one.__subclasses__()]
    asked = [one for screen in made if (one := asked_by(screen))]
    assert len(asked) == len(set(asked))


@pytest.mark.parametrize("request_type", REQUESTS, ids=lambda one: one.__name__)
def test_each_request_has_a_screen_that_is_made_from_it_with_its_answer(request_type: type) -> None:
    module, _dot, name = screen_table.SCREENS[request_type].rpartition(".")
    screen = getattr(importlib.import_module(f"reelcare.tui.{module}"), name)
    assert asked_by(screen) is (request_type if is_dataclass(request_type) else None)
    assert answer_of(screen, Screen) == answer_of(request_type, Opens)


def test_each_request_is_made_by_a_screen_or_the_app() -> None:
    parts = Path(reelcare.tui.__file__).parent.rglob("*.py")
    sources = " ".join(path.read_text("utf-8") for path in parts if path.stem not in ("requests", "screen_table"))
    unasked = [one.__name__ for one in REQUESTS if not re.search(rf"\b{one.__name__}\(", sources)]
    assert unasked == [], "no key and no row leads to these screens"


def test_a_request_that_the_table_does_not_know_is_an_error() -> None:
    class Unknown(Opens[None]):
        pass

    with pytest.raises(NotImplementedError, match="Unknown"):
        screen_table.screen_for(Unknown(), None)  # type: ignore[arg-type]


def test_no_class_of_the_terminal_room_has_the_name_of_another() -> None:
    names = Counter(one.__name__ for one in classes(reelcare) if "." not in one.__qualname__)
    ours = {one.__name__ for one in classes(reelcare.tui)}
    assert {name for name in ours if names[name] > 1} == set()

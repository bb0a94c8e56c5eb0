"""Requests: each has its screen, and its answer is that of the screen; names stand once."""

import importlib
import inspect
import pkgutil
import re
import types
from collections import Counter
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from textual.screen import Screen

import reelcare
import reelcare.tui
from reelcare.tui import requests, screen_table
from reelcare.tui.requests import Opens

REQUESTS = [one for one in vars(requests).values() if isinstance(one, type) and Opens in one.__mro__[1:]]


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
    asked: type = get_type_hints(screen.__init__, vars(importlib.import_module(screen.__module__)))["request"]
    return asked


def test_each_request_has_one_screen_with_its_answer() -> None:
    screens = [one for one in classes(reelcare.tui) if issubclass(one, Screen)]
    made = {asked_by(one): one for one in screens if asked_by(one) is not None}
    assert len(made) == sum(asked_by(one) is not None for one in screens)
    for request in REQUESTS:
        if request in made:
            assert answer_of(request, Opens) == answer_of(made[request], Screen), request
        else:
            assert answer_of(request, Opens) in (None, type(None)), f"{request}: no screen is made from it"


@pytest.mark.parametrize("request_type", REQUESTS, ids=lambda one: one.__name__)
def test_the_table_knows_each_request(request_type: type) -> None:
    source = inspect.getsource(screen_table)
    assert source.count(f"case r.{request_type.__name__}():") == 1


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

"""Private names of the libraries on which the terminal app stands: few, all of them listed here with their reason."""

import ast
import importlib
import inspect
import pkgutil
import re
import textwrap
from functools import cache

import pytest
from textual.app import App
from textual.drivers.web_driver import WebDriver
from textual.message_pump import MessagePump
from textual_serve.app_service import AppService
from textual_serve.server import Server

import reelcare.tui

TEXTUAL = {
    "_filters": App,  # there is no public way to put a filter before the terminal
    "_on_message": MessagePump,  # a handler that raises would end its screen for good, and there is no public way round
    "_handle_exception": App,  # what a worker or a timer meets of a register that cannot be read ends no app
    "_write": WebDriver,  # a reader that has gone is no error of the app
}
SERVE = {
    "_open_app_process": AppService,  # the app is started without a shell, so that it can be ended
    "_process": AppService,  # what is waited for, and ended
    "_stdin": AppService,  # where the base sends what comes from the browser
    "_make_app": Server,  # a route is added, and all of them are guarded
    "_process_messages": Server,  # the loop over what a browser sends
}
PRIVATE = re.compile(r"_[a-z]\w*")


@cache
def own_classes() -> list[type]:
    """Every class of the terminal room."""
    found: dict[str, type] = {}
    for module in pkgutil.walk_packages(reelcare.tui.__path__, "reelcare.tui."):
        for one in vars(importlib.import_module(module.name)).values():
            if isinstance(one, type) and one.__module__ == module.name:
                found[f"{module.name}.{one.__qualname__}"] = one
    return list(found.values())


@cache
def private_names_of(base: type) -> set[str]:
    """The private names that a class of a library defines or sets on itself."""
    try:
        source = inspect.getsource(base)
    except (OSError, TypeError):
        source = ""
    return {name for name in (*vars(base), *re.findall(r"self\.(_\w+)", source)) if PRIVATE.fullmatch(name)}


def used_on_itself(one: type) -> set[str]:
    """The private names that a class of ours defines, or asks of itself or its base."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(one)))
    names = {node.name for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))}
    names |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return {name for name in names if PRIVATE.fullmatch(name)}


def of_libraries() -> set[str]:
    """Private names of libraries that ours use or replace."""
    found: set[str] = set()
    for one in own_classes():
        theirs = [base for base in one.__mro__ if not base.__module__.startswith(("reelcare.", "builtins"))]
        found |= used_on_itself(one) & set().union(*(private_names_of(base) for base in theirs))
    return found


def asked_of_others() -> set[str]:
    """Private names that are asked of anything but `self`, and that no class of ours has."""
    asked: set[str] = set()
    for module in pkgutil.walk_packages(reelcare.tui.__path__, "reelcare.tui."):
        tree = ast.parse(inspect.getsource(importlib.import_module(module.name)))
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and PRIVATE.fullmatch(node.attr):
                itself = isinstance(node.value, ast.Name) and node.value.id == "self"
                asked |= set() if itself else {node.attr}
    return asked - {name for one in own_classes() for name in used_on_itself(one)}


@pytest.mark.parametrize(("name", "owner"), [*TEXTUAL.items(), *SERVE.items()], ids=str)
def test_a_private_name_that_is_used_is_there(name: str, owner: type) -> None:
    assert name in private_names_of(owner)


@pytest.mark.long
def test_no_other_private_name_is_used_or_replaced() -> None:
    assert of_libraries() | asked_of_others() == {*TEXTUAL, *SERVE}
    assert len(TEXTUAL) <= 5
    assert len(SERVE) <= 5

"""The command line is made up in parts: each command is where it is looked for, with all that it takes."""

import argparse

import pytest

from reelcare.cli.parser import _GROUPS, _formatter, build_parser


def commands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    found = next(one for one in parser._actions if isinstance(one, argparse._SubParsersAction))
    return dict(found.choices)


def test_every_command_stands_in_its_group() -> None:
    named = [name for names, _ in _GROUPS for name in names]
    assert sorted(named) == sorted(commands(build_parser()))
    assert len(named) == len(set(named))


@pytest.mark.parametrize("name", sorted(commands(build_parser())))
def test_a_command_alone_takes_what_it_takes_among_all(name: str) -> None:
    alone = commands(build_parser(["--register", "due.db", name, "due"]))
    assert len(alone) < len(commands(build_parser()))
    assert alone[name].format_help() == commands(build_parser())[name].format_help()


@pytest.mark.parametrize("words", [[], ["--help"], ["nonsense"], ["--register", "due"]])
def test_without_a_command_that_is_known_all_are_there(words: list[str]) -> None:
    assert commands(build_parser(words)).keys() == commands(build_parser()).keys()


@pytest.mark.parametrize("said", ["", "0", "-5", "61", " 70 ", "wide", "²", "٣٠", "1e3"])
def test_help_is_as_wide_as_the_library_finds_the_terminal(said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", said)
    plain = argparse.HelpFormatter("reelcare")
    assert _formatter("reelcare")._width == plain._width

"""The command line: each command with all that it takes, options anywhere, and a way on for what is not known."""

import argparse
import itertools
import os
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reelcare import languages
from reelcare.cli import main
from reelcare.cli.command import SLOTS, Command, Formatter, always
from reelcare.cli.common import refuse_wrong_times
from reelcare.cli.parser import BEFORE, COMMANDS, FLAGS_BEFORE, GROUPS, build_parser, parse
from reelcare.cli.problem import Problem
from reelcare.cli.suggestions import COMMANDS as MEANT
from reelcare.cli.suggestions import OPTIONS
from reelcare.cli.terminal import LONGEST
from reelcare.core import text

Parsers = dict[str, argparse.ArgumentParser]


def below(parser: argparse.ArgumentParser) -> Parsers:
    found = [one for one in parser._actions if isinstance(one, argparse._SubParsersAction)]
    return dict(found[0].choices) if found else {}


def leaves(parser: argparse.ArgumentParser, path: str = "") -> Iterator[tuple[str, argparse.ArgumentParser]]:
    for name, one in below(parser).items():
        yield from leaves(one, f"{path} {name}".strip())
    if not below(parser):
        yield path, parser


def rows(commands: tuple[Command, ...], path: str = "") -> Iterator[tuple[str, Command]]:
    for one in commands:
        yield f"{path} {one.name}".strip(), one
        yield from rows(one.kinds, one.name)


LEAVES = dict(leaves(build_parser()))
ROWS = [row for _, commands, _ in GROUPS for row in rows(commands)]
EXAMPLES = [example for _, _, examples in GROUPS for example in examples]
EXAMPLES += [example for _, row in ROWS for example in row.examples]


OWN_TIME = ("carry in", "carry accept", "carry refuse", "restore", "bring")


def asked(*words: str) -> dict[str, Any]:
    """What is asked, without what does it."""
    return {name: value for name, value in vars(parse(words)).items() if name not in ("run", "writes")}


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_command_alone_takes_what_it_takes_among_all(name: str) -> None:
    alone = below(build_parser([name]))
    assert list(alone) == [name]
    assert alone[name].format_help() == below(build_parser())[name].format_help()


def test_every_command_stands_once() -> None:
    assert len(COMMANDS) == sum(len(commands) for _, commands, _ in GROUPS)


@pytest.mark.parametrize("example", sorted(set(EXAMPLES)))
def test_every_example_is_understood(example: str) -> None:
    assert parse(shlex.split(example)).run


@pytest.mark.parametrize(("path", "row"), ROWS)
def test_every_command_has_two_examples_of_its_own(path: str, row: Command) -> None:
    assert len(row.examples) >= 2
    assert all(example == path or example.startswith(f"{path} ") for example in row.examples)


def test_an_example_that_writes_says_who() -> None:
    for example in EXAMPLES:
        asked = parse(shlex.split(example))
        needs_no_name = example.startswith("people add") or "--near-miss" in example  # who saw one may stay unnamed
        assert asked.only_reads or not hasattr(asked, "by") or asked.by or needs_no_name, example


SHARED = (
    ["--register", "x.db"], ["--register=x.db"], ["--units", "us"], ["--language", "es"], ["--view"], ["--json"],
    ["--as-of", "2026-05-01"],
)  # fmt: skip


@pytest.mark.parametrize("options", [*SHARED, list(itertools.chain(*SHARED))])
@pytest.mark.parametrize("command", [["due", "--overdue"], ["may", "T01", "tow"], ["measure", "figures", "T01"]])
def test_shared_options_stand_before_or_after_the_command(options: list[str], command: list[str]) -> None:
    wanted = asked(*command, *options)
    assert wanted != asked(*command)
    for at in range(len(command) + 1):
        assert asked(*command[:at], *options, *command[at:]) == wanted, at


@pytest.mark.parametrize(
    "command",
    [["log", "service", "T01", "grease"], ["people", "add", "Ines"], ["check", "T01", "road"], ["bring", "runs.csv"]],
)
def test_who_and_when_stand_anywhere(command: list[str]) -> None:
    options = ["--by", "Mara", "--at", "2026-05-01"]
    for at in range(len(command) + 1):
        assert asked(*command[:at], *options, *command[at:]) == asked(*command, *options), at


def test_a_name_with_a_dash_stands_behind_two_dashes() -> None:
    assert asked("people", "--role", "operator", "--", "add", "-rf")["words"] == ["add", "-rf"]


def test_a_number_below_nothing_is_a_value_and_no_option() -> None:
    assert parse(["set-up", "T01", "--rise", "-5 m", "--spacing", "60 m", "--out", "300 m"]).rise == "-5 m"
    assert parse(["set-up", "T01", "--rise", "-5m", "--spacing", "60 m", "--out", "300 m"]).rise == "-5m"
    assert parse(["set-up", "T01", "--rise=-5m", "--spacing", "60 m", "--out", "300 m"]).rise == "-5m"


def test_a_hold_takes_the_word_after_it_only_where_it_says_which() -> None:
    fault = ["log", "fault", "--says", "x"]
    assert asked(*fault, "--hold", "T01", "hose")["hold"] == "both"
    assert asked(*fault, "--hold", "road", "T01", "hose")["hold"] == "road"


def test_a_demo_is_kept_at_a_path_and_not_at_a_time() -> None:
    assert parse(["demo", "--at", "x.db"]).at == "x.db"
    with pytest.raises(Problem, match="comes after `reelcare demo`, where it is PATH"):
        parse(["--at", "x.db", "demo"])


@pytest.mark.parametrize("words", [["due", "--overd"], ["due", "--mach", "T01"], ["--reg", "x", "due"], ["--ver"]])
def test_nothing_is_abbreviated(words: list[str]) -> None:
    with pytest.raises(Problem, match=r"did you mean --(overdue|machine|register|version)\?"):
        parse(words)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--slow", "due"], "--slow: `reelcare due` takes none"),
        (["--by", "Ines", "yard"], "--by: `reelcare yard` takes none"),
        (["--json"], "--json: the app takes none"),
        (["--json", "check", "T01"], "--json: `reelcare check` takes none"),
    ],
)
def test_what_a_command_does_not_take_is_never_passed_over(words: list[str], says: str) -> None:
    with pytest.raises(Problem) as told:
        parse(words)
    assert says in str(told.value)


@pytest.mark.parametrize("path", LEAVES)
def test_every_command_takes_what_all_take(path: str) -> None:
    known = set(LEAVES[path]._option_string_actions)
    assert {"--help", "--register", "--units", "--language", "--view"} <= known
    assert ("--by" in known) == ("--at" in known) or path == "demo"


@pytest.mark.parametrize("path", OWN_TIME)
def test_a_time_that_changes_nothing_is_told(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    why = ["--why", "x"] if path in ("carry accept", "carry refuse", "restore") else []
    refuse_wrong_times(parse([*path.split(), "x", *why, "--at", "2026-05-01"]))
    assert "--at changes nothing here" in capsys.readouterr().err


def test_an_option_means_the_same_everywhere() -> None:
    meanings: dict[str, set[Any]] = {}
    for path, parser in LEAVES.items():
        for name, action in parser._option_string_actions.items():
            if (path, name) not in (
                ("demo", "--at"),
                ("give", "--to"),
                ("bring", "--last-done"),
            ):  # a path, a name, a kind of file
                choices = tuple(action.choices) if action.choices else None
                value = "TIME" if action.metavar == "DAY" else action.metavar  # a day is a time without a clock
                meanings.setdefault(name, set()).add((value, action.nargs, choices, type(action)))
    assert {name for name, found in meanings.items() if len(found) > 1} == set()


def test_what_can_stand_before_a_command_is_taken_by_one_at_least() -> None:
    known = {name for parser in (build_parser(), *LEAVES.values()) for name in parser._option_string_actions}
    assert {*BEFORE, *FLAGS_BEFORE} <= known


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("status", "did you mean yard?"), ("list", "did you mean yard?"), ("lists", "did you mean yard?"),
        ("help", "did you mean `reelcare --help`?"), ("add", "did you mean `reelcare machine add`?"),
        ("backup", "did you mean copy?"),
        ("run", "did you mean `reelcare log run`?"), ("fault", "did you mean `reelcare log fault`?"),
        ("Yrad", "did you mean yard?"), ("xyzzyq", "`reelcare --help` lists them"),
        ("", "`reelcare --help` lists them"), ("\x1b[2J", "`reelcare --help` lists them"),
    ],
)  # fmt: skip
def test_a_word_that_is_no_command_leads_to_the_right_one(word: str, says: str, capsys: Any) -> None:
    assert main([word]) == 2
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n"), "\x1b" in told.err) == ("", 1, False)
    assert "no such command; " + says in told.err


def test_a_kind_that_is_none_is_told_with_those_there_are() -> None:
    for words, says in (
        (["log", "fualt"], "did you mean `reelcare log fault`?"),
        (["log", "xyzzy"], "say run, reading, service"),
        (["log"], "log: say what: run, reading"),
        (["report", "--view"], "report: say what: machine, check"),
    ):
        with pytest.raises(Problem) as told:
            parse(words)
        assert says in str(told.value)


@pytest.mark.parametrize("word", sorted(MEANT))
def test_every_word_that_people_try_leads_to_a_command_that_is_there(word: str) -> None:
    assert word not in COMMANDS
    line = MEANT[word].split()
    if line[0].startswith("--"):
        assert line[0] in FLAGS_BEFORE
    else:
        command = COMMANDS[line[0]]
        assert not command.kinds or line[1:] == [] or line[1] in [kind.name for kind in command.kinds]


def test_every_option_that_people_try_leads_to_one_that_is_there() -> None:
    known = {name for parser in (build_parser(), *LEAVES.values()) for name in parser._option_string_actions}
    assert set(OPTIONS.values()) <= known


@pytest.mark.parametrize("words", [["-V"], ["--version"], ["-V", "due"], ["--units", "us", "-V"]])
def test_the_version_is_told(words: list[str], capsys: Any) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 0
    assert capsys.readouterr().out.startswith("reelcare 0.")


@pytest.mark.parametrize("words", [["-h"], ["due", "-h"], ["--help", "due"], ["log", "--help"], ["log", "run", "-h"]])
@pytest.mark.parametrize("columns", ["20", "40", "80", "200"])
def test_help_shows_what_there_is_at_any_width(words: list[str], columns: str, capsys: Any, monkeypatch: Any) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 0
    told = capsys.readouterr().out
    assert "reelcare" in told
    wanted = (
        COMMANDS if words == ["-h"] else ["--overdue"] if "due" in words else ["fault"] if words[1][0] == "-" else []
    )
    assert all(one in told for one in wanted)
    assert max(map(len, told.splitlines())) <= int(columns)


def test_help_has_the_groups_and_two_examples_each(capsys: Any) -> None:
    told = build_parser().format_help()
    for title, commands, examples in GROUPS:
        part = told.partition(f"\n{title}:\n")[2].partition(":\n")[0]
        assert all(f"  {one.name} " in part for one in commands)
        assert all(f"reelcare {one}\n" in part for one in examples)
        assert len(examples) == 2


def test_a_word_of_any_length_is_one_line_that_is_read(capsys: Any) -> None:
    for words in (
        ["x" * 100_000],
        ["due", "--" + "x" * 100_000],
        ["book", "x" * 100_000],
        ["due", "--within", "9" * 4000],
    ):
        assert main(["--register", os.devnull, *words] if words[0] == "book" else words) in (2, 3)
        told = capsys.readouterr().err
        assert told.count("\n") == 1
        assert len(told) < LONGEST + 30


def test_a_warning_of_any_length_is_cut(farm: Any) -> None:
    for command in ("due", "workload"):
        told = farm(command, "--place", "x " * 50_000)
        assert told.code == 0
        assert told.err.startswith("warning: no machine is at x x ")
        assert max(map(len, told.err.splitlines())) < LONGEST + 30


READS = [
    ["yard"], ["due", "--exit-code"], ["may", "R1"], ["book", "R1"], ["signals"], ["failures"], ["marks"],
    ["corrections"], ["set-up", "R1", "--spacing", "68 m", "--out", "300 m"], ["measure", "figures", "R1"],
    ["measure", "gun", "R1", "43 m3/h @ 4.5 bar"], ["machine"], ["machine", "R1"], ["people"], ["plan"],
    ["workload"], ["report", "due", "due.csv"], ["report", "machine", "R1", "r1.html"], ["carry", "out", "x.zip"],
    ["copy", "copy.db"], ["prove"], ["carry", "waiting"], ["lanes"], ["machine", "R1", "--toml"],
    ["report", "workload", "w.csv"], ["report", "list", "l.csv"], ["report", "season", "s.html"],
    ["report", "water", "w.html"], ["report", "blank", "R1", "b.html"], ["report", "tag", "R1", "t.svg"],
]  # fmt: skip
MORE_READS = [
    ["measure", "drum", "R1", "24=118.9 m", "48=252 m", "72=398 m"], ["night", "North"],
    ["measure", "cans", "R1", "--spacing", "68 m", "--step", "5 m", "--left", "9.4 8 5.9", "--right", "9 8.2 5.5"],
    ["report", "check", "R1", "c.html"], ["report", "night", "North", "n.html"],
]  # fmt: skip
"""Commands that only read, of machines with more figures, work and fields than the tests elsewhere have."""
WITHOUT_REGISTER = {"sheets", "health", "paths", "serve", "formats", "completion"}
"""Commands that tell something where no register is."""


def test_every_command_that_only_reads_is_tried() -> None:
    tried = [" ".join(words) for words in READS + MORE_READS]
    found = {name for name, one in rows((*COMMANDS.values(),)) if not one.kinds and one.writes is not always}
    untried = {name for name in found if not any(f"{line} ".startswith(f"{name} ") for line in tried)}
    assert untried == WITHOUT_REGISTER | {"carry in"}


@pytest.mark.parametrize("words", READS + MORE_READS, ids=" ".join)
def test_what_only_reads_makes_no_register(words: list[str], tmp_path: Path, monkeypatch: Any, capsys: Any) -> None:
    monkeypatch.chdir(tmp_path)
    for named in ("nope/x.db", "x.db"):
        assert main(["--register", named, *words]) == 3
        told = capsys.readouterr()
        assert (told.out, told.err.count("\n")) == ("", 1)
        assert f"{named}: no such register; name the right one with --register, or make one: " in told.err
        assert told.err.endswith(" begin\n")
    assert list(tmp_path.iterdir()) == []


WRITES = [
    ["people", "add", "Mara", "--role", "supervisor"], ["machine", "add", "x.toml"],
    ["log", "correct", "x", "--why", "y"],
    ["check", "R1"], ["plan", "--use", "x.toml"], ["bring", "x.csv"], ["measure", "gun", "R1", "1 @ 2", "--keep"],
    ["set-up", "R1", "--spacing", "68 m", "--out", "300 m", "--keep"],
]  # fmt: skip


@pytest.mark.parametrize("words", WRITES, ids=" ".join)
def test_a_folder_of_the_register_that_is_not_there_is_named(
    words: list[str], tmp_path: Path, monkeypatch: Any, capsys: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    assert not parse(words).only_reads
    assert main([*words, "--by", "Mara", "--register", "nope/x.db"]) == 2
    assert capsys.readouterr().err == "reelcare: nope: no such folder; make it, or name another\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [["carry", "out", "no/x.zip"], ["copy", "no/x.db"], ["report", "due", "no/x.csv"], ["demo", "--at", "no/x"]],
)
def test_a_target_folder_that_is_not_there_is_named_before_any_work(
    farm: Any, words: list[str], tmp_path: Path, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    told = farm(*words)
    assert (told.code, told.err) == (2, "reelcare: no: no such folder; make it, or name another\n")
    (tmp_path / "no").write_text("")
    assert farm(*words).err == "reelcare: no: not a folder; name another\n"


@pytest.mark.parametrize("said", ["", "0", "-5", "61", " 70 ", "wide", "²", "٣٠", "1e3"])
def test_help_is_as_wide_as_the_library_finds_the_terminal(said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", said)
    plain = argparse.HelpFormatter("reelcare")
    assert Formatter("reelcare")._width == plain._width


def test_what_values_are_called_is_translated_word_by_word() -> None:
    named = [action.metavar for one in LEAVES.values() for action in one._actions if isinstance(action.metavar, str)]
    assert {word for name in named for word in re.findall("[A-Z]{2,}", name)} <= SLOTS
    text.install(languages.catalogue("es"))
    spanish = dict(leaves(build_parser()))["log fault"].format_help()
    assert "--by NOMBRE" in spanish
    assert not set(re.findall(r"\b[A-Z]{3,}\b", spanish)) & (SLOTS - {"PLAN"})
    with pytest.raises(Problem, match="PARTE"):
        parse(["log", "fault", "T01"])
    assert asked("--machine", "T01", "due")["machine"] == "T01"

"""`begin`: the first day of a register: its first supervisor, its machines, the runs of the season, and when services
were last done."""

from __future__ import annotations

import argparse
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.keep import bring
from reelcare.cli.plan import machines
from reelcare.cli.problem import Problem
from reelcare.core.clean import clean
from reelcare.core.text import _, plural
from reelcare.register.acts import people
from reelcare.register.exchange import run_logs
from reelcare.register.writing.writer import Writer


def begin(asked: argparse.Namespace) -> int:
    """Enrol the first supervisor and bring machines, runs and dates of services in; what is wrong with a file leaves
    nothing of it, and nobody enrolled. On a terminal it asks for what is left out."""
    supervisor = clean(asked.supervisor or _ask(_("Your name, the first supervisor: ")))
    if not supervisor:
        raise Problem(_("say who is the first supervisor: --supervisor NAME"))
    listed = asked.machines or _ask(_("A list of machines (.csv, .xlsx; Enter for none): "))
    runs = asked.runs or _ask(_("Runs of the season (.csv, .xlsx; Enter for none): "))
    done_file = asked.last_done or _ask(_("When services were last done (.csv, .xlsx; Enter for none): "))
    asked.matching = asked.matching or (
        _ask(_("A file that matches their columns (.toml; Enter for none): ")) if listed or runs or done_file else ""
    )
    for name in (listed, runs, done_file, asked.matching):
        if name and not Path(name).expanduser().is_file():
            raise Problem(_("{path}: no such file", path=name))
    with common.open_register(asked) as register:
        if register.roles():
            raise Problem(_("somebody is enrolled here already; `begin` is for a register without people"))
        with register.writing():
            now = common.now()
            people.enrol(register, supervisor, "supervisor", by=supervisor, now=now)
            added = machines.bring_list(asked, register, Path(listed), by=supervisor) if listed else None
            done = _bring(asked, register, runs, supervisor) if runs else None
            if done_file:
                bring.last_done(asked, register, done_file, by=supervisor, quiet=True)
        machine_count = len(register.machine_ids())
    if added is not None:
        machines.tell_list(added)
    common.say(_("{name} is enrolled as supervisor", name=supervisor))
    if done is not None:
        common.say_brought(plural("{n} run brought in", "{n} runs brought in", done.brought), done.skipped)
    if asked.json:
        common.print_json({"supervisor": supervisor, "machines": machine_count, "runs": done.brought if done else 0})
    return 0


def _bring(asked: argparse.Namespace, register: Writer, file: str, by: str) -> run_logs.Brought:
    done = bring.bring_runs(asked, register, file, by=by)
    if done.bad:
        raise Problem(
            plural(
                "{path}: {n} line has an error; nothing was begun", "{path}: {n} lines have errors; nothing was begun",
                len(done.bad), path=file,
            )
        )  # fmt: skip
    return done


def _ask(question: str) -> str:
    return common.ask(question) if common.can_ask() else ""

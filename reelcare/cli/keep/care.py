"""`rebuild`, `prove`, `sheets` and `paths`: looking after a register."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from reelcare import files
from reelcare.cli import common
from reelcare.cli.table import TextColumn
from reelcare.core.checks.sheet_lint import lint
from reelcare.core.text import _, mark, plural
from reelcare.core.wording import said
from reelcare.register import sheets as loading
from reelcare.register.database.opening import shown
from reelcare.register.proof import proving

SHEETS = (mark("sheet"), mark("for"), TextColumn(mark("questions"), 2, figures=True), mark("title"))


def rebuild(asked: argparse.Namespace) -> int:
    """Work the totals out again."""
    with common.open_register(asked, create=False) as register:
        wrong = register.rebuild()
    if asked.json:
        common.print_json({"changed": wrong})
    elif wrong:
        for line in wrong:
            common.print_text(line)
    else:
        common.say(_("computed again: nothing changed"))
    return 1 if wrong else 0


def prove(asked: argparse.Namespace) -> int:
    """Prove the register whole."""
    with common.open_register(asked) as register:
        proof = proving.prove(register, common.tell_how_far(_("proving")))
    if asked.json:
        heads, findings = ([asdict(one) for one in some] for some in (proof.heads, proof.findings))
        common.print_json({
            "whole": proof.whole, "entries": proof.entries, "heads": heads, "findings": findings,
            "not_looked_at": list(proof.not_looked_at),
        })  # fmt: skip
    else:
        for one in proof.findings:
            common.print_text(f"{one.place}: {one.what}")
        for text in proof.not_looked_at:
            common.print_text(_("not checked: {text}", text=text))
        for head in proof.heads:
            common.print_text(
                plural(
                    "terminal {terminal}: {n} entry, head {digest}",
                    "terminal {terminal}: {n} entries, head {digest}",
                    head.count,
                    terminal=head.terminal,
                    digest=head.digest[:16],
                )
            )
        common.say(
            plural("{n} entry: intact", "{n} entries: intact", proof.entries)
            if proof.whole
            else plural("{n} entry: DAMAGED", "{n} entries: DAMAGED", proof.entries)
        )
    return 0 if proof.whole else 5


def sheets(asked: argparse.Namespace) -> int:
    """The sheets, and what is wrong with any of them or with the tables beside them."""
    found = loading.load()
    problems = [*found.problems, *loading.table_problems()]
    known = found.by_id.values()
    if asked.json:
        told = [
            {"id": one.id, "title": dict(one.title), "for": one.checks_for, "questions": len(one.questions),
             "think_over": lint(one)}
            for one in known
        ]  # fmt: skip
        common.print_json({"sheets": told, "problems": problems})
    else:
        language = common.language(asked)
        rows = [(one.id, one.checks_for, str(len(one.questions)), said(one.title, language)) for one in known]
        common.print_table(SHEETS, rows)
        for one in known:
            for text in lint(one):
                common.print_text(_("{id}: to think over: {text}", id=one.id, text=text))
        for problem in problems:
            common.say(problem)
    return 1 if problems else 0


def paths(asked: argparse.Namespace) -> int:
    """Where things are kept."""
    told = {
        "register": shown(common.where(asked)),
        "own_sheets": str(files.config_folder() / loading.OWN),
        "shipped_sheets": str(files.folder("checklists")),
        "demo": str(files.folder("demo")),
    }
    if asked.json:
        common.print_json(told)
    else:
        for name, path in told.items():
            common.print_text(f"{name:<16}{path}")
    return 0

"""What a word that is no command or no option was probably meant to be."""

from __future__ import annotations

from collections.abc import Iterable

COMMANDS = {
    "list": "yard", "status": "yard", "machines": "yard", "fleet": "yard", "standing": "yard", "ls": "yard",
    "overdue": "due --overdue", "tasks": "due", "todo": "due", "next": "due",
    "schedule": "workload", "weeks": "workload", "calendar": "report due", "print": "report", "export": "report",
    "history": "book", "show": "machine", "card": "machine", "add": "machine add", "new": "machine add",
    "revise": "machine revise", "edit": "machine revise", "users": "people", "person": "people", "pin": "people pin",
    "unlock": "people unlock", "enrol": "people add", "init": "begin", "start": "begin",
    "inspect": "check", "inspection": "check", "walk": "check", "walk-round": "check", "pre-start": "check",
    "settings": "set-up", "set": "set-up", "setup": "set-up", "steps": "may", "can": "may",
    "import": "bring", "load": "bring", "sync": "carry", "merge": "carry in", "send": "carry out",
    "backup": "copy", "save": "copy", "verify": "prove", "diagnose": "health",
    "web": "serve", "browser": "serve", "undo": "log correct", "delete": "log correct", "remove": "log correct",
    "cancel": "log correct", "run": "log run", "service": "log service", "fault": "log fault", "repair": "log repair",
    "note": "log note", "reading": "log reading", "release": "log release", "retest": "log retest",
    "config": "paths", "where": "paths", "version": "--version", "help": "--help",
}  # fmt: skip
"""Words that people try first, and the command line that does it."""
OPTIONS = {
    "--notes": "--note", "--comment": "--note", "--gun": "--gun-pressure", "--to": "--until", "--since": "--from",
    "--dry-run": "--look", "--force": "--replace", "--limit": "--most", "--count": "--most", "--days": "--within",
    "--read-only": "--view", "--db": "--register", "--database": "--register", "--lang": "--language",
    "--user": "--by", "--date": "--at", "--time": "--at", "--tag": "--machine", "--text": "--says", "--seen": "--says",
}  # fmt: skip
"""Options that people try first, and what they are called here; only what the command takes is suggested."""
LONGEST = 40
"""Longest word [characters] that is compared with the known ones."""


def command(word: str, names: Iterable[str], group: str = "") -> str:
    """The command line that was probably meant by a word, without `reelcare`; '' where nothing is near.

    `group` is the command whose kinds the `names` are; then the first word is none of them.

    >>> command("status", ["yard", "due"]), command("yrad", ["yard", "due"]), command("xyz", ["yard"])
    ('yard', 'yard', '')
    >>> command("fau", ["run", "fault"], "log")
    'log fault'
    """
    if not group and word.lower() in COMMANDS:
        return COMMANDS[word.lower()]
    found = _nearest(word, names if group else [*names, *COMMANDS])
    return f"{group} {found}" if group and found else COMMANDS.get(found, found)


def option(word: str, names: Iterable[str]) -> str:
    """The option that was probably meant by one that is not taken; '' where nothing is near.

    >>> option("--notes", ["--note"]), option("--overdu", ["--overdue"]), option("--notes", ["--by"])
    ('--note', '--overdue', '')
    """
    names = list(names)
    meant = OPTIONS.get(word, "")
    # the dashes alone would make any two short ones alike
    return meant if meant in names else _nearest(word.lstrip("-"), (one.removeprefix("--") for one in names), "--")


def _nearest(word: str, names: Iterable[str], prefix: str = "") -> str:
    if len(word) > LONGEST:
        return ""
    from difflib import get_close_matches

    names, word = list(names), word.lower()
    longer = [one for one in names if word and one.startswith(word)]
    found = longer if len(longer) == 1 else get_close_matches(word, names, n=1)
    return prefix + found[0] if found else ""

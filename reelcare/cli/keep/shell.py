"""`completion`: what a shell needs to complete commands, options, tags and names.

The rules of this file: the scripts come from the table of commands (by shtab), so they never differ from it. Names
in the register or among the sheets are asked of `completion tags`, `people` and `sheets` while one types, which must be
quick and must never fail loudly. Names come from other people, and a shell runs what it is given: no shell gets
one to evaluate, and those with signs that a shell has a meaning for are not offered at all.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from reelcare.cli import common
from reelcare.cli.parser import build_parser

LISTS = ("tags", "people", "sheets")
"""What can be asked for beside the scripts."""
SIGNS = "-._' "
"""Signs that a name can have, beside letters and figures, to be offered."""
ASKS = {
    "bash": """
_reelcare_{what}() {{
  local name
  while IFS= read -r name; do
    if [[ "$name" == "$1"* ]]; then printf '%q\\n' "$name"; fi
  done < <(reelcare completion {what} 2>/dev/null)
}}
""",
    "zsh": """
_reelcare_{what}() {{
  local -a names
  names=(${{(f)"$(reelcare completion {what} 2>/dev/null)"}})
  compadd "$@" -a names
}}
""",
}
"""How a shell asks for a list, a name to a line: nothing of it is expanded, and what is typed in gets its quotes."""
FILES = {"file", "path", "card", "use", "runs"}
"""Arguments that name files."""


def completion(asked: argparse.Namespace) -> int:
    """Print a script for a shell, or names that are in the register."""
    if asked.what in LISTS:
        for one in _sheets() if asked.what == "sheets" else _names(asked):
            if _is_harmless(one):
                print(one)
        return 0
    import shtab

    asks = "".join(ASKS.get(asked.what, "").format(what=what) for what in LISTS)
    script = shtab.complete(_marked(build_parser()), shell=asked.what, preamble=asks)
    print(_to_be_sourced(script) if asked.what == "zsh" else script)
    return 0


def _to_be_sourced(script: str) -> str:
    """A script of zsh that registers itself however it is read, by `source` too, and where compinit was not run yet."""
    begins = "if [[ $zsh_eval_context[-1] == eval ]]; then"
    if begins not in script:
        raise LookupError(begins)  # the library writes scripts of zsh in another way now: mend this function
    loaded = "(( $+functions[compdef] )) || { autoload -Uz compinit && compinit -u }"
    instead = f"{loaded}\nif [[ $zsh_eval_context[-1] == (eval|file) ]]; then"
    return script.replace(begins, instead)


def _is_harmless(name: str) -> bool:
    """Whether no shell can take a name for anything but a name.

    >>> [_is_harmless(name) for name in ("R7", "Łucja O'Neil", "$(ls)", "-x", "a`b`", "a;b", "~")]
    [True, True, False, False, False, False, False]
    """
    return not name.startswith("-") and all(sign.isalnum() or sign in SIGNS for sign in name)


def _list(what: str) -> dict[str, Any]:
    """What stands for an argument that is one of a list, shell by shell."""
    import shtab

    own = f"_reelcare_{what}"
    return {**shtab.cmd(f"reelcare completion {what}"), "bash": own, "zsh": own}


def _sheets() -> list[str]:
    from reelcare.register import sheets

    try:
        return sorted(sheets.load().by_id)
    except OSError:
        return []


def _names(asked: argparse.Namespace) -> list[str]:
    from reelcare.register.errors import RegisterError
    from reelcare.register.opening import open_reader

    where = common.where(asked)
    if not isinstance(where, Path):
        return []  # a server may keep whoever types waiting
    try:
        with open_reader(where) as register:
            return list(register.tags().values()) if asked.what == "tags" else sorted(register.roles())
    except (RegisterError, OSError, ValueError):
        return []  # a shell that completes is no place to tell what is wrong


def _marked(parser: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """The parser, with what stands for each argument."""
    import shtab

    def mark(one: Any) -> None:
        for action in one._actions:
            if isinstance(action, argparse._SubParsersAction):
                for sub in action.choices.values():
                    mark(sub)
            elif action.dest in ("tag", "machine", "open_on", "check"):
                action.complete = _list("tags")
            elif action.dest == "sheet":
                action.complete = _list("sheets")
            elif action.dest in ("by", "operator"):
                action.complete = _list("people")
            elif action.dest in FILES or action.dest == "register":
                action.complete = shtab.FILE

    mark(parser)
    return parser

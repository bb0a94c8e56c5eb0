"""The command line: parse, call one function, print.

The rules of this room: data goes to standard output, words about it to standard error; every failure is one
line and an exit code (CONTRACTS: 2 wrong use, 3 no register of ours, 4 busy, 5 damaged, 6 not allowed, 7 disk).
Nothing heavy is imported before it is needed; the terminal app is started by one deferred import.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from collections.abc import Sequence
from itertools import pairwise

from reelcare import languages
from reelcare.cli import common
from reelcare.cli.parser import parse
from reelcare.cli.problem import Problem
from reelcare.cli.table import in_lines
from reelcare.cli.terminal import columns, shortened
from reelcare.core import text
from reelcare.core.clean import clean
from reelcare.core.text import _

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code."""
    # a command is short, and what an app makes while it starts stays: collecting garbage meanwhile only costs time
    gc.disable()
    try:
        return _run(sys.argv[1:] if arguments is None else arguments)
    finally:
        gc.enable()
        text.install()


def _run(words: Sequence[str]) -> int:
    _make_streams_safe()
    try:
        languages.install(_language(words))
        asked = parse(words)
        if made := asked.makes and getattr(asked, asked.makes):
            common.stop_without_folder(made)
        common.refuse_wrong_times(asked)
        code = int(asked.run(asked) or 0)
        sys.stdout.flush()
        return code
    except Problem as why:
        return _fail(str(why), why.exit_code)
    except KeyboardInterrupt:
        return _fail(_("stopped"), 130)
    except BrokenPipeError:
        # the reader has closed its end (as `| head` does); what is left unsaid is not an error
        _say_no_more()
        return 0
    except OSError as why:
        _say_no_more()
        name, says = why.filename or _("what it says"), why.strerror or why
        told = _("{filename}: cannot be read or written ({strerror})", filename=name, strerror=says)
        return _fail(told, getattr(why, "exit_code", 7))
    except UnicodeEncodeError:
        return _fail(_("this locale lacks some letters: set a UTF-8 one, as in LC_ALL=C.UTF-8"), 2)
    except ValueError as why:
        return _fail(str(why), 2)
    except Exception as why:
        exit_code = getattr(why, "exit_code", None)
        if exit_code is None:
            raise
        return _fail(str(why), int(exit_code))


def _language(words: Sequence[str]) -> str:
    """The language of all that is said, known before the words are read; data for other programs are English."""
    if "--json" in words:
        return "en"
    said = [after for word, after in pairwise(words) if word == "--language"]
    said += [word.partition("=")[2] for word in words if word.startswith("--language=")]
    known = [language for language in said if language in languages.LANGUAGES]
    return languages.wished(known[-1] if known else "")


def _make_streams_safe() -> None:
    """A stream that is closed (as by `>&-`) leads nowhere; a sign that a locale has not is written as its number."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:
            # it takes the lowest free number, so that no file of ours is opened as 0, 1 or 2 and written to by others
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115  # as long as the process
        elif mode == "w" and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _say_no_more() -> None:
    """Send standard output nowhere, so that the flush at the end of the process cannot fail once more."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _fail(says: str, code: int) -> int:
    told = "reelcare: " + shortened(" ".join(clean(says, lines=True).split()))
    if sys.stderr.isatty():
        told = "\n".join(in_lines(told, columns()))
    with contextlib.suppress(OSError):
        print(told, file=sys.stderr)
    return code

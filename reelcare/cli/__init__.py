"""The command line: parse, call one function, print.

The rules of this room: data goes to standard output, words about it to standard error; every failure is one
line and an exit code (CONTRACTS: 2 wrong use, 3 no register of ours, 4 busy, 5 not whole, 6 not allowed, 7 disk).
Nothing heavy is imported before it is needed; the terminal app is started by one deferred import.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

from reelcare.cli.parser import Problem, build_parser

__all__ = ["build_parser", "main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code."""
    # a command is short, and what an app makes while it starts stays: collecting garbage meanwhile only costs time
    gc.disable()
    try:
        return _run(arguments)
    finally:
        gc.enable()


def _run(arguments: Sequence[str] | None) -> int:
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        words = sys.argv[1:] if arguments is None else arguments
        asked = build_parser(words).parse_args(words)
        code = int(asked.run(asked) or 0)
        sys.stdout.flush()
        return code
    except Problem as why:
        return _fail(str(why), why.exit_code)
    except KeyboardInterrupt:
        return _fail("stopped", 130)
    except BrokenPipeError:
        # the reader has closed its end (as `| head` does); what is left unsaid is not an error
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except ValueError as why:
        return _fail(str(why), 2)
    except Exception as why:
        exit_code = getattr(why, "exit_code", None)
        if exit_code is None:
            raise
        return _fail(str(why), int(exit_code))


def _fail(says: str, code: int) -> int:
    print(f"reelcare: {' '.join(says.split())}", file=sys.stderr)
    return code

"""`serve`: the app in a browser."""

from __future__ import annotations

import argparse
from importlib.util import find_spec
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.parser import Problem
from reelcare.register.register import Register

LOOPBACK = ("127.0.0.1", "localhost", "::1")


def serve(asked: argparse.Namespace) -> int:
    """Serve the app until it is stopped."""
    if find_spec("textual_serve") is None:
        raise Problem("the app in a browser needs the extra `serve`: pip install 'reelcare[serve]'")
    where = common.where(asked)
    Register(where, create=False).close()  # what is wrong with it is told here, not in every browser
    if asked.host not in LOOPBACK:
        common.say(
            f"take heed: {asked.host} can be reached by others, and what passes is not encrypted; "
            "better leave it on 127.0.0.1 and reach it through a tunnel (ssh -L)"
        )
    common.say("writing is allowed" if asked.write else "to look only; --write allows writing")
    from reelcare.tui.serve import serve as start

    options = ["--units", common.system(asked), "--language", common.language(asked)]
    place = where.resolve() if isinstance(where, Path) else where
    try:
        start(place, asked.host, asked.port, writes=asked.write, options=options, tell=common.say)
    except OSError as why:
        raise Problem(f"port {asked.port}: cannot be had ({why.strerror or why}); name another with --port") from None
    return 0

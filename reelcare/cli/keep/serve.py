"""`serve`: the app in a browser."""

from __future__ import annotations

import argparse
import gc
from importlib.util import find_spec
from pathlib import Path

from reelcare.cli import common
from reelcare.cli.problem import Problem
from reelcare.core.text import _, mark
from reelcare.installation import adds
from reelcare.register.opening import open_writer


def serve(asked: argparse.Namespace) -> int:
    """Serve the app until it is stopped."""
    if find_spec("textual_serve") is None:
        raise Problem(_("the app in a browser needs the extra `serve`: {adds}", adds=adds("serve")))
    from reelcare.tui.browser.server import is_everywhere, is_loopback
    from reelcare.tui.browser.server import serve as start

    if asked.write and asked.view:
        raise Problem(_("--view and --write: view only, or write; not both"))
    if is_everywhere(asked.host):
        raise Problem(
            _("--host {host}: name one address of this computer, by which the tablet reaches it", host=asked.host)
        )
    where = common.where(asked)
    common.stop_without_register(where)
    # what is wrong with it is told here, not in every browser
    open_writer(where, create=False, read_only=not asked.write).close()
    first = [_("writing is allowed") if asked.write else _("view only; --write allows writing")]
    if not is_loopback(asked.host):
        says = mark(
            "warning: others can reach {host}, and nothing is encrypted; it is safer on 127.0.0.1, "
            "through a tunnel (ssh -L)"
        )
        first.insert(0, _(says, host=asked.host))

    def tell(text: str) -> None:
        while first:  # only once it is served: where it cannot be, one line says so and nothing else
            common.say(first.pop(0))
        common.say(text)

    place = where.resolve() if isinstance(where, Path) else where
    gc.enable()  # it runs for days, not for a moment as other commands do
    try:
        start(place, asked.host, asked.port, writes=asked.write, options=_options(asked), tell=tell)
    except OSError as why:
        says = mark("{host} port {port} cannot be used ({strerror}); name another (--port, --host)")
        raise Problem(_(says, host=asked.host, port=asked.port, strerror=why.strerror or why)) from None
    return 0


def _options(asked: argparse.Namespace) -> list[str]:
    """How each app is started: as this person wants it."""
    options = ["--units", common.system(asked), "--language", common.language(asked)]
    if asked.open_on:
        options += ["--machine", asked.open_on]
    return options + [f"--{name}" for name in ("slow", "ascii") if getattr(asked, name)]

#!/usr/bin/env python3
"""The two commands of Reelcare, the same on Linux, macOS and Windows:

    python3 start.py          opens the app on a demo register (`py start.py` on Windows)
    python3 start.py test     passes the tests

Any other words are a command of Reelcare's own: `python3 start.py yard --json`.

The rule of this file: it is written so that every Python, however old, can read it and say which one is needed.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 -- the very thing this file is for
    sys.stderr.write(
        "start.py: Reelcare needs Python 3.11 or newer; this is Python %d.%d. "  # noqa: UP031
        "Install a newer one, or name it: python3.11 start.py\n" % tuple(sys.version_info[:2])
    )
    sys.exit(2)

from environment import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

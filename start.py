#!/usr/bin/env python3
"""The commands of Reelcare in a checkout, the same on Linux, macOS and Windows (where it is `py start.py`):

    python3 start.py                    opens your own register, or a demo where you have none
    python3 start.py test               runs the tests
    python3 start.py --with serve,pdf   installs extras: pdf, postgres, serve, xlsx

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

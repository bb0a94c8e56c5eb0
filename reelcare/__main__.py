"""`python -m reelcare` is the same as the command `reelcare`."""

from reelcare.cli import main

raise SystemExit(main())

"""The one exception by which the command line tells a person what to put right."""

from __future__ import annotations


class Problem(Exception):
    """Something that the person has to put right: one line, and the exit code (CONTRACTS, exit codes)."""

    def __init__(self, says: str, exit_code: int = 2) -> None:
        super().__init__(says)
        self.exit_code = exit_code

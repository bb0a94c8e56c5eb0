"""What can go wrong with a register, each with the exit code that CONTRACTS gives it and one clear line."""

from __future__ import annotations


class RegisterError(Exception):
    """Something about the register: `str()` is one line that names the place and the cure."""

    exit_code = 2


class Refused(RegisterError):
    """An entry that cannot be right; nothing was written."""

    exit_code = 2


class NotThere(RegisterError):
    """No register where one was named, or a file that is not one of ours (left as it was)."""

    exit_code = 3


class Busy(RegisterError):
    """Another program holds the register; what was typed is not saved."""

    exit_code = 4


class NotWhole(RegisterError):
    """The register is damaged."""

    exit_code = 5


class NotAllowed(RegisterError):
    """The person named may not do this."""

    exit_code = 6


class CannotWrite(RegisterError):
    """The disk is full or read-only."""

    exit_code = 7

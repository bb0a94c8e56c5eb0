"""What can go wrong with a register, each with the exit code that CONTRACTS gives it and one clear line."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reelcare.core.text import _, mark


class RegisterError(Exception):
    """Something about the register: `str()` is one line that names the place and the cure."""

    exit_code = 2


class Refused(RegisterError):
    """An entry that cannot be right; nothing was written."""


class Over(Refused):
    """What is gone on with has ended, or somebody else has begun it; nothing was written."""


class ClockBehind(Refused):
    """A signature while this computer's clock is behind the last entry of its terminal; nothing was written."""


class NotThere(RegisterError):
    """No register where one was named, or a file that is not one of ours (left as it was)."""

    exit_code = 3


class Busy(RegisterError):
    """Another program holds the register; what was typed is not saved."""

    exit_code = 4


class Damaged(RegisterError):
    """A register, a copy or a carry file is damaged."""

    exit_code = 5


class NotAllowed(RegisterError):
    """The person named may not do this."""

    exit_code = 6


class CannotWrite(RegisterError):
    """The disk is full or read-only."""

    exit_code = 7


@contextmanager
def from_a_file(path: Path, raises: type[Exception] = Refused) -> Iterator[None]:
    """Turns what the system says of a file that is read into plain words."""
    try:
        yield
    except FileNotFoundError:
        raise raises(_("{path}: no such file", path=path)) from None
    except IsADirectoryError:
        raise raises(_("{path}: a folder, not a file", path=path)) from None
    except OSError as why:
        raise raises(_("{path}: cannot be read ({strerror})", path=path, strerror=why.strerror)) from None


@contextmanager
def into_a_file(path: Path, *, made: str = mark("made here"), cure: str = mark("name another file")) -> Iterator[None]:
    """Turns what the system says of a file that is made into plain words: Refused where the name is taken, CannotWrite
    where it cannot be `made`."""
    try:
        yield
    except FileExistsError:
        raise Refused(_("{path}: exists already; {cure}", path=path, cure=_(cure))) from None
    except OSError as why:
        raise CannotWrite(
            _("{path}: cannot be {made} ({strerror})", path=path, made=_(made), strerror=why.strerror or why)
        ) from None

"""Makes the project's own environment in `.venv`, and runs Reelcare or its tests in it; `start.py` is its door.

The rules of this file: the standard library only, since it runs before anything is installed; every failure is one
line and an exit code, and never leaves an environment that looks finished. A stamp in `.venv` says what it was made
for; where the stamp does not fit, the environment is brought up to date or made again. Extras that were asked for once
(`--with pdf`) are noted in `.venv`, and come again with every environment that is made here. Versions are those of
`constraints.txt`, so that a first installation is the same on every day.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
import sysconfig
import tomllib
import venv
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

Level = Literal["app", "test"]

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "reelcare-stamp"
LOG = VENV / "pip.log"
EXTRAS = VENV / "reelcare-extras"
CONSTRAINTS = "constraints.txt"
NEWEST_PYTHON = (3, 14)
"""The newest Python whose packages `constraints.txt` names; for a newer one what fits is fetched."""
UNFINISHED = "unfinished"
QUICK = ("-n", "auto", "--maxprocesses", "4")
BECOMES = os.name == "posix"
"""Whether a program can become another; where it cannot, it waits for the other's end."""
DISK = 7
INTERRUPTED = 130


class Stop(Exception):
    """Why it cannot go on, in one line, and the exit code."""

    def __init__(self, says: str, code: int = 1) -> None:
        super().__init__(says)
        self.code = code


def main(arguments: Sequence[str]) -> int:
    """Make the environment ready and run what was asked for in it."""
    try:
        words = list(arguments)
        if words[:1] == ["--with"] or (words and words[0].startswith("--with=")):
            words = _take_extras(words)
            if not words:
                ready("app")
                _say(f"there: {', '.join(sorted(extras()))}")
                return 0
        if words[:1] == ["test"]:
            return _run([str(ready("test")), "-m", "pytest", *QUICK, *words[1:]], ROOT)
        return _run([str(ready("app")), "-P", "-m", "reelcare", *(words or ["demo", "--if-none"])], Path.cwd())
    except Stop as why:
        return _fail(str(why), why.code)
    except KeyboardInterrupt:
        return _fail("stopped; the same command begins again", INTERRUPTED)
    except OSError as why:
        return _fail(*_disk(why))


def extras() -> set[str]:
    """The extras that were asked for in this checkout."""
    return set(EXTRAS.read_text("utf-8").split()) if EXTRAS.is_file() else set()


def _take_extras(words: list[str]) -> list[str]:
    """Note the extras that `--with` names, beside those noted before; gives the words after it. Raises Stop."""
    known = set(tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"])
    known.discard("test")
    option, _equals, named = words[0].partition("=")
    rest = words[1:]
    if not named and rest:
        named, *rest = rest
    wanted = {one.strip() for one in named.split(",") if one.strip()}
    if not wanted or not wanted <= known:
        wrong = ", ".join(sorted(wanted - known)) or "nothing"
        raise Stop(f"{option} {wrong}: right are {', '.join(sorted(known))}, with commas between them", 2)
    VENV.mkdir(exist_ok=True)
    EXTRAS.write_text("\n".join(sorted(wanted | extras())), "utf-8")
    return rest


def ready(level: Level) -> Path:
    """The Python of an environment that has all that the level needs. Raises Stop."""
    if STAMP.is_file() and python().exists():
        stamp = STAMP.read_text("utf-8")
        if stamp == stamp_for(level) or stamp == stamp_for("test"):
            return python()
    _say(f"making the environment in {VENV} (once; needs the network and a minute or two)")
    if not _works():
        _create()
    STAMP.write_text(UNFINISHED, "utf-8")
    _install(level)
    # an installation that is used where it lies is compiled by nobody else; without, every start would do it again
    _output([str(python()), "-m", "compileall", "-q", str(ROOT / "reelcare")])
    STAMP.write_text(stamp_for(level), "utf-8")
    return python()


def python() -> Path:
    """Where the environment's own Python stands."""
    return VENV / "Scripts" / "python.exe" if os.name == "nt" else VENV / "bin" / "python"


def stamp_for(level: Level) -> str:
    """What the stamp of a finished environment says: its level, and a digest of all that it depends on."""
    digest = hashlib.sha256()
    catalogues = sorted(ROOT.glob("reelcare/locale/*/LC_MESSAGES/*.po"))
    for path in (ROOT / "pyproject.toml", ROOT / "hatch_build.py", ROOT / CONSTRAINTS, *catalogues):
        digest.update(path.read_bytes())
    digest.update(" ".join(sorted(extras())).encode())
    # an environment does not survive a move of its folder, nor another Python
    for word in (sys.version, sysconfig.get_platform(), str(ROOT)):
        digest.update(word.encode("utf-8", "surrogateescape"))
    return f"{level} {digest.hexdigest()}"


def _works() -> bool:
    """Whether there is an environment of this very Python that was not left half made."""
    if not python().exists() or (STAMP.is_file() and STAMP.read_text("utf-8") == UNFINISHED):
        return False
    try:
        told = _output([str(python()), "-I", "-c", "import sys; print(sys.version)"])
    except OSError:
        return False
    return told[0] == 0 and told[1].strip() == sys.version


def _create() -> None:
    """A bare environment, in place of whatever is there."""
    if find_spec("ensurepip") is None:
        raise Stop(
            "this Python cannot make an environment (its ensurepip is missing); "
            "on Debian and Ubuntu `apt install python3-venv` brings it"
        )
    if Path(sys.prefix).resolve() == VENV.resolve():
        raise Stop("the environment has to be made again, but this Python runs in it; leave it (`deactivate`) first")
    if VENV.is_symlink() or VENV.is_file():
        raise Stop(f"{VENV} is not a folder; remove it and start again")
    noted = extras()
    if VENV.exists():
        shutil.rmtree(VENV)
    VENV.mkdir()
    if noted:
        EXTRAS.write_text("\n".join(sorted(noted)), "utf-8")
    STAMP.write_text(UNFINISHED, "utf-8")
    venv.EnvBuilder(symlinks=os.name != "nt").create(VENV)


def _install(level: Level) -> None:
    """Everything that the level needs, and Reelcare itself as it lies here."""
    wanted = extras() if level == "app" else {*extras(), "test"}
    here = f".[{','.join(sorted(wanted))}]" if wanted else "."
    inside = [str(python()), "-I"]
    if _output([*inside, "-c", "import pip"])[0] != 0:
        _step([*inside, "-m", "ensurepip"])
    same = ["-c", str(ROOT / CONSTRAINTS)] if sys.version_info[:2] <= NEWEST_PYTHON else []
    how = ["--disable-pip-version-check", "--no-input", "--retries", "2", *same]
    _step([*inside, "-m", "pip", "install", *how, "-e", here])
    needed = "reelcare.cli, textual, peewee" + (", pytest, xdist, hypothesis" if level == "test" else "")
    _step([*inside, "-c", f"import {needed}"])


def _step(command: Sequence[str]) -> None:
    code, told = _output(command)
    if code == 0:
        return
    try:
        LOG.write_text(told, "utf-8", "replace")
    except OSError:
        raise Stop(*_why(told)) from None
    says, exit_code = _why(told)
    raise Stop(f"{says} (all that was said is in {LOG})", exit_code)


def _why(told: str) -> tuple[str, int]:
    """What the words of a failed step come down to, and the exit code."""
    if re.search(r"No space left|Errno 28\b|WinError 112\b|not enough space", told):
        return "the disk is full; the environment needs about 500 MB", DISK
    if re.search(r"Errno (13|30)\b|Read-only file system|Permission denied", told):
        return f"may not write in {ROOT}, or the disk is read-only", DISK
    unreached = (
        r"NewConnectionError|ConnectTimeout|ReadTimeout|ConnectionError|ProxyError|SSLError|getaddrinfo|name resolution"
        r"|Max retries exceeded|[Tt]imed out|Network is unreachable|Could not find a version|No matching distribution"
    )
    if re.search(unreached, told):
        return "cannot fetch what Reelcare is built on: no network, or the package index is out of reach", 1
    lines = [line.strip() for line in told.splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR:")] or lines[-1:] or ["it said nothing"]
    return f"the environment could not be made: {errors[-1].removeprefix('ERROR:').strip()}", 1


def _disk(why: OSError) -> tuple[str, int]:
    """What an error of the system comes down to, and the exit code."""
    named = str(why.filename or "")
    where = f"{named if os.path.isabs(named) else VENV}: "
    if why.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{where}the disk is full", DISK
    if why.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"{where}may not write here, or the disk is read-only", DISK
    return f"{where}{why.strerror or why}", 1


def _output(command: Sequence[str]) -> tuple[int, str]:
    """Run something quietly: its exit code and all that it said."""
    done = subprocess.run(
        command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        text=True, errors="replace", check=False, env={**os.environ, "PIP_USER": "0"},
    )  # fmt: skip
    return done.returncode, done.stdout


def _run(command: Sequence[str], folder: Path) -> int:
    """Become the command, or run it and give its exit code."""
    os.chdir(folder)
    if BECOMES:
        os.execv(command[0], list(command))
    # the command deals with Ctrl-C itself; a handler (unlike SIG_IGN) is not handed down to it
    signal.signal(signal.SIGINT, lambda *_: None)
    return subprocess.run(command, check=False).returncode


def _say(text: str) -> None:
    print(f"start.py: {text}", file=sys.stderr, flush=True)


def _fail(text: str, code: int) -> int:
    _say(" ".join(text.split()))
    return code

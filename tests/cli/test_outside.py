"""What is outside of the program and goes wrong: pipes that close, locales without UTF-8, folders that cannot be
written to, names of any kind, full disks. Each is one line and an exit code, and no half file is left.

Real processes where the system itself takes part; a folder without rights is one by the kernel's rule, also for root,
whose right to pass it by (CAP_DAC_OVERRIDE, capabilities(7)) is laid down meanwhile.
"""

import ctypes
import errno
import json
import os
import subprocess
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from reelcare import files
from reelcare.core.clean import clean, from_locale_bytes
from reelcare.reports import report_file, tag

ROOT = Path(__file__).parents[2]
KINDS = [
    *[(kind, ending) for kind in ("machine", "check", "due", "workload", "season") for ending in (".html", ".pdf")],
    ("due", ".csv"), ("due", ".ics"), ("workload", ".csv"), ("tag", ".svg"), ("tag", ".png"), ("tag", ".pdf"),
]  # fmt: skip
LATIN = {"PYTHONIOENCODING": "latin-1"}
PLAIN = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="devices and capabilities of Linux")


def words(kind: str, file: Path | str) -> list[str]:
    return ["report", kind, *(["R1"] if kind in ("machine", "check", "tag") else []), str(file)]


@pytest.fixture
def checked(farm: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The farm, with a check begun, so that there is something to report of every kind."""
    typed = iter(["1", "1", "", "1", ""])
    with monkeypatch.context() as typing:
        typing.setattr("builtins.input", lambda _="": next(typed))
        assert "\n3/" in farm("check", "R1", "--by", "Olav").out
    return farm


def process(*said: str, script: str = "", more: dict[str, str] | None = None, **how: Any) -> Any:
    run = ["-c", script] if script else ["-m", "reelcare"]
    outside = {"PYTHONPATH": str(ROOT), **(more or {})}
    how = {"capture_output": True, **how}
    return subprocess.run([sys.executable, *run, *said], env={**os.environ, **outside}, check=False, **how)


@contextmanager
def without_roots_right() -> Iterator[None]:
    """As one to whom a folder's mode applies: root's own right to pass it by is laid down, and taken up again."""
    if os.geteuid() != 0:
        yield
        return
    libc = ctypes.CDLL(None, use_errno=True)
    head = (ctypes.c_uint32 * 2)(0x20080522, 0)  # _LINUX_CAPABILITY_VERSION_3, this thread
    had, less = (ctypes.c_uint32 * 6)(), (ctypes.c_uint32 * 6)()
    assert libc.capget(head, had) == 0
    less[:] = [*had]
    less[0] = had[0] & ~0b110  # effective, without CAP_DAC_OVERRIDE (1) and CAP_DAC_READ_SEARCH (2)
    assert libc.capset(head, less) == 0
    try:
        yield
    finally:
        assert libc.capset(head, had) == 0


@pytest.fixture
def shut(tmp_path: Path) -> Iterator[Path]:
    """A folder that is there and may be looked into, but not written to."""
    folder = tmp_path / "shut"
    folder.mkdir()
    folder.chmod(0o500)
    yield folder
    folder.chmod(0o700)


@pytest.mark.long
@linux
def test_no_report_goes_where_it_cannot_and_none_is_left_by_half(
    checked: Any, tmp_path: Path, shut: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    here = tmp_path / "here"
    here.mkdir()
    for kind, ending in KINDS:
        name = f"{kind}{ending}"
        with without_roots_right():
            told = checked(*words(kind, shut / name))
        assert (told.code, told.err) == (7, f"reelcare: {shut}/{name}: cannot be written (Permission denied)\n")
        with monkeypatch.context() as failing:
            failing.setattr(os, "fsync", full)  # where a file system says so last of all
            told = checked(*words(kind, here / name))
        assert (told.code, "No space left" in told.err) == (7, True), name
        assert list(here.iterdir()) == list(shut.iterdir()) == [], name
        assert checked(*words(kind, here / name)).code == 0
        (here / name).unlink()
    shut.chmod(0o000)
    with without_roots_right():
        told = checked(*words("due", shut / "x.csv"))
    assert (told.code, told.err) == (7, f"reelcare: {shut}/x.csv: cannot be written (Permission denied)\n")


@pytest.mark.long
def test_a_name_of_any_kind_is_a_file_or_one_line(
    checked: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("")
    for kind, ending in KINDS:
        (tmp_path / f"folder{ending}").mkdir(exist_ok=True)
        before = set(tmp_path.rglob("*"))
        wrong = {f"none/x{ending}": 2, f"file/x{ending}": 2, f"folder{ending}": 2, "": 2, "x": 2, "a" * 300 + ending: 7}
        for name, code in wrong.items():
            told = checked(*words(kind, name))
            assert (told.code, told.err.count("\n"), "Traceback" in told.err) == (code, 1, False), (kind, name)
        assert set(tmp_path.rglob("*")) == before
        long = f"{kind:b<{255 - len(ending)}}{ending}"
        for name in (long, f"{kind} é \x1b[2J\n{ending}", f"folder{ending}/../{kind}{ending}"):
            told = checked(*words(kind, name))
            assert (told.code, told.err.count("\n"), "\x1b" in told.err) == (0, 1, False), (kind, name)
            assert (tmp_path / name).stat().st_size > 20


@pytest.mark.parametrize("is_pdf", [False, pytest.param(True, marks=pytest.mark.long)])
def test_a_machine_to_which_nothing_happened_has_reports_too(farm: Any, tmp_path: Path, is_pdf: bool) -> None:
    for kind, ending in (one for one in KINDS if (one[1] == ".pdf") is is_pdf):
        path = tmp_path / f"{kind}{ending}"
        told = farm(*words(kind, path))
        if kind == "check":
            assert (told.code, told.err) == (2, "reelcare: R1: no check of this machine is here yet\n")
            assert not path.exists()
        else:
            assert told.code == 0
            assert path.stat().st_size > 20


@pytest.mark.parametrize("kind", ["machine", "check", "tag"])
def test_a_tag_that_is_none_is_one_line_and_no_file(farm: Any, tmp_path: Path, kind: str) -> None:
    for named in ("../R1", "R1/..", "", "\x1b[2J", "R1\nR1", "é\udcff"):
        told = farm("report", kind, named, str(tmp_path / "x.pdf"))
        assert (told.code, "no such machine" in told.err, "\x1b" in told.err) == (2, True, False)
        assert not (tmp_path / "x.pdf").exists()


ALL_OF_THEM = """
import json, sys
from reelcare.cli import main
print(json.dumps([main(one) for one in json.loads(sys.argv[1])]), sys.getfilesystemencoding(), file=sys.stderr)
"""


@pytest.mark.long
@pytest.mark.parametrize("outside", [PLAIN, LATIN], ids=["no UTF-8", "latin-1"])
def test_reports_are_the_same_whatever_the_locale(checked: Any, tmp_path: Path, outside: dict[str, str]) -> None:
    checked("log", "fault", "R1", "pawl", "--says", "spróchniały ✓", "--by", "Olav")
    asked = [words(kind, tmp_path / f"{kind}{ending}") for kind, ending in KINDS]
    told = process(json.dumps([*asked, ["report", "tag", "R1", "-"]]), script=ALL_OF_THEM, more=outside)
    *_, refused, last = told.stderr.decode("ascii").splitlines()
    assert last.startswith(str([0] * len(KINDS) + [2])), told.stderr
    assert last.endswith("ascii" if outside is PLAIN else "utf-8")
    assert "the code cannot be shown in" in refused
    assert told.stdout == b""
    for kind, ending in KINDS:
        assert (tmp_path / f"{kind}{ending}").stat().st_size > 20
    assert "spróchniały ✓" in (tmp_path / "machine.html").read_text("utf-8")


@pytest.mark.long
def test_what_is_typed_in_a_locale_without_utf_8_is_kept_as_it_was_meant(farm: Any, tmp_path: Path) -> None:
    # PEP 383: a byte that the locale has no letter for comes in as a lone surrogate
    told = process("people", "add", "Łukasz", "--role", "operator", "--by", "Mara", more=PLAIN)
    assert (told.returncode, told.stderr) == (0, b"\\u0141ukasz is enrolled as operator\n")
    told = process("log", "fault", "R1", "hose", "--says", "zużyty ñ", "--by", "Łukasz", more=PLAIN)
    assert told.returncode == 0
    told = process("report", "due", str(tmp_path / "ł.csv"), more=PLAIN)
    assert told.returncode == 0
    assert (tmp_path / "ł.csv").exists()
    assert "Łukasz" in farm("people").out
    assert "zużyty ñ" in farm("book", "R1").out


@pytest.mark.long
def test_what_is_looked_for_is_found_in_any_locale_and_however_it_is_composed(farm: Any, tmp_path: Path) -> None:
    (tmp_path / "card.toml").write_text('tag = "R2"\nplace = "Łąka é"\n', "utf-8")
    assert farm("machine", "add", str(tmp_path / "card.toml"), "--by", "Mara", "--at", "2020-01-01").code == 0
    asked = ("due", "--json", "--place", "łąka é")
    told = process(*asked, more=PLAIN)
    assert {one["machine"] for one in json.loads(told.stdout)["items"]} == {"R2"}
    apart = unicodedata.normalize("NFD", "łąka é")  # as some systems and keyboards type it
    assert {one["machine"] for one in farm(*asked[:-1], apart).json["items"]} == {"R2"}


def test_bytes_that_are_no_utf_8_stay_visible_as_such() -> None:
    assert clean("a\udcffb") == "a\N{REPLACEMENT CHARACTER}b"
    assert from_locale_bytes("\ud800") == "\ud800"
    hidden = "\N{RIGHT-TO-LEFT OVERRIDE}".encode().decode("ascii", "surrogateescape")
    assert clean(f"a{hidden}b") == "a\N{REPLACEMENT CHARACTER}b", "nothing hides behind its bytes"


COMMANDS = (
    ["yard"], ["yard", "--json"], ["due"], ["workload"], ["book", "R1"], ["machine"], ["plan"], ["people"], ["prove"],
    ["sheets"], ["paths"], ["health"], ["completion", "fish"], ["completion", "tags"], ["report", "tag", "R1", "-"],
    ["may", "R1"], ["signals", "R1"], ["failures"], ["marks"], ["corrections"],
)  # fmt: skip


@pytest.mark.long
@linux
def test_a_reader_that_has_gone_is_no_failure_and_a_full_disk_is_one_line(checked: Any) -> None:
    script = """
import json, os, sys
from reelcare.cli import main
ends = []
for one in json.loads(sys.argv[1]):
    where = sys.argv[2]
    sys.stdout = open(where if where == "/dev/full" else os.dup(int(where)), "w")
    ends.append(main(one))
print(json.dumps(ends), file=sys.stderr)
os._exit(0)  # the streams that could not be emptied are not tried once more
"""
    read, write = os.pipe()
    os.close(read)
    told = process(json.dumps(COMMANDS), str(write), script=script, pass_fds=[write])
    os.close(write)
    ends = json.loads(told.stderr.splitlines()[-1])
    assert ends == [0] * len(COMMANDS)
    told = process(json.dumps(COMMANDS), "/dev/full", script=script)
    *lines, last = told.stderr.decode().splitlines()
    assert json.loads(last) == [7] * len(COMMANDS)
    failed = [line for line in lines if line.startswith("reelcare:")]
    assert failed == ["reelcare: what it says: cannot be read or written (No space left on device)"] * len(COMMANDS)


@pytest.mark.long
@linux
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_whole_process_ends_as_it_should_on_a_full_disk(farm: Any, unbuffered: str) -> None:
    with open("/dev/full", "wb") as full:
        told = process("yard", stdout=full, stderr=subprocess.PIPE, capture_output=False,
                       more={"PYTHONUNBUFFERED": unbuffered})  # fmt: skip
    failed = [line for line in told.stderr.splitlines() if line != b"1 unknown"]  # the yard counts beside its lines
    assert (told.returncode, len(failed)) == (7, 1)
    read, write = os.pipe()
    os.close(read)
    told = process("yard", stdout=write, stderr=subprocess.PIPE, capture_output=False,
                   more={"PYTHONUNBUFFERED": unbuffered})  # fmt: skip
    os.close(write)
    assert (told.returncode, told.stderr.replace(b"1 unknown\n", b"")) == (0, b"")


@pytest.mark.long
@pytest.mark.parametrize("closed", [0, 1, 2])
def test_streams_that_are_closed_lead_nowhere(farm: Any, tmp_path: Path, closed: int) -> None:
    path = tmp_path / "x.html"

    def run(words: str) -> Any:
        asked = f'exec "$0" -m reelcare {words} {closed}>&-'
        outside = {**os.environ, "PYTHONPATH": str(ROOT)}
        return subprocess.run(["sh", "-c", asked, sys.executable, path], capture_output=True, env=outside, check=False)

    told = run('report machine R1 "$1"')
    assert (told.returncode, b"Traceback" in told.stderr) == (0, False)
    assert path.read_bytes().startswith(b"<!DOCTYPE html>")
    assert path.read_bytes().endswith(b"</html>\n"), "no word of the program went into it"
    told = run("")
    assert (told.returncode, b"Traceback" in told.stderr) == (2, False), "the app is not opened"


def test_the_blocks_are_those_that_a_code_is_made_of() -> None:
    shown = tag.shown("0191e7a4-0000-7000-8000-000000000001", "R1", "")
    assert set("".join(shown.splitlines()[:-1])) - {" "} == set(tag.BLOCKS)


def test_a_file_is_private_whole_and_never_over_another(tmp_path: Path) -> None:
    path = tmp_path / "a"
    files.write_whole(path, lambda file: file.writelines([b"one"]))
    assert (path.read_bytes(), path.stat().st_mode & 0o777) == (b"one", 0o600)
    with pytest.raises(FileExistsError):
        files.write_whole(path, lambda file: file.writelines([b"two"]))

    def breaks(file: Any) -> None:
        file.write(b"half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        files.write_whole(path, breaks, replace=True)
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("a", b"one")]
    files.write_whole(path, lambda file: file.writelines([b"three"]), replace=True)
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("a", b"three")]


@pytest.mark.parametrize("there", [False, True])
def test_where_a_file_system_has_no_links_the_name_is_given_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool
) -> None:
    def none(*_: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", none)
    path = tmp_path / "a"
    if there:
        path.write_bytes(b"old")
        with pytest.raises(FileExistsError):
            files.write_whole(path, lambda file: file.writelines([b"new"]))
    else:
        files.write_whole(path, lambda file: file.writelines([b"new"]))
    assert path.read_bytes() == (b"old" if there else b"new")
    assert len(list(tmp_path.iterdir())) == 1


def test_file_and_folder_are_synced_before_a_report_is_said_to_be_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    sync, link = os.fsync, os.link

    def synced(handle: int) -> None:
        done.append("folder" if os.path.isdir(f"/proc/self/fd/{handle}") else "file")
        sync(handle)

    def linked(*names: Path) -> None:
        done.append("name")
        link(*names)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "link", linked)
    report_file.write(tmp_path / "a", b"x")
    assert done == ["file", "name", "folder"]


@pytest.mark.parametrize("name", ["a", "a" * 255, "é" * 127, "水" * 85])
def test_a_file_being_made_has_a_name_that_can_be(tmp_path: Path, name: str) -> None:
    with files.being_made(tmp_path / name) as made:
        assert len(os.fsencode(f"{made.name}-journal")) <= 255
        assert made.name.startswith(".")
    files.write_whole(tmp_path / name, lambda file: file.writelines([b"x"]))
    assert (tmp_path / name).read_bytes() == b"x"


def test_words_about_a_command_steer_no_terminal(farm: Any, tmp_path: Path) -> None:
    for asked in (
        ["book", "\x1b[2J"],
        ["report", "due", "\x1b[2J.xyz"],
        ["\x1b[2J"],
        ["--register", "\x1b[2J", "prove"],
    ):
        told = farm(*asked)
        assert told.code in (2, 3)
        assert "\x1b" not in told.err
    assert "\x1b" not in farm("--register", "\x1b[2J.db", "health").out
    assert "\x1b" not in farm("--register", "\x1b[2J.db", "paths").out


def test_a_name_that_cannot_be_a_register_is_one_line(farm: Any) -> None:
    for asked in (["yard"], ["due", "--overdue"], ["prove"], ["copy", "a" * 300]):
        told = farm("--register", "a" * 300, *asked)
        assert (told.code, told.err.count("\n")) == (7, 1)

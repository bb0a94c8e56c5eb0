"""Makes a register that holds every kind of entry, by commands alone: `python -m tests.register.versions.story FILE`.

The register of each version is made once, by the last code of that version, and kept as it is. The story takes five
days on two terminals: walk-rounds that pass, that hold and that were left open, a second run on one hydrant, faults
with every kind of limit, some of them past, counters that were replaced and that rolled over, what was taken back, and
what was carried in from a terminal of its own, notes, lanes, and a copy that was gone back to. People and machines are
invented.
"""

import os
import re
import sys
import tempfile
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from unittest import mock

from reelcare.register import sheets
from reelcare.register.acts import walk_rounds
from reelcare.register.opening import open_writer
from tests.commands import Result, plain_environment, run

ZONE = "Europe/Madrid"
CHECKLISTS = Path(__file__).resolve().parents[3] / "checklists"
CARDS = {
    "R1": """
        tag = "R1"
        name = "Long Reach"
        place = "North"
        in_use_since = "2024-04-01"
        [drum]
        core_diameter = "1.6 m"
        coils_per_layer = 12
        layers = 5
        [hose]
        outside = "110 mm"
        inside = "90 mm"
        length = "400 m"
        material = "PE80"
        [drive]
        kind = "turbine"
        most_loss = "0.69 bar"
        [legs]
        kind = "hydraulic"
        [cart]
        kind = "gun"
    """,
    "R2": """
        tag = "R2"
        name = "Short Reach"
        place = "South"
        [hose]
        length = "250 m"
        [drive]
        kind = "bellows"
        [legs]
        kind = "cranked"
        [cart]
        kind = "boom"
    """,
    "R3": 'tag = "R3"\nplace = "South"\n',
    "R5": 'tag = "R5"\nname = "New One"\nplace = "North"\n[hose]\nlength = "300 m"\n[cart]\nkind = "gun"\n',
    "R4": 'tag = "R4"\nname = "Far One"\nplace = "Depot"\n[hose]\nlength = "300 m"\n',
}
READINGS = ("6 bar", "20 m/h", "25 m", "2")
"""What is read where a question names no limit: the first that the question takes."""


@cache
def right_answers() -> set[tuple[str, str]]:
    """What is asked by the shipped sheets, with each right answer."""
    return {
        (question.ask["en"], choice.says["en"])
        for sheet in sheets.load(CHECKLISTS / "none of one's own", CHECKLISTS).by_id.values()
        for question in sheet.questions
        for choice in question.choices
        if choice.right
    }


class Walker:
    """Answers the questions of a walk-round: rightly, save those that `wrong` names by some of their words, up to the
    first that holds."""

    def __init__(self, wrong: Mapping[str, str] | None = None, *, stops_at: str = "\0") -> None:
        self._wrong = dict(wrong or {})
        self._stops_at = stops_at
        self._refused = 0

    def __call__(self, asked: str) -> str | None:
        if self._stops_at in asked or self._refused > len(READINGS):
            return None
        if "Type HOLD" in asked:
            self._wrong.clear()  # what can be put right at once is asked again
            return "HOLD"
        if "Type DONE" in asked:
            return "DONE"
        found = next((seen for words, seen in self._wrong.items() if words in asked), "")
        if found:
            return found
        choices = re.findall(r"^      (\d)  (.+)$", asked, re.MULTILINE)
        if choices:
            return next((number for number, says in choices if (self._question(asked), says) in right_answers()), "1")
        return self._reading(asked)

    @staticmethod
    def _question(asked: str) -> str:
        """What is asked, as it stands on the line that counts the questions."""
        found = re.findall(r"^\d+/\d+  (.+)$", asked, re.MULTILINE)
        return found[-1] if found else ""

    def _reading(self, asked: str) -> str:
        limit = re.search(r"Right is (at most|at least|about) ([\d.]+)(?: ([^\s.,(]+))?", asked)
        if limit is None:
            self._refused = self._refused + 1 if "  ! " in asked else 0
            return READINGS[min(self._refused, len(READINGS) - 1)]
        value = float(limit[2]) * {"at most": 0.7, "at least": 1.5, "about": 1.0}[limit[1]]
        return f"{value:.2f} {limit[3]}" if limit[3] else f"{value:.0f}"


class Terminal:
    """One register, with a clock that its story sets."""

    def __init__(self, register: Path, folder: Path) -> None:
        self._register = register
        self._folder = folder
        self.now = datetime.fromisoformat("2026-05-01T06:00+02:00")

    def at(self, day: int, hour: int, minute: int = 0) -> None:
        """Set the clock to a moment of May 2026."""
        self.now = datetime.fromisoformat(f"2026-05-{day:02}T{hour:02}:{minute:02}+02:00")

    def do(self, *words: str, by: str = "", walker: Walker | None = None) -> Result:
        """Run a command, a minute after the one before; one that is refused ends the story."""
        self.now += timedelta(minutes=1)
        more = ("--by", by) if by else ()
        done = run(self._register, self.now, *words, *more, answer=walker or Walker())
        if done.code != 0 and not (words[0] == "check" and done.code == 1):
            raise SystemExit(f"{' '.join(words)}: {done.err}")
        return done

    def note(self, *words: str, by: str = "Olav") -> str:
        """Log something; the id of its entry."""
        return str(self.do("log", *words, "--json", by=by).json["entry"])

    def walk(self, *words: str, by: str = "Olav", walker: Walker | None = None) -> None:
        self.do("check", *words, by=by, walker=walker)

    def card(self, tag: str, **replaced: str) -> str:
        """A card as a file."""
        text = "\n".join(line.strip() for line in CARDS[tag].splitlines())
        for old, new in replaced.items():
            text = text.replace(old, new)
        path = self._folder / f"{tag}.toml"
        path.write_text(text, "utf-8")
        return str(path)


def first_day(one: Terminal) -> None:
    """People, plans, machines, what was measured on them and what their counters show."""
    one.do("people", "add", "Mara", "--role", "supervisor")
    for name, role in (("Tove", "mechanic"), ("Olav", "operator"), ("Nils", "operator")):
        one.do("people", "add", name, "--role", role, by="Mara")
    one.do("plan", "--use", str(CHECKLISTS / "plan-default.toml"), by="Mara")
    for tag in ("R1", "R2", "R3"):
        one.do("machine", "add", one.card(tag), by="Mara")
    own = one._folder / "plan.toml"
    own.write_text((CHECKLISTS / "plan-default.toml").read_text("utf-8").replace('"default"', '"south"', 1), "utf-8")
    one.do("plan", "R2", "--use", str(own), by="Mara")
    one.note("reading", "R1", "hours", "1200")
    one.note("reading", "R1", "metres", "99000", "--at", "2026-05-01T05:30")
    one.note("reading", "R3", "hours", "9990")
    one.do("measure", "drum", "R1", "24=136.1 m", "36=214.9 m", "48=300.9 m", "--keep", by="Tove")
    one.do("measure", "gun", "R1", "43 m3/h @ 4.5 bar", "--nozzle", "24 mm", "--keep", by="Tove")
    one.do("set-up", "R1", "--spacing", "70 m", "--out", "320 m", "--depth", "25 mm", "--flow", "43 m3/h", "--nozzle",
           "24 mm", "--keep", by="Olav")  # fmt: skip
    one.note("service", "R1", "gearbox-oil-change", "--hours", "1201", by="Tove")
    one.note("service", "R2", "grease", by="Tove")
    one.note("service", "R2", "end-stop", by="Tove")


def second_day(one: Terminal) -> None:
    """A check that passes and its run, a second run on the same set; a check that holds, up to its release."""
    one.at(2, 6)
    one.walk("R1", walker=Walker({"Fall of inlet pressure": "0.9 bar"}))
    one.at(2, 15)
    one.note("run", "R1", "--started", "2026-05-02T07:00", "--ended", "2026-05-02T14:30", "--metres", "310 m",
             "--planned-speed", "42 m/h", "--inlet", "7 bar", "--gun-pressure", "4.4 bar", "--stopped-by",
             "end stop")  # fmt: skip
    one.walk("R1", "--again")
    one.at(2, 23)
    one.note("run", "R1", "--started", "2026-05-02T15:30", "--ended", "2026-05-02T22:15", "--metres", "305.5 m",
             "--stopped-by", "operator", "--operator", "Nils", "--place", "Lane 4", "--note", "wind")  # fmt: skip
    one.walk("R2", walker=Walker({"stop bar pushed by hand": "2"}), by="Nils")
    one.note("repair", "R2", "end stop", "--says", "bar straightened", by="Tove")
    one.note("retest", "R2", "end stop", "--says", "hangs once in three", "--failed", by="Tove")
    one.note("repair", "R2", "end stop", "--says", "latch renewed", by="Tove")
    one.note("retest", "R2", "end stop", "--says", "out three times", by="Tove")
    one.note("release", "R2", "end stop", "--says", "fit", by="Tove")
    one.note("reading", "R3", "hours", "12", "--rolls-at", "10000")
    one.note("reading", "R3", "metres", "0", "--new-counter", by="Tove")


def third_day(one: Terminal) -> None:
    """Faults with limits, what is late or wrong and taken back, roles, plans and cards that change."""
    one.at(3, 7)
    one.note("fault", "R3", "hose", "--says", "weeps at the third coil", "--fix-by", "2026-05-04")
    one.note("fault", "R3", "gauges", "--says", "glass broken", "--fix-by", "14 days")
    one.note("fault", "R2", "chain", "--says", "stiff link", "--fix-by", "1 runs")
    one.note("fault", "R2", "legs", "--says", "pad cracked", "--fix-by", "20 h")
    one.note("fault", "R2", "jack", "--says", "creeps", "--fix-by", "5000 m")
    one.note("fault", "R2", "wheels", "--says", "tyre worn on the left", "--hold", "road")
    one.walk("R2")
    one.at(3, 17)
    one.note("run", "R2", "--started", "2026-05-03T08:00", "--ended", "2026-05-03T12:00", "--metres", "200 m")
    wrong = one.note("run", "R2", "--started", "2026-05-03T13:00", "--ended", "2026-05-03T16:00", "--metres", "20 m")
    one.at(3, 18)
    taken = one.note("correct", wrong, "--why", "another machine's run", by="Mara")
    one.note("correct", taken, "--why", "it was this one's after all", by="Mara")
    service = one.note("service", "R2", "grease", by="Tove")
    one.note("correct", service, "--why", "grease gun was empty", by="Mara")
    one.do("people", "add", "Nils", "--role", "mechanic", by="Mara")
    one.do("machine", "revise", "R2", one.card("R2", South="West"), by="Mara")
    one.note("run", "R1", "--started", "2026-05-03T09:00", "--ended", "2026-05-03T17:00", "--metres", "300 m",
             "--stopped-by", "fault", by="Mara")  # fmt: skip
    one.note("fault", "R1", "pawl", "--says", "spring gone", "--hold", "run", by="Mara")
    one.note("fault", "R1", "gauges", "--says", "needle sticks")


def carried(one: Terminal, other: Terminal, folder: Path) -> None:
    """The same days on another terminal, which is carried in late; both write of the same machines."""
    out, back = str(folder / "out.zip"), str(folder / "back.zip")
    one.do("carry", "out", out)
    other.at(3, 20)
    other.do("people", "add", "Mara", "--role", "supervisor")
    other.do("carry", "in", out, by="Mara")
    for name, role in (("Tove", "mechanic"), ("Nils", "mechanic")):
        other.do("people", "add", name, "--role", role, by="Mara")
    other.do("machine", "add", other.card("R4"), by="Mara")
    other.at(4, 0)
    other.note("run", "R3", "--started", "2026-05-03T20:10", "--ended", "2026-05-03T23:40", "--metres", "150 m",
               by="Nils")  # fmt: skip
    other.at(4, 2)
    other.note("fault", "R4", "drum", "--says", "bearing loud", "--hold", "--retest", "an hour dry", by="Nils")
    other.note("service", "R3", "strainer", by="Nils")
    other.walk("R4", "road", walker=Walker(stops_at="3/"), by="Nils")
    other.do("carry", "out", back)
    one.at(4, 6)
    one.do("carry", "in", back, by="Mara")


def fourth_day(one: Terminal, register: Path) -> None:
    """A machine that is clear, a check that was left open and one that was given up, a PIN."""
    one.walk("R3", walker=Walker(stops_at="5/"))
    one.do("measure", "cans", "R2", "--spacing", "70 m", "--step", "5 m", "--left", "9.4 8 5.9 4 3 2 1", "--right",
           "9.4 8 6 4.4 3 2 1", "--keep", "--note", "calm", by="Tove")  # fmt: skip
    one.do("machine", "add", one.card("R5"), by="Mara")
    one.walk("R5")
    one.walk("R2", "weekly-shop", by="Tove", walker=Walker(stops_at="4/"))
    with open_writer(register) as opened:  # no command gives a check up
        (going,) = opened.state(opened.machine_id("R2")).checks
        walk_rounds.leave(opened, going.id, "called away", by="Tove", now=one.now)
    with mock.patch.dict(os.environ, REELCARE_NEW_PIN="471108"):
        one.do("people", "pin", "Nils", by="Mara")


def fifth_day(one: Terminal, folder: Path) -> None:
    """What waits is accepted; a field, notes, what is given to whom, and machines that move, stop and leave."""
    one.at(5, 7)
    waits = one.do("carry", "waiting", "--json").json[0]["id"]
    one.do("carry", "accept", waits, "--why", "seen on the log sheet", by="Mara")
    field = folder / "north.toml"
    field.write_text(
        'id = "north"\nplace = "North"\n[[lanes]]\nnumber = 1\nhydrant = 3\nlength = "310 m"\n[[lanes]]\nnumber = 2\n'
        'hydrant = 3\nlength = "290 m"\n',
        "utf-8",
    )
    one.do("lanes", "add", str(field), by="Mara")
    one.do("night", "R1", "--order", "2 1", by="Olav")
    one.note("note", "R2", "--says", "left running, stops 03:40")
    one.note("note", "R2", "--says", "tractor touched the hose", "--near-miss")
    one.note("note", "R2", "--read", by="Mara")
    one.note("instruction", "Nils", "R1", "--valid", "12", by="Mara")
    one.do("give", "R1", "grease", "--to", "Tove", "--day", "2026-05-08", by="Mara")
    one.walk("R5", "--gate", "pull-out", walker=Walker({"Both stabiliser feet": "1"}))
    one.walk("R5")
    one.do("machine", "move", "R3", "West", by="Olav")
    one.do("machine", "retire", "R5", "--why", "sold", by="Mara")


def going_back(one: Terminal, folder: Path) -> None:
    """The supervisor is let in by the recovery code, and the register goes back to a copy."""
    one.at(5, 12)
    with mock.patch.dict(os.environ, REELCARE_NEW_PIN="739104"):
        told = one.do("people", "pin", "Mara", by="Mara")
    (code,) = re.findall(r"shown only now: (\S+)", told.err)
    with mock.patch.dict(os.environ, REELCARE_RECOVERY=code, REELCARE_NEW_PIN="739104", REELCARE_PIN="739104"):
        one.do("people", "unlock", "Mara", "--recovery")
        copy = str(folder / "copy.db")
        one.do("copy", copy)
        one.do("restore", copy, "--why", "the disk failed", by="Mara")


def tell(register: Path) -> None:
    """Write the whole story into a register that is not there yet."""
    with tempfile.TemporaryDirectory() as name, plain_environment(ZONE):
        folder = Path(name)
        one, other = Terminal(register, folder), Terminal(folder / "other.db", folder)
        first_day(one)
        second_day(one)
        third_day(one)
        carried(one, other, folder)
        fourth_day(one, register)
        fifth_day(one, folder)
        going_back(one, folder)


if __name__ == "__main__":
    tell(Path(sys.argv[1]))

"""A field: its lanes and hydrants, what the licence and the tariff allow, and when it is dark.

The rules of this file: one reader, `read_field`; every problem is named with its place and a cure. Lengths in m, times
of a day in minutes after midnight, durations in seconds, water in m3. A lane without a hydrant has no flow and is
refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from reelcare.core import units
from reelcare.core.machine import card_readers as readers
from reelcare.core.text import _, mark
from reelcare.core.wording import ProblemsError, nearest

Name = int | str
"""What a lane or a hydrant is called: a number, or a text such as 4a."""
DAY = 24 * 60
UNTIL = re.compile(r"\s*(?:-|–|,|\bto\b)\s*")
"""What stands between from and until."""
SAME_HYDRANT, OTHER_HYDRANT = 45 * 60.0, 75 * 60.0
"""How long a machine takes to its next lane [s], on the hydrant where it stands (the drum is turned) and on another:
common practice, no source; a field says its own."""


class LaneFileError(ProblemsError):
    """A field that cannot be."""


class Hours(NamedTuple):
    """Hours of each day, from and until in minutes after midnight; they may go over midnight."""

    begins: int
    ends: int

    @property
    def texts(self) -> list[str]:
        """Both as a clock shows them."""
        return [clock(self.begins), clock(self.ends)]


class Lane(NamedTuple):
    """One lane: length and spacing [m], rise of the gun over the machine [m], the lanes or neighbours with which its
    hydrant's flow is shared; flow [m3/s] and pressure [Pa] of the hydrant, where the field says them."""

    number: Name
    hydrant: Name
    length: float
    spacing: float | None = None
    rise: float | None = None
    shared_with: tuple[Name, ...] = ()
    flow: float | None = None
    inlet: float | None = None


class Licence(NamedTuple):
    """What may be taken: on a day and in a season [m3], in which hours."""

    day: float | None = None
    season: float | None = None
    hours: Hours | None = None


class Field(NamedTuple):
    """A field as its file says it."""

    id: str
    lanes: tuple[Lane, ...]
    place: str = ""
    licence: Licence = Licence()
    tariff: Hours | None = None
    dark: Hours | None = None
    same_hydrant: float = SAME_HYDRANT
    other_hydrant: float = OTHER_HYDRANT

    def lane(self, number: Name) -> Lane | None:
        """The lane of this number; '4' and 4 are the same."""
        return next((one for one in self.lanes if str(one.number) == str(number)), None)

    def at_hydrant(self, hydrant: Name) -> list[Lane]:
        """The lanes of a hydrant."""
        return [one for one in self.lanes if str(one.hydrant).casefold() == str(hydrant).casefold()]

    def move(self, here: Lane | None, to: Lane) -> float:
        """How long a machine takes from a lane (None: not known) to another [s]."""
        if here is not None and here.number == to.number:
            return 0.0
        return self.same_hydrant if here is not None and here.hydrant == to.hydrant else self.other_hydrant

    def flows(self) -> dict[Name, str]:
        """By lane the name of the flow that it takes: lanes of one hydrant, and those that share, take the same."""
        flow = {str(one.number): f"hydrant {one.hydrant}" for one in self.lanes}
        for lane in self.lanes:
            for other in lane.shared_with:  # a lane, or a neighbour with whom several may share
                theirs, ours = flow.setdefault(str(other), f"neighbour {other}"), flow[str(lane.number)]
                flow = {taker: ours if name == theirs else name for taker, name in flow.items()}
        return {one.number: flow[str(one.number)] for one in self.lanes}

    def is_at(self, place: str) -> bool:
        """Whether it is the field of this place."""
        return bool(place) and _key(place) in (_key(self.place), _key(self.id))


def _key(text: str) -> str:
    return re.sub(r"[\W_]+", " ", text).strip().casefold()


def clock(minutes: int) -> str:
    """Minutes after midnight as a clock shows them.

    >>> clock(22 * 60 + 5)
    '22:05'
    """
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _name(value: Any, where: str) -> Name:
    if isinstance(value, bool) or not isinstance(value, (int, str)) or not str(value).strip():
        raise units.UnitsError(_("{where}: must be a number, or a short text", where=where))
    text = str(value).strip()
    return int(text) if text.isdecimal() and text.isascii() else text


def _names(value: Any, where: str) -> tuple[Name, ...]:
    return tuple(_name(one, where) for one in (value if isinstance(value, list) else [value]))


def _clock(value: Any, where: str) -> int:
    text = value.isoformat() if hasattr(value, "isoformat") else str(value).strip()
    found = re.fullmatch(r"(\d{1,2}):(\d\d)(:00)?", text)
    if found is None or not ((int(found[1]) < 24 and int(found[2]) < 60) or text == "24:00"):
        raise units.UnitsError(_("{where}: {text}: must be a time of the day such as \"21:30\"", where=where,
                                 text=repr(text)))  # fmt: skip
    return (int(found[1]) * 60 + int(found[2])) % DAY


def _hours(value: Any, where: str) -> Hours:
    parts = value if isinstance(value, list) else UNTIL.split(str(value).strip())
    if len(parts) != 2:
        raise units.UnitsError(_("{where}: {value}: must be hours such as \"22:00-06:00\"", where=where,
                                 value=repr(value)))  # fmt: skip
    begins, ends = (_clock(one, where) for one in parts)
    if begins == ends:
        raise units.UnitsError(_("{where}: from and until are the same; leave it out where it is always so",
                                 where=where))  # fmt: skip
    return Hours(begins, ends)


def _volume(value: Any, where: str) -> float:
    if isinstance(value, str):
        return float(readers.quantity("volume", 0.001, 1e9, "400 m3")(value, where))
    return float(readers.bare(0.001, 1e9, "m3")(value, where))


NAME = readers.ValueReader(_name, "a number or a short text")
HOURS = readers.ValueReader(_hours, 'hours of a day, as in `"22:00-06:00"`')
CLOCK = readers.ValueReader(_clock, 'a time of a day, as in `"21:30"`')
VOLUME = readers.ValueReader(_volume, "m3 as a bare number, or a text with a unit")
LANE: dict[str, readers.ValueReader] = {
    "number": NAME,
    "hydrant": NAME,
    "length": readers.quantity("length", 1, 2000, "320 m"),
    "spacing": readers.quantity("length", 2, 400, "68 m"),
    "rise": readers.quantity("length", -200, 200, "3 m"),
    "shared_with": readers.ValueReader(_names, "a lane or neighbour, or a list of them"),
    "flow": readers.quantity("flow", 0.1 / 3600, 1000 / 3600, "43 m3/h"),
    "inlet": readers.quantity("pressure", 1e4, 4e6, "6.9 bar"),
}
SECTIONS: dict[str, dict[str, readers.ValueReader]] = {
    "licence": {"m3_day": VOLUME, "m3_season": VOLUME, "hours": HOURS},
    "tariff": {"hours": HOURS},
    "dark": {"from": CLOCK, "until": CLOCK},
    "moves": {
        "same_hydrant": readers.quantity("duration", 60, 86400, "45 min"),
        "other_hydrant": readers.quantity("duration", 60, 86400, "75 min"),
    },
}
FIELD_KEYS = ("id", "place", "lanes", *SECTIONS)
MOST_LANES = 2000


def read_field(table: Mapping[str, Any]) -> Field:
    """The field that a table says. Raises LaneFileError with every problem.

    >>> read_field({"id": "north", "lanes": [{"number": 1, "hydrant": 3, "length": "320 m"}]}).lanes[0].length
    320.0
    """
    problems = [
        _("{key}: not known{near}", key=key, near=nearest(key, FIELD_KEYS)) for key in table if key not in FIELD_KEYS
    ]
    for key in ("id", "place"):
        if not isinstance(table.get(key, ""), str):
            problems.append(_("{key}: must be a text", key=key))
    id = table.get("id", "")
    if isinstance(id, str) and not id.strip():
        problems.append(_('id: missing; what the field is called by, as in id = "north-field"'))
    lanes = _lanes(table.get("lanes"), problems)
    found = {name: _section(name, table.get(name, {}), problems) for name in SECTIONS}
    if problems:
        raise LaneFileError(problems)
    licence, moves, dark = found["licence"], found["moves"], found["dark"]
    return Field(
        id.strip(), tuple(lanes), table.get("place", "").strip(),
        Licence(licence.get("m3_day"), licence.get("m3_season"), licence.get("hours")), found["tariff"].get("hours"),
        Hours(dark["from"], dark["until"]) if dark else None,
        moves.get("same_hydrant", SAME_HYDRANT), moves.get("other_hydrant", OTHER_HYDRANT),
    )  # fmt: skip


def _lanes(value: Any, problems: list[str]) -> list[Lane]:
    if not isinstance(value, list) or not value:
        problems.append(_("lanes: missing; one table [[lanes]] for each lane"))
        return []
    if len(value) > MOST_LANES:
        problems.append(_("lanes: {n} of them; at most {most}", n=len(value), most=MOST_LANES))
        return []
    found, seen = [], set()
    for place, table in enumerate(value, 1):
        where = f"lanes[{place}]"
        if not isinstance(table, Mapping):
            problems.append(_("{where}: must be a table [[lanes]]", where=where))
            continue
        said = readers.read_values(table, LANE, where, problems)
        problems += [f"{where}.{key}: {_(says)}" for key, says in _MISSING.items() if key not in table]
        if not _MISSING.keys() <= said.keys():
            continue
        if str(said["number"]) in seen:
            problems.append(_("{where}.number: lane {number} is there twice", where=where, number=said["number"]))
        seen.add(str(said["number"]))
        found.append(Lane(**said))
    return found


_MISSING = {
    "number": mark("missing; the number of the lane"),
    "hydrant": mark("missing: without a hydrant the lane has no flow; give the number of the hydrant that feeds it"),
    "length": mark('missing; how far it is pulled out, as in "320 m"'),
}


def _section(name: str, value: Any, problems: list[str]) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        problems.append(_("{name}: must be a section [{name}]", name=name))
        return {}
    found = readers.read_values(value, SECTIONS[name], name, problems)
    if name == "dark" and value and not problems:
        if set(found) != {"from", "until"}:
            problems.append(_("dark: from and until go together"))
        elif found["from"] == found["until"]:
            problems.append(_("dark: from and until are the same; leave it out where it is never dark"))
    return found

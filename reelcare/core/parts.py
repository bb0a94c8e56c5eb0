"""The parts of a machine that a question, a fault or a service can be about."""

from __future__ import annotations

from reelcare.core.text import mark

PARTS = (
    "drum", "hose", "level wind", "drive", "gearbox", "chain", "pawl", "brake", "end stop", "compensation",
    "turntable", "legs", "jack", "cart", "gun", "supply hose", "gauges", "wheels", "drawbar", "lights",
    "guards", "site",
)  # fmt: skip

RETESTS: dict[str, str] = {
    "drum": mark("Drum turned by hand: free, nothing grinds."),
    "hose": mark("Hose at working pressure for ten minutes: dry, no bulge."),
    "level wind": mark("One layer wound: each coil lies beside the last, the guide turns back at the flange."),
    "drive": mark("Drive run for ten minutes under load."),
    "gearbox": mark("Drive put in and taken out three times; no leak after ten minutes."),
    "chain": mark("Chain turned once round by hand: runs true."),
    "pawl": mark("Pawl dropped five times: in a tooth each time."),
    "brake": mark("Drum pulled by hand: the brake drags evenly."),
    "end stop": mark("Stop bar pushed by hand three times: the drive comes out each time; then one run's end watched."),
    "compensation": mark("Speed measured on two layers: alike within 10 %."),
    "turntable": mark("Pin drops home with its clip in each position."),
    "legs": mark("Legs hold ten minutes under load."),
    "jack": mark("Jack holds ten minutes under load."),
    "cart": mark("Cart pulled ten metres: runs straight, all locked."),
    "gun": mark("Gun at working pressure: turns through its arc."),
    "supply hose": mark("At working pressure for five minutes: dry, no kink."),
    "gauges": mark("Gauge at zero without pressure, and beside a test gauge under pressure."),
    "wheels": mark("Nuts at their torque, looked at after the first move."),
    "drawbar": mark("Hitched and pulled: nothing moves that should not."),
    "lights": mark("Every light seen from behind."),
    "guards": mark("Every guard on and fast, shaken by hand."),
    "site": mark("Looked at again where the machine stands."),
}
"""What is tried again after a repair where nobody says better, part by part (common practice, no source)."""


def default_retest(part: str) -> str:
    """What is tried again on a part before a release, in English: it is kept with the fault. `_` translates it."""
    return RETESTS[part]


FOR_THE_ROAD = frozenset({"wheels", "drawbar", "lights"})
"""Parts whose overdue stop items hold the road rather than the run."""

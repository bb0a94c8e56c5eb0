"""The parts of a machine that a question, a fault or a service can be about."""

PARTS = (
    "drum", "hose", "level wind", "drive", "gearbox", "chain", "pawl", "brake", "end stop", "compensation",
    "turntable", "legs", "jack", "cart", "gun", "supply hose", "gauges", "wheels", "drawbar", "lights",
    "guards", "site",
)  # fmt: skip

FOR_THE_ROAD = frozenset({"wheels", "drawbar", "lights"})
"""Parts whose overdue stop items hold the road rather than the run."""

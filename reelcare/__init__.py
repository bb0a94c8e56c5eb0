"""Reelcare: checks, settings and upkeep of hose-reel irrigating machines."""

__version__ = "0.1.0"

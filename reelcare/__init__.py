"""Reelcare: checks, settings and upkeep of hose-reel irrigating machines.

Each folder has rules of its own; nothing stands here but the version.
"""

__version__ = "0.2.0"

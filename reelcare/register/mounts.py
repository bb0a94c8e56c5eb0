"""On which kind of file system a register stands: the engine's log does not work over a network.

The rules of this file: it is asked before anything is opened. Where it cannot be told, the answer is none.
"""

from __future__ import annotations

from pathlib import Path

NETWORK = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "virtiofs", "afs", "ceph", "glusterfs", "ncpfs", "davfs"}
)
"""File systems whose locks or shared memory cannot be relied on; those of FUSE are told by their first word."""
MOUNTS = Path("/proc/self/mountinfo")


def network_kind(path: Path, mounts: str | None = None) -> str:
    """The kind of network file system that a path is on, '' where it is on none (or where it cannot be told).

    >>> line = "36 35 98:0 / /mnt/shop rw,noatime - nfs4 server:/shop rw"
    >>> network_kind(Path("/mnt/shop/register.db"), line), network_kind(Path("/home/register.db"), line)
    ('nfs4', '')
    """
    if mounts is None:
        try:
            mounts = MOUNTS.read_text("utf-8", "replace")
        except OSError:
            return ""
        path = path.resolve()
    place, best, kind = str(path), -1, ""
    for line in mounts.splitlines():
        before, mark, after = line.partition(" - ")
        words, rest = before.split(), after.split()
        if not mark or len(words) < 5 or not rest:
            continue
        at = words[4].replace("\\040", " ").replace("\\011", "\t").replace("\\134", "\\").rstrip("/")
        if len(at) >= best and (place == at or place.startswith(f"{at}/")):
            best, kind = len(at), rest[0]
    fuse = kind.startswith("fuse.") and kind not in ("fuse.gvfsd-fuse", "fuse.portal")
    return kind if kind in NETWORK or fuse else ""

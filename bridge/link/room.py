"""How much a disk still holds: asked before a recording begins and each second while it runs."""

import os
import shutil
from pathlib import Path

from bridge.errors import BadValue

_LEAST_S = 60.0
"""A recording is not begun on a disk that is full before so long [s]."""
_WARN_S = 3600.0
"""A disk that is full before so long is worth a word [s]."""
_RESERVE = 1_000_000
"""Left free while recording, for the logbook's own writing at the end [bytes]."""
_SAMPLES_SHARE = 0.25
"""The samples of a recording take at most about this share of its raw bytes. Measured at 10 channels."""


def reserve(raw_bytes: int) -> int:
    """Return how much must stay free so that a recording of so many bytes can still be sealed [bytes]."""
    return _RESERVE + int(_SAMPLES_SHARE * raw_bytes)


def free_bytes(folder: Path) -> int:
    """Return how much the disk of a folder still takes [bytes].

    Raises:
        OSError: it cannot be told.
    """
    return shutil.disk_usage(folder).free


def check_room(folder: Path, baud: int) -> str | None:
    """Look whether a recording may begin in a folder. Nothing is made or changed.

    Args:
        folder: where it is to be kept; it need not be there yet.
        baud: speed of the port, which says how fast the disk can fill [bit/s].

    Returns:
        A sentence where the disk will be full within the hour, else None.

    Raises:
        BadValue: the folder cannot be written, or its disk holds less than a minute.
    """
    there = folder.absolute()
    while not there.exists():
        there = there.parent
    if not there.is_dir():
        raise BadValue(
            f"the logbook cannot be at {folder}: {there} is a file; name another folder by --logbook"
        )
    if not os.access(there, os.W_OK | os.X_OK) or _is_read_only(there):
        raise BadValue(
            f"nothing can be recorded in {folder}: {there} cannot be written; name another folder by --logbook"
            " or have its rights changed",
        )
    free = free_bytes(there)
    # ten bits a byte on the wire, and what the samples will take besides
    seconds = max(0, free - _RESERVE) / (max(baud, 1) / 10 * (1 + _SAMPLES_SHARE))
    left = f"the disk of {folder} has {free / 1e6:.1f} MB left"
    if seconds < _LEAST_S:
        raise BadValue(f"{left}, which holds less than a minute: free some, or name another by --logbook")
    if seconds < _WARN_S:
        return f"{left}, which is about {seconds / 60:.0f} minutes at {baud} baud"
    return None


def _is_read_only(folder: Path) -> bool:
    return hasattr(os, "statvfs") and bool(os.statvfs(folder).f_flag & getattr(os, "ST_RDONLY", 0))

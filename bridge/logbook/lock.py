"""The lock that a recorder holds while it records; it falls when the process ends, however it ends."""

import os
import sys
from pathlib import Path


class RecordingLock:
    """A lock on a file. Another process, and another lock in this one, cannot take it meanwhile."""

    def __init__(self, path: Path, handle: int) -> None:
        self._path = path
        self._handle = handle

    @classmethod
    def take(cls, path: Path) -> "RecordingLock | None":
        """Take the lock, or return None where somebody holds it."""
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _lock(handle)
        except OSError:
            os.close(handle)
            return None
        os.ftruncate(handle, 0)
        os.write(handle, f"{os.getpid()}\n".encode())
        return cls(path, handle)

    def release(self) -> None:
        """Give it up and take its file away."""
        self._path.unlink(missing_ok=True) if os.name != "nt" else None
        os.close(self._handle)
        if os.name == "nt":
            self._path.unlink(missing_ok=True)


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

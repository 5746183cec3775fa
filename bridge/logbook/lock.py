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


def holder(path: Path) -> int | None:
    """Return the process that holds the lock of a file; None where nobody does, or it cannot be told.

    The lock itself is asked, never the file alone: a file that a dead recorder left behind names a process
    number that may be anybody's by now.
    """
    try:
        handle = os.open(path, os.O_RDONLY)
    except OSError:
        return None
    try:
        if not _is_held(handle):
            return None
        pid = os.read(handle, 32).strip()
    except OSError:  # a system on which a locked file cannot be read
        return None
    finally:
        os.close(handle)
    return int(pid) if pid.isdigit() and int(pid) > 1 and _has_open(int(pid), path) else None


def _has_open(pid: int, path: Path) -> bool:
    """Return whether a process has a file open, as far as the system tells (Linux)."""
    if not Path("/proc/self/fd").is_dir():
        return True
    wanted = str(path.resolve())
    try:
        return any(_leads_to(entry, wanted) for entry in Path(f"/proc/{pid}/fd").iterdir())
    except OSError:  # no such process, or another user's
        return False


def _leads_to(entry: Path, wanted: str) -> bool:
    try:
        return str(entry.readlink()) == wanted
    except OSError:  # closed since it was listed
        return False


if sys.platform == "win32":
    import msvcrt

    def _is_held(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBRLCK, 1)
        except OSError:
            return True
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
        return False

    def _lock(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _is_held(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)  # shared: two who ask do not see each other
        except OSError:
            return True
        return False

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

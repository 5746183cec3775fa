"""Where each file of a logbook lies, and how one is put there so that a cut of the power cannot halve it."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bridge.errors import DiskTrouble

DATABASE = "logbook.sqlite"


def database(folder: Path) -> Path:
    """Return where the tables are."""
    return folder / DATABASE


def raw(folder: Path, session: int, ending: str = ".capture") -> Path:
    """Return where a session's raw file lies: what was recorded, or the file that was imported."""
    return folder / "captures" / f"{session:04d}{ending}"


def lock(folder: Path, session: int) -> Path:
    """Return the file whose lock the recorder of a session holds."""
    return folder / "captures" / f"{session:04d}.lock"


def samples(folder: Path, session: int) -> Path:
    """Return where a session's samples lie."""
    return folder / "samples" / f"{session:04d}.parquet"


def bands(folder: Path, session: int) -> Path:
    """Return where the band counts of a session are kept; they can be made again from its samples."""
    return folder / "bands" / f"{session:04d}.parquet"


def pairs(folder: Path, session: int) -> Path:
    """Return where the pairs of a session are kept; they can be made again from what it was."""
    return folder / "pairs" / f"{session:04d}.json"


@contextmanager
def placed(path: Path) -> Iterator[Path]:
    """Give a name beside ``path`` to write to; it takes the place of ``path`` once it is safe on the disk.

    Raises:
        DiskTrouble: the disk would not take it; what stood at ``path`` still stands there.
    """
    beside = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield beside
        _sync(beside)
        beside.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        raise DiskTrouble(
            f"{path} could not be written ({error.strerror or error}); nothing was lost"
        ) from error
    finally:
        beside.unlink(missing_ok=True)


def _sync(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # a folder cannot be synced there, and a rename is journalled
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

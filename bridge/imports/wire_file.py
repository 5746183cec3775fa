"""Raw wire captures from elsewhere: a file of the very bytes that a logger printed."""

from pathlib import Path

from bridge.errors import BadFile
from bridge.link.capture import MAGIC


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes.

    Raises:
        BadFile: it is not there, cannot be read or is empty.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadFile(
            f"{path} cannot be read ({error.strerror or error}); look at the name and the rights"
        ) from None
    if not data:
        raise BadFile(f"{path} is empty")
    return data


def is_capture(data: bytes) -> bool:
    """Return whether the bytes are a capture of our own recorder, with arrival times, and not bare wire."""
    return data.startswith(MAGIC)

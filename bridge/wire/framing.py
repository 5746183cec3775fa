"""Finding lines in bytes that noise has been at.

An accepted line holds no further ``>``, so every ``>`` begins a piece of its own that ends at the next one,
and a piece is judged by itself: it begins with a sound line, or its ``>`` is one damaged line. What stands in
a piece behind the eight digits of a good checksum is junk, line ends apart. A piece without one has no known
end: all of it is the damage, and none of it junk.
"""

import re
from dataclasses import dataclass
from zlib import crc32

from bridge.wire.encode import LINE_BYTES

CRC_DIGITS = 8
BODY_BYTES = LINE_BYTES - len(">*\n") - CRC_DIGITS
"""The longest body. A receiver gives a line up beyond it, so that noise cannot fill its memory."""

_CRC = re.compile(rb"[0-9A-F]{8}")  # not int(x, 16), which takes lower case, _, + and blanks


@dataclass(frozen=True, slots=True)
class Frame:
    """A body whose checksum is good, and how many bytes of its piece the line takes."""

    body: bytes
    size: int


def find_frame(piece: bytes) -> Frame | None:
    """Return the line with a good checksum that a piece begins with, or None.

    Args:
        piece: what stands after a ``>``; bytes beyond the line do no harm.
    """
    star = piece.find(b"*", 0, BODY_BYTES + 1)
    if star < 0:
        return None
    body, digits = piece[:star], piece[star + 1 : star + 1 + CRC_DIGITS]
    if _CRC.fullmatch(digits) is None or crc32(body) != int(digits, 16):
        return None
    return Frame(body, star + 1 + CRC_DIGITS)


def can_be_judged(piece: bytes) -> bool:
    """Return whether the bytes after a ``>`` are enough to say if they begin a sound line."""
    star = piece.find(b"*", 0, BODY_BYTES + 1)
    return len(piece) > BODY_BYTES if star < 0 else len(piece) >= star + 1 + CRC_DIGITS


def count_junk(outside: bytes) -> int:
    """Return how many of these bytes outside lines are neither CR nor LF."""
    return len(outside.translate(None, b"\r\n"))

"""The fast sieve of the bulk way: finds the data lines of a large block and reads their numbers together.

It is a shortcut past `framing` and `grammar`, not a second grammar: it takes only what they would take, and
leaves whatever is not as plain as can be for them to judge. A property test holds the two together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress
from zlib import crc32

import numpy as np
import numpy.typing as npt
import polars as pl
from numpy.lib.stride_tricks import sliding_window_view

from bridge.wire.encode import NUMBER_CHARS
from bridge.wire.framing import BODY_BYTES, CRC_DIGITS, count_junk

Positions = npt.NDArray[np.intp]
Chars = npt.NDArray[np.uint8]

_SCHEMA: dict[str, pl.DataType] = {"kind": pl.String(), "seq": pl.UInt32(), "tick": pl.UInt32()}
_NIBBLES = np.full(256, 255, np.uint8)
_NIBBLES[np.frombuffer(b"0123456789ABCDEF", np.uint8)] = np.arange(16, dtype=np.uint8)


@dataclass(frozen=True)
class Sifted:
    """The pieces of a block, by the position of their ``>`` in it."""

    data_starts: Positions
    data_bodies: list[bytes]
    """Bodies of the data lines whose checksum is good; their numbers are not yet judged."""
    data_junk: int
    """Junk bytes behind those lines."""
    other_starts: Positions
    other_ends: Positions


def sift(block: bytes) -> Sifted:
    """Part a block into data lines with a good checksum and all other pieces.

    Args:
        block: whole pieces, its first byte a ``>``.
    """
    chars = np.frombuffer(block, np.uint8)
    starts = np.flatnonzero(chars == ord(">"))
    ends = np.append(starts[1:], len(block))
    stars = np.append(np.flatnonzero(chars == ord("*")), len(block))
    stars = stars[np.searchsorted(stars, starts)]  # the first one after each >
    line_ends = stars + 1 + CRC_DIGITS

    framed = np.flatnonzero((line_ends <= ends) & (stars - starts - 1 <= BODY_BYTES))
    firsts = starts[framed] + 1
    framed = framed[(chars[firsts] == ord("D")) & (chars[firsts + 1] == ord(","))]
    firsts, lasts = starts[framed] + 1, stars[framed]
    bodies = [block[first:last] for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True)]
    sound = _are_digits_of(chars, lasts, np.fromiter(map(crc32, bodies), np.uint32, len(bodies)))
    if not sound.all():
        framed = framed[sound]
        bodies = list(compress(bodies, sound.tolist()))
    others = np.delete(np.arange(len(starts)), framed)
    junk = _count_junk_behind(block, line_ends[framed], ends[framed])
    return Sifted(starts[framed], bodies, junk, starts[others], ends[others])


def _count_junk_behind(block: bytes, line_ends: Positions, ends: Positions) -> int:
    """Return the junk bytes between lines and the next ``>``; most have CR LF there, no more."""
    chars = np.frombuffer(block, np.uint8)
    usual = ends - line_ends == len("\r\n")
    usual &= (chars[ends - 2] == ord("\r")) & (chars[ends - 1] == ord("\n"))
    odd = np.flatnonzero(~usual & (ends > line_ends))
    return sum(count_junk(block[line_ends[i] : ends[i]]) for i in odd.tolist())


def _are_digits_of(
    chars: Chars, stars: Positions, checksums: npt.NDArray[np.uint32]
) -> npt.NDArray[np.bool_]:
    """Return where the eight digits behind a star write the checksum."""
    if not len(stars):
        return np.zeros(0, np.bool_)
    nibbles = _NIBBLES.take(sliding_window_view(chars, CRC_DIGITS)[stars + 1])
    told = (nibbles[:, 0::2] << 4 | nibbles[:, 1::2]).view(">u4").ravel()
    no_digit = nibbles.view(np.uint64).ravel() & np.uint64(0xF0F0F0F0F0F0F0F0)  # looks at all eight at once
    sound: npt.NDArray[np.bool_] = (no_digit == 0) & (told == checksums)
    return sound


def read_plain_numbers(bodies: Sequence[bytes]) -> pl.DataFrame | None:
    """Return the numbers of data bodies, or None where one of them is not as plain as the others.

    polars reads the numbers. It is more lenient than the grammar (it takes ``.5`` and ``5.``, long numbers,
    lines with too few fields), so what it would let through is looked for beforehand.

    Returns:
        Columns ``seq`` and ``tick`` (u32), ``v0``, ``v1``, ... (f64, null where empty), one row a body.
    """
    columns = bodies[0].count(b",") + 1 if bodies else 0
    text = b"\n".join(bodies)
    if columns < len(_SCHEMA) or not _are_plain(np.frombuffer(text, np.uint8), len(bodies), columns):
        return None
    schema = _SCHEMA | {f"v{i}": pl.Float64() for i in range(columns - len(_SCHEMA))}
    try:
        frame = pl.read_csv(text, has_header=False, schema=schema, quote_char=None).drop("kind")
    except pl.exceptions.ComputeError:  # no number, a counter beyond 32 bits, a line with too many fields
        return None
    return None if frame["seq"].null_count() or frame["tick"].null_count() else frame


def _are_plain(chars: Chars, lines: int, columns: int) -> bool:
    """Return whether joined bodies hold short fields of digits, minuses and points between digits.

    Where a minus stands, and that a number has one point, is left to polars; so is a line with too many
    fields, and without one the right number of commas in all leaves no line with too few.
    """
    # one array at a time: many of this size at once cost more to come by than to fill
    counted = [int(np.count_nonzero(chars == ord(char))) for char in ",\nD-"]
    digits, points = chars - np.uint8(ord("0")) <= 9, chars == ord(".")
    counted += [int(np.count_nonzero(digits)), int(np.count_nonzero(points))]
    if counted[:3] != [lines * (columns - 1), lines - 1, lines] or sum(counted) != len(chars):
        return False
    if (points[1:-1] > (digits[:-2] & digits[2:])).any() or points[-1]:
        return False
    # of the characters that are left only comma and line end come before the minus
    return not _has_run(chars >= ord("-"), NUMBER_CHARS + 1)


def _has_run(flags: npt.NDArray[np.bool_], length: int) -> bool:
    """Return whether so many flags, a power of two, are set in a row."""
    step = 1  # each flag stands for so many in a row, twice as many after each round
    while step < length:
        flags = flags[:-step] & flags[step:]
        step *= 2
    return bool(flags.any())

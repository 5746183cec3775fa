"""A sensor's own table: the file of readings and values that its data sheet gives."""

import csv
import re
from pathlib import Path

from bridge.channels.points import Points, ordered
from bridge.errors import BadFile, BadValue

LARGEST_BYTES = 1_000_000
"""A data sheet's table is far smaller [bytes]."""


def read_points(path: Path) -> Points:
    """Read a table of two columns, reading and value.

    The columns are parted by commas, semicolons, tabs or blanks; a comma may be the decimal sign where it parts no
    columns. Lines before the first pair of numbers are headings; empty lines and such with ``#`` in front are
    left out.

    Args:
        path: the file.

    Returns:
        Its points, the readings rising, in the units of the file.

    Raises:
        BadFile: it cannot be read, a line is no pair of numbers, or the points turn back.
    """
    rows = [(number, cells) for number, line in enumerate(_lines(path), 1) if (cells := _cells(line))]
    pairs = [(number, cells, _pair(cells)) for number, cells in rows]
    first = next((i for i, row in enumerate(pairs) if row[2] is not None), len(pairs))
    for number, cells, pair in pairs[first:]:
        if pair is None:
            raise BadFile(
                f"{path}, line {number}: '{' '.join(cells)[:60]}' is no reading and value; write two numbers, such as"
                " -0.5,0.82"
            )
    try:
        return ordered([pair for _, _, pair in pairs[first:] if pair is not None])
    except BadValue as error:
        raise BadFile(f"{path}: {error}") from None


def _lines(path: Path) -> list[str]:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadFile(
            f"{path} cannot be read ({error.strerror or error}); a table's name is taken from the folder of the bike's"
            " file"
        ) from None
    if len(data) > LARGEST_BYTES:
        raise BadFile(
            f"{path} has {len(data)} bytes, too many for a sensor's table of two columns; see the name"
        )
    try:
        return data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise BadFile(f"{path} is no text in UTF-8 (byte {error.start}); save it as UTF-8") from None


def _cells(line: str) -> list[str]:
    """Return the cells of a line; none where it says nothing."""
    line = line.strip()
    if not line or line.startswith("#"):
        return []
    if ";" in line or "\t" in line:
        parts = re.split(r"[;\t]", line)
        return [
            part.strip().replace(",", ".") if re.fullmatch(r"\s*-?\d+,\d+\s*", part) else part.strip()
            for part in parts
        ]
    if "," in line:
        return [cell.strip() for cell in next(csv.reader([line]))]
    return line.split()


def _pair(cells: list[str]) -> tuple[float, float] | None:
    try:
        reading, value = (float(cell) for cell in cells if cell)
    except ValueError:
        return None
    return reading, value

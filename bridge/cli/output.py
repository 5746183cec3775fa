"""How answers are printed: one JSON document, or a table for a person."""

import argparse
import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

WIDTH = 80


def answer(args: argparse.Namespace, document: dict[str, Any], lines: Iterable[str]) -> None:
    """Print an answer as it was asked for.

    Args:
        args: the parsed words; ``--json`` decides.
        document: what JSON says.
        lines: what a person reads.
    """
    if args.json:
        print(json.dumps(document, default=_plain, ensure_ascii=False, allow_nan=False))
    else:
        for line in lines:
            print(line)


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return utc(value)
    raise TypeError(f"{type(value).__name__} has no place in a JSON answer")


def utc(moment: datetime) -> str:
    """Return a UTC moment as ISO 8601 with a Z."""
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def local(moment: datetime) -> str:
    """Return a moment as this machine's clock on the wall shows it."""
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")


def number(value: float | None, decimals: int = 3) -> str:
    """Return a number for a table; a dash where it is not known."""
    return "-" if value is None else f"{value:.{decimals}f}"


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> list[str]:
    """Lay rows out in columns: words to the left, numbers to the right, the last column cut at 80 characters.

    Args:
        head: the columns' names.
        rows: as many cells each; None is printed as a dash.

    Returns:
        Lines, the head first; only the head where there are no rows.
    """
    cells = [["-" if cell is None else str(cell) for cell in row] for row in rows]
    widths = [max(len(line[i]) for line in [list(head), *cells]) for i in range(len(head))]
    right = [bool(cells) and all(_is_number(row[i]) for row in cells) for i in range(len(head))]
    lines = []
    for row in [list(head), *cells]:
        parts = [
            cell.rjust(width) if to_right else cell.ljust(width)
            for cell, width, to_right in zip(row, widths, right, strict=True)
        ]
        line = "  ".join(parts).rstrip()
        lines.append(line if len(line) <= WIDTH else line[: WIDTH - 1] + "…")
    return lines


def _is_number(text: str) -> bool:
    return text == "-" or text.lstrip("+-").replace(".", "", 1).replace("…", "").isdigit()


def wrap(text: str, indent: str = "") -> list[str]:
    """Break a sentence into lines of at most 80 characters."""
    import textwrap  # noqa: PLC0415  # start-up

    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)

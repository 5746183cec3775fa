"""How answers are printed: one JSON document, or a table for a person."""

import argparse
import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from bridge.errors import is_printable, printable

WIDTH = 80


def answer(args: argparse.Namespace, document: dict[str, Any], lines: Iterable[str]) -> None:
    """Print an answer as it was asked for.

    Args:
        args: the parsed words; ``--json`` decides.
        document: what JSON says.
        lines: what a person reads.
    """
    if args.json:
        print(_escaped(json.dumps(document, default=_plain, ensure_ascii=False, allow_nan=False)))
    else:
        for line in lines:
            print(printable(line))


def _escaped(text: str) -> str:
    """Return a JSON document with what a terminal would obey written as JSON's own escapes."""
    if text.isprintable():
        return text
    return "".join(c if is_printable(c) else json.dumps(c)[1:-1] for c in text)


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
    """Lay rows out in columns: words to the left, numbers to the right, on 80 characters.

    Where they need more, the widest columns of words are cut, so that the others stay as they are.

    Args:
        head: the columns' names.
        rows: as many cells each; None is printed as a dash.

    Returns:
        Lines, the head first; only the head where there are no rows.
    """
    cells = [["-" if cell is None else printable(str(cell)) for cell in row] for row in rows]
    right = [bool(cells) and all(_is_number(row[i]) for row in cells) for i in range(len(head))]
    wanted = [max(len(line[i]) for line in [list(head), *cells]) for i in range(len(head))]
    # numbers are of no use when cut
    least = [
        want if to_right else len(name) for want, to_right, name in zip(wanted, right, head, strict=True)
    ]
    widths = _shares(wanted, least, WIDTH - 2 * (len(head) - 1))
    lines = []
    for row in [list(head), *cells]:
        parts = [
            cell.rjust(width) if to_right else _cut(cell, width).ljust(width)
            for cell, width, to_right in zip(row, widths, right, strict=True)
        ]
        lines.append(_cut("  ".join(parts).rstrip(), WIDTH))
    return lines


def _shares(wanted: list[int], least: list[int], room: int) -> list[int]:
    """Return the width of each column: what it wants, or for the widest ones what is left of the room."""
    widths = list(wanted)
    while sum(widths) > room:
        spare = [i for i in range(len(widths)) if widths[i] > least[i]]
        if not spare:
            break
        widths[max(spare, key=lambda i: widths[i])] -= 1
    return widths


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def _is_number(text: str) -> bool:
    return text == "-" or text.lstrip("+-").replace(".", "", 1).replace("…", "").isdigit()


def wrap(text: str, indent: str = "") -> list[str]:
    """Break a sentence into lines of at most 80 characters."""
    import textwrap  # noqa: PLC0415  # start-up

    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)

"""A code for a phone to scan, as a drawing of its own."""

import segno

from dashboard.figures.svg import figure, path, rect

QUIET = 4
"""Width of the empty edge that a scanner needs, in squares (ISO/IEC 18004, published)."""


def code_svg(address: str) -> str:
    """Return the QR code of an address: dark squares on white in every scheme, since a scanner needs them so.

    Args:
        address: what it opens.
    """
    rows = segno.make(address, error="m", micro=False).matrix
    side = float(len(rows) + 2 * QUIET)
    squares = "".join(
        f"M{x + QUIET},{y + QUIET}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    return figure(
        side,
        side,
        f"Code to scan: {address}",
        rect(0.0, 0.0, side, side, fill="#ffffff"),
        path(squares, fill="#000000", shape_rendering="crispEdges"),
        class_="code",
    )

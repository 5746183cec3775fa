"""What the drawings of pulls share: how wide they are, their words at the top, a second axis, ribbons along a curve."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dashboard.figures.chart import Frame, mixture_strip, round_steps
from dashboard.figures.svg import line, path, polygon, rect, text
from dashboard.theme import mixture_colour

Floats = NDArray[np.float64]

NARROW, WIDE = 372.0, 860.0
"""Grids of a drawing for a phone and for a desk [px]: the page shows the one that fits, so words stay readable."""
LINE_PX = 15.0
_LETTER_PX = 6.1
"""Mean width of a letter of the small words [px]."""
LAMBDA = "\N{GREEK SMALL LETTER LAMDA}"


@dataclass(frozen=True)
class Lane:
    """One lambda channel along a pull.

    Attributes:
        name: whose, such as ``cylinder 1``.
        mean: at each engine speed, shape (m,) [1]; nan where there is none.
        low: lower ends of its 95 % interval, shape (m,) [1].
        high: upper ends, shape (m,) [1].
    """

    name: str
    mean: Floats
    low: Floats
    high: Floats


def head(words: Sequence[str], width: float, top: float = 14.0) -> tuple[list[str], float]:
    """Return sentences at the top of a drawing, broken to its width, and where they end [px]."""
    lines = [row for one in words for row in textwrap.wrap(one, int((width - 8.0) / _LETTER_PX))]
    parts = [text(2.0, top + LINE_PX * n, row, class_="small") for n, row in enumerate(lines)]
    return parts, top + LINE_PX * len(lines)


def at_right(frame: Frame, y_range: tuple[float, float], decimals: int, most: int = 4) -> list[str]:
    """Return the numbers of a second axis at the right edge."""
    own = Frame(frame.left, frame.right, frame.top, frame.bottom, frame.x_range, y_range)
    return [
        text(frame.right + 6.0, own.y(value) + 4.0, f"{value:.{decimals}f}", class_="quiet small")
        for value in round_steps(*y_range, most)
    ]


def band(frame: Frame, x: Floats, low: Floats, high: Floats, **style: str | float) -> str:
    """Return the ground between two lines; it is broken where either has no value."""
    shapes = []
    for run in runs(np.isfinite(low) & np.isfinite(high)):
        upper = [(frame.x(a), frame.y(b)) for a, b in zip(x[run].tolist(), high[run].tolist(), strict=True)]
        lower = [(frame.x(a), frame.y(b)) for a, b in zip(x[run].tolist(), low[run].tolist(), strict=True)]
        shapes.append(polygon([*upper, *lower[::-1]], **style))
    return "".join(shapes)


def runs(known: NDArray[np.bool_]) -> list[slice]:
    """Return the stretches of two points or more that are known."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], known, [False])).astype(np.int8)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]


@dataclass(frozen=True)
class Along:
    """A curve on the paper, and the way that stands upright on it.

    Attributes:
        x: places across, shape (n,) [px].
        y: places down, shape (n,) [px].
        across: unit vectors that point away from the rpm axis, shape (n, 2).
    """

    x: Floats
    y: Floats
    across: Floats

    def beside(self, offset: float) -> list[tuple[float, float]]:
        """Return the points that lie beside the curve, above it where the offset is positive [px]."""
        moved = np.column_stack((self.x, self.y)) + offset * self.across
        return [(float(a), float(b)) for a, b in moved]


def along(frame: Frame, x: Floats, y: Floats) -> Along:
    """Return a curve on the paper.

    Args:
        frame: the chart.
        x: values across, shape (n,), two at least.
        y: values upwards, shape (n,).
    """
    px = np.array([frame.x(value) for value in x])
    py = np.array([frame.y(value) for value in y])
    # the direction is that of some steps, since the noise of one would make the ribbon flutter
    reach = np.minimum(np.arange(len(px)), np.minimum(4, np.arange(len(px))[::-1] + 4))
    at = np.arange(len(px))
    after, before = np.minimum(at + 4, len(px) - 1), at - reach
    dx, dy = px[after] - px[before], py[after] - py[before]
    size = np.maximum(np.hypot(dx, dy), 1e-9)
    return Along(px, py, np.column_stack((dy / size, -dx / size)))


def ribbon(curve: Along, values: Floats, inner: float, outer: float) -> str:
    """Return a part of a ribbon: between two distances from the curve, coloured by the mixture.

    Args:
        curve: what it lies on.
        values: lambda at each point, shape (n,) [1]; where there is none the ribbon is open.
        inner: distance of the one edge [px].
        outer: of the other [px].
    """
    low, high = curve.beside(inner), curve.beside(outer)
    parts = []
    for n, (a, b) in enumerate(pairwise(values.tolist())):
        if np.isfinite(a) and np.isfinite(b):
            colour = mixture_colour((a + b) / 2.0)
            shape = [low[n], low[n + 1], high[n + 1], high[n]]
            parts.append(polygon(shape, fill=colour, stroke=colour, stroke_width=0.4))
    return "".join(parts)


def edge(points: Sequence[tuple[float, float]], **style: str | float | None) -> str:
    """Return a line through points on the paper."""
    words = "L".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return path(f"M{words}", fill="none", **style)


def scale_key(left: float, top: float, width: float, low: float, high: float) -> list[str]:
    """Return what the ribbon's colours stand for: a strip from rich to lean with its numbers."""
    parts = mixture_strip((left, top, width, 10.0), low, high)
    parts.append(rect(left, top, width, 10.0, fill="none", stroke="var(--quiet)", stroke_width=0.8))
    for value in round_steps(low, high, 4):
        x = left + width * (value - low) / (high - low)
        parts.append(line(x, top + 10.0, x, top + 13.0, stroke="var(--quiet)"))
        parts.append(text(x, top + 25.0, f"{value:.2f}", class_="quiet small", text_anchor="middle"))
    return parts

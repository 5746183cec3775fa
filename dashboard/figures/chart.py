"""Plain charts of lines on two axes, for what is drawn as SVG: places on the paper, round numbers, paths."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dashboard.figures.svg import line, path, rect, text
from dashboard.theme import mixture_colour

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """Where a chart's values lie on the paper.

    Attributes:
        left: x of the lowest value [px].
        right: x of the highest [px].
        top: y of the highest value [px].
        bottom: y of the lowest [px].
        x_range: lowest and highest value across.
        y_range: lowest and highest value upwards.
    """

    left: float
    right: float
    top: float
    bottom: float
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def x(self, value: float) -> float:
        """Return where a value stands across, held inside the frame [px]."""
        low, high = self.x_range
        share = min(max((value - low) / ((high - low) or 1.0), 0.0), 1.0)
        return self.left + share * (self.right - self.left)

    def y(self, value: float) -> float:
        """Return where a value stands upwards, held inside the frame [px]."""
        low, high = self.y_range
        share = min(max((value - low) / ((high - low) or 1.0), 0.0), 1.0)
        return self.bottom - share * (self.bottom - self.top)


def round_steps(low: float, high: float, most: int) -> list[float]:
    """Return round numbers within a range, evenly spaced.

    Args:
        low: lower end.
        high: upper end, over the lower one.
        most: how many may stand side by side.
    """
    if not high > low:
        return []
    rough = (high - low) / max(most, 1)
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * n for n in (1.0, 2.0, 5.0, 10.0) if size * n >= rough * (1.0 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(n * step, 12) for n in range(first, last + 1)]


def across(frame: Frame, title: str, most: int = 6) -> list[str]:
    """Return the axis along the bottom: its line, round numbers, what they are."""
    parts = [line(frame.left, frame.bottom, frame.right, frame.bottom, stroke="var(--quiet)")]
    for value in round_steps(*frame.x_range, most):
        x = frame.x(value)
        parts.append(line(x, frame.bottom, x, frame.bottom + 4.0, stroke="var(--quiet)"))
        parts.append(
            text(x, frame.bottom + 17.0, f"{value:g}", class_="quiet small", text_anchor="middle"),
        )
    middle = (frame.left + frame.right) / 2.0
    parts.append(text(middle, frame.bottom + 34.0, title, class_="quiet small", text_anchor="middle"))
    return parts


def upwards(frame: Frame, decimals: int, most: int = 4) -> list[str]:
    """Return hair lines with their round numbers at the left."""
    parts = []
    for value in round_steps(*frame.y_range, most):
        y = frame.y(value)
        parts.append(line(frame.left, y, frame.right, y, stroke="var(--hair)"))
        words = f"{value:.{decimals}f}"
        parts.append(text(frame.left - 6.0, y + 4.0, words, class_="quiet small", text_anchor="end"))
    return parts


def mixture_strip(
    box: tuple[float, float, float, float], low: float, high: float, count: int = 40, *, upright: bool = False
) -> list[str]:
    """Return a strip of the plug's own colours, soot for rich and chalk for lean.

    Args:
        box: left, top, width and height of it [px].
        low: lambda at its left end, or where it stands upright at its lower one [1].
        high: at the other end [1].
        count: pieces that it is made of.
        upright: lean is at the top instead of the right.
    """
    left, top, wide, tall = box
    step = (high - low) / count
    parts = []
    for n in range(count):
        colour = mixture_colour(low + (n + 0.5) * step)
        # each reaches a little under the next, so that no gap shows between them
        if upright:
            parts.append(
                rect(left, top + tall * (1.0 - (n + 1) / count), wide, tall / count + 0.5, fill=colour)
            )
        else:
            parts.append(rect(left + wide * n / count, top, wide / count + 0.5, tall, fill=colour))
    return parts


def trace(
    frame: Frame, x: Sequence[float] | Floats, y: Sequence[float] | Floats, **style: str | float
) -> str:
    """Return a line through points; it is broken where a value is not finite."""
    words, pen = [], "M"
    for at, value in zip(np.asarray(x, float).tolist(), np.asarray(y, float).tolist(), strict=True):
        if not (math.isfinite(at) and math.isfinite(value)):
            pen = "M"
            continue
        words.append(f"{pen}{frame.x(at):.1f},{frame.y(value):.1f}")
        pen = "L"
    return path(" ".join(words), fill="none", **style) if words else ""


def whose(cylinder: int) -> str:
    """Return a cylinder's name; 0 stands for all of them by one sensor."""
    return f"cylinder {cylinder}" if cylinder else "all cylinders by one sensor"

"""The nose laid straight: a strip of the picture along the line from tip to seat."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.light import CLIPPED, Array, lightness, luminance

Point = tuple[float, float]
"""x and y in pixels of the upright picture; the middle of its first pixel is 0, 0."""

ROWS = 480
"""Most rows from tip to seat: a row is then a five-hundredth of the nose, far below what a ring needs."""
BEYOND = 0.3
"""How far the strip goes on beyond tip and seat, as a share of the nose."""
ASIDE = 0.5
"""How far it goes to each side, as a share of the nose."""


@dataclass(frozen=True)
class Strip:
    """Lightness on a grid along and across the nose; lengths are shares of the nose."""

    lightness: Array
    """(n, m) CIE L*; nan outside the picture."""
    clipped: NDArray[np.bool_]
    """(n, m) where the camera was at its end."""
    along: Array
    """(n,) 0 at the tip, 1 at the seat."""
    across: Array
    """(m,) 0 on the line from tip to seat."""
    pixels_long: float
    """Length of the nose in the picture [px]."""

    @property
    def inside(self) -> NDArray[np.bool_]:
        """(n,) rows between tip and seat."""
        return (self.along >= 0.0) & (self.along <= 1.0)


def cut_strip(pixels: NDArray[Any], tip: Point, seat: Point, *, rows: int = ROWS) -> Strip:
    """Cut the strip out of a picture, at full resolution or as many rows as are of use.

    Args:
        pixels: (h, w) or (h, w, 3), see ``luminance``.
        tip: where the nose ends [px].
        seat: where it sits in the shell [px].
        rows: most rows from tip to seat.
    """
    from scipy import ndimage  # noqa: PLC0415  # start-up

    start, end = np.array(tip, dtype=np.float64), np.array(seat, dtype=np.float64)
    long = float(np.hypot(*(end - start)))
    n = int(np.clip(round(long), 60, rows))
    along = np.arange(-round(BEYOND * n), n + round(BEYOND * n) + 1) / n
    across = np.arange(-round(ASIDE * n), round(ASIDE * n) + 1) / n
    forth = end - start
    aside = np.array([-forth[1], forth[0]])
    x = start[0] + along[:, None] * forth[0] + across[None, :] * aside[0]
    y = start[1] + along[:, None] * forth[1] + across[None, :] * aside[1]

    height, width = pixels.shape[:2]
    left, right = int(max(x.min() - 2, 0)), int(min(x.max() + 3, width))
    top, bottom = int(max(y.min() - 2, 0)), int(min(y.max() + 3, height))
    step = max(
        1, int(long / n)
    )  # pixels that share one row are averaged first, or noise would be picked at random
    bright = _block_means(luminance(pixels[top:bottom, left:right]), step)
    shift = (step - 1) / 2.0
    where = np.array([(y - top - shift) / step, (x - left - shift) / step])
    sampled = ndimage.map_coordinates(bright, where, order=1, mode="nearest")
    outside = (x < -0.5) | (y < -0.5) | (x > width - 0.5) | (y > height - 0.5)
    light = np.where(outside, np.nan, lightness(sampled))
    return Strip(light, sampled > CLIPPED, along, across, long)


def _block_means(bright: Array, step: int) -> Array:
    if step == 1:
        return bright
    rows, columns = bright.shape[0] // step * step, bright.shape[1] // step * step
    if rows == 0 or columns == 0:
        return bright
    blocks = bright[:rows, :columns].reshape(rows // step, step, columns // step, step)
    return np.asarray(blocks.mean(axis=(1, 3)))

"""From the numbers of a picture to luminance and lightness."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CLIPPED = 0.955
"""Luminance of white from which on a camera's own clipping and glare may hide the surface (common practice)."""


def luminance(pixels: NDArray[Any]) -> Array:
    """Return relative luminance, 0 to 1.

    Args:
        pixels: (h, w) or (h, w, 3) of 8 bits, 16 bits or floats from 0 to 1, in sRGB.

    Source: IEC 61966-2-1, its curve and its luminance weights (published).
    """
    linear = _linear(pixels)
    if linear.ndim == 2:
        return linear
    weights = np.array([0.2126, 0.7152, 0.0722])
    return np.asarray(linear[..., :3] @ weights)


def _linear(pixels: NDArray[Any]) -> Array:
    if pixels.dtype == np.uint8:  # 256 values: a table instead of a power for each pixel
        return np.asarray(_curve(np.arange(256) / 255.0)[pixels])
    if pixels.dtype == np.uint16:
        return _curve(pixels / 65535.0)
    return _curve(np.clip(pixels.astype(np.float64), 0.0, 1.0))


def _curve(value: Array) -> Array:
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lightness(relative: Array) -> Array:
    """Return CIE L* of relative luminance (published: CIE 15)."""
    return np.where(relative > 0.008856, 116.0 * np.cbrt(relative) - 16.0, 903.3 * relative)

"""The slope of a noisy series by Savitzky and Golay, with what it costs: noise that is left, bias that is made.

Over a window of 2 m + 1 even points a parabola is fitted, and its slope in the middle taken (published: Savitzky and
Golay 1964, Analytical Chemistry 36:1627; from memory). A wider window leaves less noise and rounds more off.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def half_window(window_s: float, step_s: float) -> int:
    """Return how many points a window has on each side of its middle, at least 1.

    Args:
        window_s: its width [s].
        step_s: time between points [s].
    """
    return max(1, round(window_s / (2.0 * step_s)))


@lru_cache
def _weights(half: int) -> tuple[Array, Array]:
    """Return the weights of the slope (times the step) and of the value, at places from -half to half."""
    k = np.arange(-half, half + 1, dtype=np.float64)
    s0, s2, s4 = len(k), np.sum(k**2), np.sum(k**4)
    return k / s2, (s4 - s2 * k**2) / (s0 * s4 - s2**2)


def slope(values: Array, step_s: float, half: int) -> Array:
    """Return the slope at each point.

    Args:
        values: even in time, shape (n,).
        step_s: between them [s].
        half: points on each side, as ``half_window``.

    Returns:
        [1/s of the values' unit], shape (n,); nan where the window is not whole.
    """
    return _whole(values, _weights(half)[0], half) / step_s


def smoothed(values: Array, half: int) -> Array:
    """Return the parabola's value in the middle, shape (n,); nan where the window is not whole."""
    if half == 1:  # a parabola goes through its three points
        return _whole(values, np.array([0.0, 1.0, 0.0]), half)
    return _whole(values, _weights(half)[1], half)


def _whole(values: Array, weights: Array, half: int) -> Array:
    out = np.full(len(values), np.nan)
    if len(values) > 2 * half:
        out[half : len(values) - half] = np.convolve(values, weights[::-1], mode="valid")
    return out


def noise_of(values: Array, half: int, smooth: Array | None = None) -> float:
    """Return the standard deviation of the noise in a series: what scatters about the parabolas.

    Args:
        values: even in time, shape (n,).
        half: points on each side.
        smooth: as ``smoothed`` gives it, where it is at hand.

    Returns:
        In the values' unit; nan with fewer than two whole windows, or with windows of three points, which scatter
        about nothing. Noise of points is taken as independent; noise that a logger has smoothed is told too small.
    """
    if half == 1 or len(values) < 2 * half + 2:
        return float("nan")
    left = (values - (smoothed(values, half) if smooth is None else smooth))[half:-half]
    left = left[~np.isnan(left)]
    taken = float(_weights(half)[1][half])
    return float(np.sqrt(left @ left / len(left) / (1.0 - taken))) if len(left) > 1 else float("nan")


def slope_sd(noise_sd: float, step_s: float, half: int) -> float:
    """Return the standard deviation of a slope, sd sqrt(12 / (N (N2 - 1))) / step with N = 2 half + 1 (closed form).

    Args:
        noise_sd: of each value, independent of the next.
        step_s: between values [s].
        half: points on each side.
    """
    n = 2 * half + 1
    return float(noise_sd * np.sqrt(12.0 / (n * (n * n - 1.0))) / step_s)


def value_sd(noise_sd: float, half: int) -> float:
    """Return the standard deviation of ``smoothed``: of a parabola's value in the middle of a window (closed form).

    The sum of the squared weights of a least-squares value is its own middle weight.

    Args:
        noise_sd: of each value, independent of the next.
        half: points on each side.
    """
    return noise_sd if half == 1 else float(noise_sd * np.sqrt(_weights(half)[1][half]))


def bias_of(narrow: Array, wide: Array) -> Array:
    """Return what a window makes a slope differ from the true one, from slopes by it and by one twice as wide.

    The first term of the bias grows as the square of the width, so the wide one has four times as much.

    Args:
        narrow: by the window that is used, shape (n,).
        wide: by one twice as wide, shape (n,).

    Returns:
        Used minus true, shape (n,); nan where one of the two is not whole.
    """
    return (wide - narrow) / 3.0

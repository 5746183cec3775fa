"""Where the nose begins and ends in a strip: where its sides begin and end, and its surface with them."""

from dataclasses import dataclass

import numpy as np

from bridge.plug.photo.edges import Edges
from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Strip

GAP = 0.28
"""Longest piece of the sides that may be out of sight, as behind a black ring on black, as a share."""


@dataclass(frozen=True)
class Ends:
    """Places along a strip, in its own shares."""

    first: float
    last: float
    sharp: bool
    """Its surface ends there with a clear step of lightness, at both ends."""


def find_ends(strip: Strip, edges: Edges) -> Ends | None:
    """Find where the nose begins and ends.

    Returns:
        None where that is not to be seen inside the strip.
    """
    there = _sides(strip, edges)
    rows = _longest(there, strip.along)
    if rows is None:
        return None
    steps = _steps(strip, edges)
    first, sharp_first = _at_step(strip.along, steps, rows[0])
    last, sharp_last = _at_step(strip.along, steps, rows[1])
    if not 0.25 < last - first < 1.55:
        return None
    return Ends(first, last, sharp_first and sharp_last)


def _sides(strip: Strip, edges: Edges) -> Array:
    """Return for each row how much of a step of lightness lies on the two sides, 0 to 1."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    light = np.nan_to_num(strip.lightness, nan=float(np.nanmedian(strip.lightness)))
    pitch = float(strip.across[1] - strip.across[0])
    slope = np.abs(
        ndimage.gaussian_filter(light, (max(0.01 / pitch, 0.7), max(0.01 / pitch, 0.7)), order=(0, 1))
    )
    slope = ndimage.maximum_filter1d(slope, 2 * round(0.012 / pitch) + 1, axis=1)
    rows = np.arange(strip.along.size)
    middle, half = edges.middle(strip.along), edges.half_width(strip.along)
    usual = []
    for sign in (-1.0, 1.0):
        at = np.rint((middle + sign * half - strip.across[0]) / pitch).astype(np.intp)
        seen = slope[rows, np.clip(at, 0, strip.across.size - 1)]
        inside = (strip.along > 0.1) & (strip.along < 0.9)
        usual.append(np.clip(seen / max(0.5 * float(np.median(seen[inside])), 0.1), 0.0, 1.0))
    return np.asarray(0.5 * (usual[0] + usual[1]))


def _longest(there: Array, along: Array) -> tuple[float, float] | None:
    """Return the first and last place of the sides, from the middle outward over gaps that are not too long."""
    good = np.flatnonzero(there > 0.6)
    inside = good[(along[good] > 0.2) & (along[good] < 0.8)]
    if inside.size == 0:
        return None
    last = first = int(inside[inside.size // 2])
    for i in good[good > last]:
        if along[i] - along[last] > (GAP if along[last] < 0.75 else 0.05):
            break
        last = int(i)
    for i in good[good < first][::-1]:
        if along[first] - along[i] > (GAP if along[first] > 0.25 else 0.05):
            break
        first = int(i)
    if first <= 1 or last >= along.size - 2:
        return None  # it runs out of the strip
    return float(along[first]), float(along[last])


def _steps(strip: Strip, edges: Edges) -> Array:
    """Return for each row how steeply lightness changes along the nose, halfway from middle to side."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    light = np.nan_to_num(strip.lightness, nan=float(np.nanmedian(strip.lightness)))
    pitch = float(strip.across[1] - strip.across[0])
    middle, half = edges.middle(strip.along), edges.half_width(strip.along)
    around = np.array([-0.8, -0.7, -0.6, 0.6, 0.7, 0.8])
    columns = (middle[:, None] + half[:, None] * around - strip.across[0]) / pitch
    rows = np.broadcast_to(np.arange(strip.along.size)[:, None], columns.shape)
    profile = np.median(
        ndimage.map_coordinates(light, np.array([rows, columns]), order=1, mode="nearest"), axis=1
    )
    return np.asarray(
        np.abs(ndimage.gaussian_filter1d(profile, max(0.008 / pitch, 0.8), order=1)) * 0.03 / pitch
    )


def _at_step(along: Array, steps: Array, near: float) -> tuple[float, bool]:
    """Return the place of the clearest step near where the sides end, and whether there is one."""
    window = np.abs(along - near) < 0.045
    weight = steps * np.exp(-0.5 * ((along - near) / 0.025) ** 2) * window
    if weight.max() < 3.0:
        return near, False
    return float(along[int(weight.argmax())]), True

"""Where the nose begins and ends in a strip: where its sides begin and end, and its surface with them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.edges import Edges
from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Strip

GAP = 0.28
"""Longest piece of the sides that may be out of sight, as behind a black ring on black, as a share."""
END_GAP = 0.05
"""The same near an end, where nothing as light as the nose lies behind it."""
GOES_ON = 0.85
"""How light the nose must be behind a gap near its end, over its lighter parts."""
BEHIND = 0.05
"""How far it must go on there, as a share."""
UNCHANGED = 0.08
"""Within which share of its lightness a surface is said to go on."""
SIDED = 0.6
"""How much of the usual step both sides of a row need together to be called seen."""
LIGHT = 0.72
"""Share of the lighter parts' lightness from which on a row is light: metal and most rings are darker."""


@dataclass(frozen=True)
class Ends:
    """Places along a strip, in its own shares."""

    first: float
    last: float
    sharp: bool
    """Its surface ends there with a clear step of lightness, at both ends."""
    sided: float
    """Share of its sides that is seen between them."""
    light: float
    """Share of its length that is light, as porcelain is beside a ring."""
    light_ends: bool
    """Both ends are light: it does not run on over metal."""
    level: float
    """Lightness of the lighter parts [L*]."""


def find_ends(strip: Strip, edges: Edges) -> Ends | None:
    """Find where the nose begins and ends.

    Returns:
        None where that is not to be seen inside the strip.
    """
    there = _sides(strip, edges)
    lights = _row_lights(strip, edges)
    rows = _longest(there > SIDED, lights, strip.along)
    if rows is None:
        return None
    steps = _steps(strip, edges)
    first = _where_it_stops(strip.along, lights, rows[0], -1.0)
    last = _where_it_stops(strip.along, lights, rows[1], 1.0)
    if first is None or last is None:
        return None
    rows = first, last
    first, sharp_first = _at_step(strip.along, steps, rows[0])
    last, sharp_last = _at_step(strip.along, steps, rows[1])
    if not 0.25 < last - first < 1.55:
        return None
    inside = (strip.along > first) & (strip.along < last)
    sided = float((there[inside] > SIDED).mean())
    lights = lights[inside]
    level = float(np.quantile(lights, 0.8))
    light = lights > LIGHT * level
    outer = max(1, lights.size // 7)
    light_ends = bool(min(light[:outer].mean(), light[-outer:].mean()) > 0.5)
    return Ends(first, last, sharp_first and sharp_last, sided, float(light.mean()), light_ends, level)


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


def _row_lights(strip: Strip, edges: Edges) -> Array:
    """Return the lightness of each row between the sides [L*]."""
    middle = edges.middle(strip.along)
    half = np.maximum(edges.half_width(strip.along), 2.0 * (strip.across[1] - strip.across[0]))
    columns = np.abs(strip.across[None, :] - middle[:, None]) < 0.8 * half[:, None]
    rows = np.nanmedian(np.where(columns, np.nan_to_num(strip.lightness), np.nan), axis=1)
    return np.asarray(rows)


def _longest(sided: NDArray[np.bool_], lights: Array, along: Array) -> tuple[float, float] | None:
    """Return the first and last place of the sides, from the middle outward over gaps that are not too long.

    Near the ends only what is as light as the rest lies behind a gap: there the electrode and the shell have
    straight sides too.
    """
    good = np.flatnonzero(sided)
    inside = good[(along[good] > 0.2) & (along[good] < 0.8)]
    if inside.size == 0:
        return None
    middle = int(inside[inside.size // 2])
    level = float(np.quantile(lights[inside], 0.8))
    goes_on = _runs(sided & (lights > GOES_ON * level), max(3, round(BEHIND / (along[1] - along[0]))))
    ends = []
    for rows, outward in ((good[good < middle][::-1], -1.0), (good[good > middle], 1.0)):
        reached = middle
        for i in rows:
            far = outward * (along[reached] - 0.5) > 0.25
            gap = abs(along[i] - along[reached])
            if gap > (END_GAP if far and not goes_on[i] else GAP):
                if far and gap <= GAP:
                    continue
                break
            reached = int(i)
        ends.append(float(along[reached]))
    # where it runs out of the strip, the next look is laid along more of it
    return ends[0], ends[1]


def _where_it_stops(along: Array, lights: Array, end: float, outward: float) -> float | None:
    """Return the end, moved on while the surface goes on unchanged; None where it never stops in sight.

    Where the background turns as light as the nose, the sides are lost before the nose ends.
    """
    near = (outward * (end - along) > 0.03) & (outward * (end - along) < 0.1)
    about = np.abs(along - end - 0.015 * outward) < 0.045
    if not near.any() or not about.any():
        return end
    inside = float(np.median(lights[near]))
    same = np.abs(lights - inside) < UNCHANGED * inside
    if not same[about].all():
        return end
    beyond = np.flatnonzero(~same & (outward * (along - end) > 0.0))
    if beyond.size == 0:
        return None
    at = int(beyond[0] if outward > 0 else beyond[-1])
    near_by = max(1, round(0.02 / (along[1] - along[0])))
    around = lights[max(at - near_by, 0)], lights[min(at + near_by, lights.size - 1)]
    if abs(around[1] - around[0]) < UNCHANGED * inside:
        return None  # it fades, as a background does: nothing ends there
    return float(along[at])


def _runs(rows: NDArray[np.bool_], least: int) -> NDArray[np.bool_]:
    """Return the rows that belong to runs of at least so many."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    return np.asarray(ndimage.binary_opening(rows, structure=np.ones(least)))


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

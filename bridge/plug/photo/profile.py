"""Lightness along the nose, freed from uneven light and from the nose's own roundness."""

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.edges import Edges
from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Strip

BAND = 0.88
"""Share of the half width that is looked at: nearer the sides blur mixes in what lies behind."""
MIDDLE = 0.72
"""Share of it that the profile along the nose is taken from: beyond, the surface is seen too slantingly."""
COLUMNS = 35
"""Odd; enough to leave out a highlight or specks without losing the rest."""
OVER = 0.16
"""How far the unrolled band goes on beyond tip and seat, to see where the nose ends."""


@dataclass(frozen=True)
class Unrolled:
    """The nose between its sides, with the light over its width evened out.

    Lightness is kept as log(L* + 16): there uneven light, which multiplies luminance, is a mere sum.
    """

    values: Array
    """(n, COLUMNS) nan where a highlight hides the surface."""
    along: Array
    """(n,) 0 at the tip, 1 at the seat, a little more at both ends."""
    around: Array
    """(COLUMNS,) -1 and 1 are the sides as seen; BAND is where it ends."""
    level: float
    """Lightness of the nose's lighter parts [L*]."""
    hidden: float
    """Share of the band that a highlight hides."""


@dataclass(frozen=True)
class Profile:
    """Lightness along the nose."""

    along: Array
    """(n,) 0 at the tip, 1 at the seat."""
    lightness: Array
    """(n,) L*, evened over the width, on the level of the nose's lighter parts."""
    noise: Array
    """(n,) standard error of each row [L*]."""


def unroll(strip: Strip, edges: Edges) -> Unrolled:
    """Take the band between the sides and even out the light over its width."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    rows = np.flatnonzero((strip.along > -OVER) & (strip.along < 1.0 + OVER))
    along = strip.along[rows]
    around = np.linspace(-BAND, BAND, COLUMNS)
    where = edges.middle(along)[:, None] + edges.half_width(along)[:, None] * around[None, :]
    pitch = strip.across[1] - strip.across[0]
    columns = (where - strip.across[0]) / pitch
    grid = np.array([np.broadcast_to(rows[:, None], columns.shape), columns])
    light = ndimage.map_coordinates(strip.lightness, grid, order=1, mode="nearest")
    clipped = ndimage.map_coordinates(strip.clipped.astype(np.float64), grid, order=1, mode="nearest") > 0.02
    logs = np.log(np.clip(light, 0.0, None) + 16.0)
    # where the whole nose is at the camera's end there is no surface left to take instead
    logs[clipped & ~clipped.all(axis=1, keepdims=True)] = np.nan
    inside = (along >= 0.0) & (along <= 1.0)
    shining = _highlights(logs[inside])
    logs[:, shining] = np.nan
    values = logs - _columns(logs[inside])[None, :]
    level = float(np.exp(np.nanquantile(values[inside], 0.85)) - 16.0)
    return Unrolled(values, along, around, level, float((clipped[inside] | shining).mean()))


def _highlights(logs: Array) -> NDArray[np.bool_]:
    """Return which columns shine above the smooth shading of a round body."""
    import numpy.polynomial.polynomial as poly  # noqa: PLC0415  # beside its use

    with _quiet():
        columns = np.nanmedian(logs, axis=0)
    at = np.linspace(-1, 1, columns.size)
    keep = np.isfinite(columns)
    for _ in range(3):
        if keep.sum() < columns.size // 2:
            break
        smooth = poly.polyval(at, poly.polyfit(at[keep], columns[keep], 3))
        above = np.nan_to_num(columns - smooth, nan=1.0)
        limit = max(0.02, 2.5 * float(np.median(np.abs(above[keep]))))
        keep = above < limit
    shining = ~keep
    shining |= np.convolve(shining, [1, 1, 1], mode="same") > 0
    if shining.mean() > 0.6:  # then it is no highlight but the light
        shining[:] = False
    return shining


def _columns(logs: Array) -> Array:
    """Return how light each column is against the others, rows compared with themselves."""
    with _quiet():
        rows = np.nanmedian(logs, axis=1)
        for _ in range(2):
            columns = np.nanmedian(logs - rows[:, None], axis=0)
            rows = np.nanmedian(logs - columns[None, :], axis=1)
    return np.nan_to_num(columns - np.nanmedian(columns))


def profile_of(
    nose: Unrolled, shift: Array | None = None, span: tuple[float, float] = (-MIDDLE, MIDDLE)
) -> Profile:
    """Take the middle lightness of each row.

    Args:
        nose: the unrolled nose.
        shift: (COLUMNS,) how far each column is moved towards the tip before, as a share of the nose; it
            straightens a ring that is seen from above or sits aslant.
        span: of the columns to take.
    """
    values = nose.values if shift is None else _shifted(nose, shift)
    chosen = (nose.around >= span[0]) & (nose.around <= span[1])
    values = values[:, chosen]
    with _quiet():
        rows = np.nanmedian(values, axis=1)
        scatter = 1.4826 * np.nanmedian(np.abs(values - rows[:, None]), axis=1)
    counted = np.isfinite(values).sum(axis=1)
    good = np.isfinite(rows)
    if not good.any():
        rows, good = np.zeros_like(rows), np.ones_like(good)
    rows = np.interp(nose.along, nose.along[good], rows[good])
    light = np.exp(rows) - 16.0
    # 1.25: a median's standard error against a mean's, for normal scatter
    noise = 1.25 * np.nan_to_num(scatter, nan=1.0) / np.sqrt(np.maximum(counted, 1)) * (light + 16.0)
    return Profile(nose.along, light, noise)


def _shifted(nose: Unrolled, shift: Array) -> Array:
    """Return the band with each column moved towards the tip."""
    out = np.empty_like(nose.values)
    for j, by in enumerate(shift):
        column = nose.values[:, j]
        good = np.isfinite(column)
        if good.sum() < 2:
            out[:, j] = np.nan
            continue
        moved = np.interp(nose.along + by, nose.along[good], column[good], left=np.nan, right=np.nan)
        out[:, j] = moved
    return out


class _quiet(warnings.catch_warnings):  # noqa: N801  # reads as a word: with _quiet():
    """Rows or columns without any value give nan, which is meant."""

    def __enter__(self) -> None:
        super().__enter__()
        warnings.simplefilter("ignore", RuntimeWarning)

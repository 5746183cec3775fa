"""How a ring runs across the nose: aslant, or bowed because the nose leans to the camera or away from it.

A ring on a round nose that leans by an angle is seen as part of an ellipse: on the middle line it is shifted by
the radius times the sine of the angle against where it meets the sides (closed form, parallel projection).
"""

from dataclasses import dataclass

import numpy as np

from bridge.plug.photo.light import Array
from bridge.plug.photo.profile import Unrolled
from bridge.plug.photo.ring import Dip, soft_box

BOW_SD = 0.05
"""How strongly a nose is bowed before the picture is looked at: 15 degrees of lean (common practice, no source)."""
SLANT_SD = 0.06
"""As BOW_SD, for a ring that sits aslant, from the middle to the side."""


@dataclass(frozen=True)
class Arc:
    """The ring's course; lengths are shares of the nose."""

    slant: float
    """How much deeper it lies at the right side than in the middle."""
    bow: float
    """How much deeper it lies in the middle than at the sides, from the lean to the camera."""
    bow_sd: float
    covered: float
    """Share of the width seen on which it is dark."""
    uneven: float
    """How far single columns stray from this course."""
    seen_to: float
    """Up to which share of the half width it is dark on both sides; past it, no column is. 1 where it is all."""

    def shift(self, around: Array) -> Array:
        """Return how much deeper it lies at each column than in the middle."""
        return self.slant * around - self.bow * (1.0 - np.sqrt(1.0 - around**2))


def find_arc(nose: Unrolled, dip: Dip) -> Arc:
    """Follow a dip over the width of the nose.

    Args:
        nose: the unrolled nose.
        dip: as found on the middle of the width.
    """
    arc = Arc(0.0, 0.0, BOW_SD, 1.0, 0.0, 1.0)
    own = np.zeros(nose.around.size)
    for _ in range(4):
        step, dark, sd = _offsets(nose, dip, arc.shift(nose.around))
        own = arc.shift(nose.around) + step
        arc = _course(nose.around, own, dark, sd)
    return arc


def _offsets(nose: Unrolled, dip: Dip, shift: Array) -> tuple[Array, Array, Array]:
    """Return for each column how much deeper its dip lies, how dark it is [L*] and the offset's standard error."""
    reach = 0.75 * dip.width + 0.06
    rows = np.abs(nose.along - dip.middle) < reach
    u = nose.along[rows]
    soft = max(0.25 * dip.width, 0.012)
    off = (u - dip.middle) / reach
    shape = soft_box(u, dip.middle, dip.width, soft)
    slope = np.gradient(shape, u)
    offsets, darks, errors = (np.full(nose.around.size, np.nan) for _ in range(3))
    for j, by in enumerate(shift):
        column = nose.values[:, j]
        good = np.isfinite(column)
        if good.sum() < 10:
            continue
        values = np.exp(np.interp(u + by, nose.along[good], column[good])) - 16.0
        table = np.column_stack([np.ones_like(u), off, off**2, -shape, slope])
        weights, *_ = np.linalg.lstsq(table, values, rcond=None)
        residual = values - table @ weights
        spread = max(float(np.sqrt(np.mean(residual**2))), 0.3)
        inverse = np.linalg.pinv(table.T @ table)
        dark = float(weights[3])
        darks[j] = dark
        if dark > 0.25 * dip.dark:
            offsets[j] = float(np.clip(weights[4] / dark, -0.35 * reach, 0.35 * reach))
            # 3: neighbouring rows share their noise and the light's own wandering
            errors[j] = 3.0 * spread * float(np.sqrt(inverse[4, 4])) / dark
    return offsets, darks, errors


def _course(around: Array, offsets: Array, dark: Array, sd: Array) -> Arc:
    """Fit slant and bow to the columns' offsets, against what is likely beforehand."""
    seen = np.isfinite(dark)
    covered = _covered(dark[seen]) if seen.any() else 0.0
    seen_to = _seen_to(around[seen], dark[seen]) if seen.any() else 1.0
    use = np.isfinite(offsets) & np.isfinite(sd)
    if use.sum() < 6:
        return Arc(0.0, 0.0, BOW_SD, covered, 0.0, seen_to)
    v = around[use]
    table = np.column_stack([np.ones_like(v), v, -(1.0 - np.sqrt(1.0 - v**2))])
    weight = 1.0 / np.hypot(sd[use], 0.004)
    prior = np.diag([0.0, SLANT_SD**-2, BOW_SD**-2])
    for _ in range(4):
        normal = table.T @ (table * (weight**2)[:, None]) + prior
        course = np.linalg.solve(normal, table.T @ (offsets[use] * weight**2))
        stray = (offsets[use] - table @ course) * weight
        # a speck or a patch moves single columns far
        weight = weight / np.sqrt(1.0 + (stray / 2.5) ** 2)
    excess = max(1.0, float(np.sqrt(np.mean(np.minimum(stray, 4.0) ** 2))))
    bow_sd = float(np.sqrt(np.linalg.inv(normal)[2, 2])) * excess
    uneven = float(np.sqrt(np.mean((offsets[use] - table @ course) ** 2)))
    return Arc(float(course[1]), float(course[2]), min(bow_sd, BOW_SD), covered, uneven, seen_to)


def _covered(dark: Array) -> float:
    """Return the share of columns that are at least a third as dark as the darker ones."""
    full = float(np.quantile(dark, 0.75))
    return float((dark > 0.33 * full).mean()) if full > 0 else 0.0


def _seen_to(around: Array, dark: Array) -> float:
    """Return where a ring that is dark in the middle ends alike on both sides: there the nose's true sides are."""
    full = float(np.quantile(dark, 0.75))
    if full <= 0:
        return 1.0
    ends = []
    for sign in (-1.0, 1.0):
        side = sign * around >= 0
        v, share = np.abs(around[side]), dark[side] / full
        order = np.argsort(v)
        v, share = v[order], share[order]
        last = int(np.flatnonzero(share > 0.5).max()) if (share > 0.5).any() else 0
        if last + 4 > v.size or np.max(share[last + 2 :]) > 0.3:
            return 1.0
        ends.append(float(v[last]) + 0.5 * float(v[1] - v[0]))
    return float(np.mean(ends)) if abs(ends[0] - ends[1]) < 0.12 else 1.0

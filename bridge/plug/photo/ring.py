"""A ring in a profile: a dark dip with lighter nose on both sides of it."""

from dataclasses import dataclass, replace

import numpy as np

from bridge.plug.photo.light import Array
from bridge.plug.photo.profile import Profile

TRIM = 0.02
"""Share at both ends that is left out: taps and blur mix in what lies beyond."""
WIDTHS = (0.025, 0.035, 0.05, 0.07, 0.095, 0.13, 0.18, 0.24)
"""Widths that are tried, as shares of the nose."""
HIDDEN = (0.0, 0.07, 0.14)
"""Shares at the seat that may be hidden by the shell's rim; each is tried."""
ENOUGH = 320
"""Rows from which on two neighbours are taken as one."""
PLACES = 3
"""How many places are followed in each."""
DEEPEST = 0.93
"""Share of the nose from which on a ring is the base ring or a shadow at the seat (common practice, no source)."""


@dataclass(frozen=True)
class Dip:
    """The darkest place that could be a ring; lengths are shares of the nose."""

    middle: float
    width: float
    dark: float
    """How much darker than the nose around it [L*]."""
    sd: float
    """Standard error of the middle from the profile's own scatter."""
    strength: float
    """Darkness over its standard error."""
    tip_side: float
    """How much lighter the nose is on the tip's side of it [L*]."""
    seat_side: float
    """How much lighter it is on the seat's side of it [L*]."""
    rival: float
    """Weight of the next likely place elsewhere, over this one's."""
    scatter: float
    """Root mean square of what the fit leaves [L*]."""

    @property
    def two_sided(self) -> float:
        """How much lighter the nose is on the darker of both sides, over the ring's darkness."""
        return min(self.tip_side, self.seat_side) / max(self.dark, 1e-6)

    @property
    def likely(self) -> float:
        """From 0 to 1, how much it looks like a ring: lighter nose on both sides, and not at the very seat."""
        sided = np.clip((self.two_sided - 0.15) / 0.35, 0.0, 1.0)
        deep = np.clip((DEEPEST - self.middle) / 0.02, 0.0, 1.0)
        return float(round(sided * deep * min(1.0, self.strength / 8.0), 2))


def _step(x: Array, soft: float) -> Array:
    from scipy import special  # noqa: PLC0415  # start-up

    return np.asarray(special.ndtr(x / soft))


def soft_box(along: Array, middle: float, width: float, soft: float) -> Array:
    """Return a box of a width with soft edges, 1 where it is darkest if it is wider than it is soft."""
    return _step(along - middle + width / 2, soft) - _step(along - middle - width / 2, soft)


def _ground(along: Array, down: Array) -> Array:
    """Return what a nose without a ring may look like: a gentle curve, and shadows or rings at its very ends.

    Args:
        along: 1 where what is seen of the nose ends at the seat's side.
        down: 0 where it begins at the tip's side.
    """
    u = along - 0.5
    up = 1.0 - along
    parts = [np.ones_like(u), u, u**2]
    parts += [np.exp(-up / 0.035), np.exp(-up / 0.09), np.exp(-down / 0.025), np.exp(-down / 0.07)]
    parts += [_step(k - up, 0.008) for k in (0.03, 0.055)]
    return np.stack(parts, axis=1)


def find_dip(profile: Profile, *, visible: tuple[float, float] = (0.0, 1.0)) -> Dip | None:
    """Find the dip that is most likely a ring.

    Args:
        profile: along the nose.
        visible: the part of the nose that is seen.

    Returns:
        None where nothing is darker than its surroundings.
    """
    # where the nose leans away, the shell's rim hides its seat: what is seen may end before the tap
    dips: list[Dip] = []
    for hidden in HIDDEN:
        dips += _dips(profile, (visible[0], visible[1] - hidden))
        if any(dip.likely >= 0.95 and dip.strength > 25.0 for dip in dips):
            break  # a clear one needs no second look
    if not dips:
        return None
    best = max(dips, key=lambda dip: (dip.likely, dip.strength))
    others = [dip for dip in dips if abs(dip.middle - best.middle) > 0.5 * best.width + 0.05]
    weight = best.dark**2 * best.width * max(best.likely, 0.05)
    rival = max((dip.dark**2 * dip.width * dip.likely / weight for dip in others), default=0.0)
    return replace(best, rival=rival)


def _dips(profile: Profile, visible: tuple[float, float]) -> list[Dip]:
    """Return the best dips of the part that is seen, each followed to its best place."""
    seen = (profile.along > visible[0] + TRIM) & (profile.along < visible[1] - TRIM)
    along, light = profile.along[seen], profile.lightness[seen]
    if along.size < 30:
        return []
    if along.size > ENOUGH:  # neighbours share their noise: half of them tell as much
        along, light = _halved(along), _halved(light)
    basis, _ = np.linalg.qr(_ground(along - visible[1] + 1.0, along - visible[0]))
    left = light - basis @ (basis.T @ light)
    pitch = along[1] - along[0]
    middles = np.arange(visible[0] + 0.045, visible[1] - 0.045, max(pitch, 0.004))
    gains = np.zeros((len(WIDTHS), middles.size))
    for i, width in enumerate(WIDTHS):
        shapes = soft_box(along[:, None] - middles[None, :], 0.0, width, max(0.15 * width, 0.006))
        shapes = shapes - basis @ (basis.T @ shapes)
        size = (shapes**2).sum(axis=0)
        amount = -(left @ shapes) / np.maximum(size, 1e-9)
        gains[i] = np.where((amount > 0) & (size > 0.15 * width / pitch), amount**2 * size, 0.0)
    found = []
    ground = _ground(along - visible[1] + 1.0, along - visible[0])
    highest = float(gains.max())
    for _ in range(PLACES):
        i, j = (int(k) for k in np.unravel_index(int(gains.argmax()), gains.shape))
        if not gains[i, j] > 0.02 * highest:
            break
        dip = _followed(along, light, ground, float(middles[j]), WIDTHS[i])
        if dip is not None:
            found.append(dip)
        gains[:, np.abs(middles - middles[j]) < 0.5 * WIDTHS[i] + 0.04] = 0.0
    return found


def _halved(values: Array) -> Array:
    even = values[: values.size // 2 * 2]
    return np.asarray(even.reshape(-1, 2).mean(axis=1))


def _followed(along: Array, light: Array, ground: Array, first: float, first_width: float) -> Dip | None:
    """Fit middle, width and softness from a first guess on, with the ground beneath."""
    from scipy import optimize  # noqa: PLC0415  # start-up

    def solved(words: Array) -> tuple[Array, Array, Array]:
        shape = soft_box(along, words[0], float(np.exp(words[1])), float(np.exp(words[2])))
        table = np.column_stack([ground, -shape])
        # a little weight on nothing: shapes that are alike shall not grow against each other
        weights: Array = np.asarray(np.linalg.solve(table.T @ table + pull, table.T @ light))
        return light - table @ weights, weights, table

    pull = 1e-3 * np.eye(ground.shape[1] + 1)
    start = np.array([first, np.log(first_width), np.log(max(0.2 * first_width, 0.01))])
    low = [max(first - 0.08, along[0]), np.log(0.015), np.log(0.004)]
    high = [min(first + 0.08, along[-1]), np.log(0.30), np.log(0.06)]
    scale = max(float(np.median(np.abs(solved(start)[0]))) * 1.5, 0.2)
    fit = optimize.least_squares(
        lambda words: solved(words)[0],
        np.clip(start, low, high),
        bounds=(low, high),
        loss="soft_l1",
        f_scale=scale,
        max_nfev=25,
    )
    residual, weights, table = solved(fit.x)
    peak = float(np.max(-table[:, -1]))
    dark = float(weights[-1]) * peak
    if dark <= 0:
        return None
    scatter = float(np.sqrt(np.mean(residual**2)))
    samples = along.size / _correlation(residual)
    per_sample = max(scatter, 0.05) ** 2 * along.size / samples
    # linearised: the middle among all parameters, ground included
    slopes = np.column_stack([table, fit.jac])
    middle_variance = float(np.linalg.pinv(slopes.T @ slopes)[table.shape[1], table.shape[1]]) * per_sample
    # the darkness of this very shape: width and softness can stand for each other, and need not be known for it
    dark_variance = float(np.linalg.pinv(table.T @ table + pull)[-1, -1]) * per_sample * peak**2
    soft = float(np.exp(fit.x[2]))
    middle, width = float(fit.x[0]), _half_height_width(float(np.exp(fit.x[1])), soft)
    tip_side, seat_side = _flanks(along, light, middle, width, soft)
    return Dip(
        middle=middle,
        width=width,
        dark=dark,
        sd=float(np.sqrt(max(middle_variance, 0.0))),
        strength=dark / max(float(np.sqrt(max(dark_variance, 0.0))), 1e-6),
        tip_side=tip_side,
        seat_side=seat_side,
        rival=0.0,
        scatter=scatter,
    )


def _half_height_width(width: float, soft: float) -> float:
    """Return the width at half of the darkness: the box's own, or a bell's where it is all softness."""
    return max(width, 2.355 * soft if width < soft else width)


def _correlation(residual: Array) -> float:
    """Return how many rows share one piece of information: one plus twice the sum of autocorrelations."""
    centred = residual - residual.mean()
    total = float(centred @ centred)
    if total <= 0:
        return 1.0
    length = 1.0
    for lag in range(1, residual.size // 4):
        share = float(centred[lag:] @ centred[:-lag]) / total
        if share < 0.05:
            break
        length += 2.0 * share
    return length


def _flanks(along: Array, light: Array, middle: float, width: float, soft: float) -> tuple[float, float]:
    """Return how much lighter the nose is beside the dip than in its middle, on the tip's and the seat's side."""
    core = np.abs(along - middle) < max(0.25 * width, 0.008)
    reach = 0.5 * width + 1.5 * soft
    span = max(0.06, 0.6 * width)
    dark = float(np.median(light[core])) if core.any() else float(light[np.abs(along - middle).argmin()])
    sides = []
    for sign in (-1.0, 1.0):
        off = sign * (along - middle)
        beside = (off > reach) & (off < reach + span)
        if beside.sum() < 3:
            beside = off >= min(reach, float(off.max()) - 0.012)
        sides.append(float(np.quantile(light[beside], 0.6)) - dark)
    return sides[0], sides[1]

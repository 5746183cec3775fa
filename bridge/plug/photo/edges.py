"""The two sides of the nose in its strip: straight lines, as a nose is a cone or a cylinder."""

from dataclasses import dataclass

import numpy as np

from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Strip

NARROW, WIDE = 0.08, 0.42
"""Half a nose's width as a share of its length, at the least and at the most (common practice)."""
OFF_LINE = 0.025
"""How far the nose's middle lies beside the line between the taps, as a share of its length: a finger's scatter."""
MOST_LINES = 30
SOON_CLEAR = 250.0
"""Slope of lightness over a side [L* a nose's length] that is half as good as any: a step of about 5."""
PIECES = 8
"""Into so many pieces the length is cut, as light may turn a step's sign on the way."""
NARROWER = 0.3
"""How much a half width of the nose's whole length speaks against itself: sides further in come first."""


@dataclass(frozen=True)
class Edges:
    """Where the sides are, as shares of the nose's length, at the tip and at the seat."""

    left_tip: float
    left_seat: float
    right_tip: float
    right_seat: float
    clear: float
    """Mean step of lightness across them [L*]; a small one means that they were not seen."""

    def middle(self, along: Array) -> Array:
        """Return where the middle of the nose lies at each row."""
        return 0.5 * (
            self._at(along, self.left_tip, self.left_seat) + self._at(along, self.right_tip, self.right_seat)
        )

    def half_width(self, along: Array) -> Array:
        """Return half the nose's width at each row."""
        return 0.5 * (
            self._at(along, self.right_tip, self.right_seat) - self._at(along, self.left_tip, self.left_seat)
        )

    def scaled(self, by: float) -> "Edges":
        """Return the sides of a nose that is narrower or wider about the same middle."""
        tip, seat = (self.left_tip + self.right_tip) / 2.0, (self.left_seat + self.right_seat) / 2.0
        return Edges(
            tip + (self.left_tip - tip) * by,
            seat + (self.left_seat - seat) * by,
            tip + (self.right_tip - tip) * by,
            seat + (self.right_seat - seat) * by,
            self.clear,
        )

    @staticmethod
    def _at(along: Array, tip: float, seat: float) -> Array:
        return tip + (seat - tip) * along


def find_edges(strip: Strip, *, off_line: float = OFF_LINE, either_way: bool = False) -> Edges | None:
    """Find the sides of the nose.

    Args:
        strip: along the line from tip to seat.
        off_line: how far the nose's middle may lie beside that line, as a standard deviation.
        either_way: the line may run from seat to tip.

    Returns:
        None where nothing like two sides was seen.
    """
    from scipy import ndimage  # noqa: PLC0415  # start-up

    rows = (strip.along > 0.04) & (strip.along < 0.96)
    light = np.nan_to_num(strip.lightness[rows], nan=float(np.nanmedian(strip.lightness)))
    pitch = strip.across[1] - strip.across[0]
    slope = ndimage.gaussian_filter1d(light, max(0.008 / pitch, 0.7), axis=1, order=1) / pitch
    thin = slice(None, None, max(1, light.shape[0] // 120))
    along = strip.along[rows][thin]
    left = _lines(-strip.across[::-1], -slope[thin, ::-1], along, either_way)
    right = _lines(strip.across, slope[thin], along, either_way)
    best: Edges | None = None
    best_score = -np.inf
    for left_score, left_tip, left_seat in left:
        for right_score, right_tip, right_seat in right:
            score = (left_score + right_score) * _likely(
                (left_tip, left_seat), (right_tip, right_seat), off_line, either_way
            )
            if score > best_score:
                best_score = score
                best = Edges(-left_tip, -left_seat, right_tip, right_seat, 0.0)
    if best is None:
        return None
    return Edges(best.left_tip, best.left_seat, best.right_tip, best.right_seat, _step_over(strip, best))


def _lines(across: Array, slope: Array, along: Array, either_way: bool) -> list[tuple[float, float, float]]:
    """Return the strongest lines on the positive side as (mean step, where at the tip, where at the seat)."""
    places = np.arange(NARROW, WIDE, 0.0075)
    tip, seat = (grid.ravel() for grid in np.meshgrid(places, places, indexing="ij"))
    fits = (np.abs(seat - tip) < 0.22) & ((seat - tip > -0.06) | either_way)
    tip, seat = tip[fits], seat[fits]
    pitch = across[1] - across[0]
    # light or ring may turn the step's sign on the way, so the sum is over pieces of the way
    sums = np.zeros((PIECES, tip.size))
    piece = np.arange(along.size) * PIECES // along.size
    for u, row, part in zip(along, slope, piece, strict=True):
        index = np.rint((tip + (seat - tip) * u - across[0]) / pitch).astype(np.intp)
        sums[part] += row[np.clip(index, 0, row.size - 1)]
    means = np.abs(sums) * PIECES / along.size
    # a strong step further out, such as that of a shell's half, is not better than a clear one
    enough = SOON_CLEAR + 2.0 * float(np.median(means))
    score = (means / (means + enough)).mean(axis=0)
    order = np.argsort(score)[::-1]
    kept: list[int] = []
    for i in order:
        if all(abs(tip[i] - tip[j]) + abs(seat[i] - seat[j]) > 0.02 for j in kept):
            kept.append(int(i))
        if len(kept) == MOST_LINES:
            break
    return [(float(score[i]), float(tip[i]), float(seat[i])) for i in kept]


def _likely(
    left: tuple[float, float], right: tuple[float, float], off_line: float, either_way: bool
) -> float:
    """Return how likely these sides are beforehand: about the taps, no wider at the tip, and no shell's."""
    off = ((right[0] - left[0]) ** 2 + (right[1] - left[1]) ** 2) / 4.0
    tip, seat = (right[0] + left[0]) / 2.0, (right[1] + left[1]) / 2.0
    flared = 0.0 if either_way else max(0.0, tip - seat)
    centred = float(np.exp(-off / (2.0 * off_line**2)))
    return centred * (1.0 - 3.0 * flared) * (1.0 - NARROWER * (tip + seat) / 2.0)


def _step_over(strip: Strip, edges: Edges) -> float:
    """Return the mean step of lightness from just outside the sides to just inside [L*]."""
    rows = np.flatnonzero((strip.along > 0.1) & (strip.along < 0.9))
    middle, half = edges.middle(strip.along[rows]), edges.half_width(strip.along[rows])
    steps = []
    for sign in (-1.0, 1.0):
        inner = np.abs(strip.across[None, :] - (middle + sign * 0.8 * half)[:, None]).argmin(axis=1)
        outer = np.abs(strip.across[None, :] - (middle + sign * 1.2 * half)[:, None]).argmin(axis=1)
        step = strip.lightness[rows, inner] - strip.lightness[rows, outer]
        # the step may turn its sign on the way, where light falls unevenly
        pieces = [piece[np.isfinite(piece)] for piece in np.array_split(step, PIECES)]
        steps.append(float(np.mean([abs(piece.mean()) if piece.size else 0.0 for piece in pieces])))
    return min(steps)

"""Values along pulls laid on even grids of engine speed, all pulls of a session at once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.int64]

_OFF = 0.25
"""What lies in a bin must lie about its middle, within this share of its width."""


def rpm_grid(rpm_from: float, rpm_to: float, step: float) -> Array:
    """Return the multiples of a step whose whole bin lies between two speeds [1/min]."""
    first, last = np.ceil(rpm_from / step + 0.5), np.floor(rpm_to / step - 0.5)
    return np.arange(first, last + 1.0) * step


@dataclass(frozen=True)
class Grids:
    """One grid for each pull, of one step; what is laid on them is told in one flat array, pull after pull."""

    of: tuple[Array, ...]
    """Engine speeds of each, rising [1/min]."""
    step: float

    @property
    def ends(self) -> list[int]:
        """Where each pull ends in a flat array, the last one left out, as ``numpy.split`` takes it."""
        return [int(end) for end in np.cumsum([len(grid) for grid in self.of])[:-1]]

    @property
    def flat(self) -> Array:
        """All speeds, shape (m,) [1/min]."""
        return np.concatenate(self.of) if self.of else np.empty(0)

    def split(self, flat: Array) -> list[Array]:
        """Return a flat array pull by pull."""
        return np.split(flat, self.ends) if self.of else []

    def mean(self, pull: Places, rpm: Array, values: Array) -> tuple[Array, Array]:
        """Return the mean of what lies in each bin, straight between neighbours where a slow log has none about it.

        Args:
            pull: which pull each value is of, rising, shape (n,).
            rpm: shape (n,) [1/min]; nan where there is none.
            values: shape (n,); nan likewise.

        Returns:
            Means and numbers of values, flat, shape (m,); a mean is nan outside what was seen.
        """
        lengths = np.array([len(grid) for grid in self.of], dtype=np.int64)
        firsts = np.array([grid[0] if len(grid) else np.nan for grid in self.of])
        offsets = np.cumsum(lengths) - lengths
        size = int(lengths.sum())
        with np.errstate(invalid="ignore"):
            place = np.rint((rpm - firsts[pull]) / self.step)
            inside = (place >= 0.0) & (place < lengths[pull]) & ~np.isnan(values)
        at = offsets[pull[inside]] + place[inside].astype(np.int64)
        numbers = np.bincount(at, minlength=size).astype(np.float64)
        sums = np.bincount(at, weights=values[inside], minlength=size)
        with np.errstate(invalid="ignore"):
            means = sums / numbers
            beside = np.bincount(
                at, weights=place[inside] - (rpm - firsts[pull])[inside] / self.step, minlength=size
            )
            # a mean of what lies to one side of the bin's middle is not that of the bin
            told = np.abs(beside / numbers) <= _OFF
        # bins that are not told between bins that are
        means[~told] = np.nan
        seen = np.concatenate(([0], np.cumsum(told)))
        of = np.repeat(np.arange(len(self.of)), lengths)
        before, whole = seen[:-1] - seen[offsets[of]], seen[(offsets + lengths)[of]] - seen[offsets[of]]
        empty = ~told & (before > 0) & (before < whole)
        for i in np.unique(of[empty]):
            mine = slice(int(offsets[i]), int(offsets[i] + lengths[i]))
            means[mine] = np.where(empty[mine], self._between(int(i), pull, rpm, values), means[mine])
        return means, numbers

    def _between(self, i: int, pull: Places, rpm: Array, values: Array) -> Array:
        """Return a pull's values straight from one to the next."""
        rows = slice(*np.searchsorted(pull, [i, i + 1]))
        known = ~(np.isnan(rpm[rows]) | np.isnan(values[rows]))
        speeds = rpm[rows][known]
        order = np.argsort(speeds)
        return np.interp(self.of[i], speeds[order], values[rows][known][order], left=np.nan, right=np.nan)


def numbered(spans: Sequence[slice]) -> tuple[Places, Places]:
    """Return the rows of several spans one after another, and which span each is of."""
    if not spans:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    rows = [np.arange(span.start, span.stop) for span in spans]
    return np.concatenate(rows), np.repeat(np.arange(len(spans)), [len(one) for one in rows])

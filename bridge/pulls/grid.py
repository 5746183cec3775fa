"""Values along pulls laid on even grids of engine speed, all pulls of a session at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.int64]
Flags = NDArray[np.bool_]

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

    def placed(self, pull: Places, rpm: Array) -> "Placed":
        """Lay values on the grids by their engine speeds, before anybody says what they are.

        Args:
            pull: which pull each value is of, rising, shape (n,).
            rpm: shape (n,) [1/min]; nan where there is none.
        """
        lengths = np.array([len(grid) for grid in self.of], dtype=np.int64)
        firsts = np.array([grid[0] if len(grid) else np.nan for grid in self.of])
        counts = np.bincount(pull, minlength=len(self.of))
        with np.errstate(invalid="ignore"):
            beside = (rpm - np.repeat(firsts, counts)) / self.step
            place = np.rint(beside)
            inside = (place >= 0.0) & (place < np.repeat(lengths, counts))
        rows = np.flatnonzero(inside)
        place, beside = place[rows], beside[rows]
        offsets = np.cumsum(lengths) - lengths
        at = offsets[pull[rows]] + place.astype(np.int64)
        return Placed(self, pull, rpm, rows, at, place - beside, lengths)


@dataclass(frozen=True)
class Placed:
    """Where values along pulls lie on their grids; several channels of the same rows share it."""

    grids: Grids
    pull: Places
    """Which pull each value is of, shape (n,)."""
    rpm: Array
    """Engine speed of each, shape (n,) [1/min]."""
    rows: Places
    """Those that lie in a bin, shape (k,)."""
    at: Places
    """The bin of each of these, flat over all grids, shape (k,)."""
    beside: Array
    """How far each lies from its bin's middle, in bins, shape (k,)."""
    lengths: Places
    """How many bins each grid has."""

    def mean(self, values: Array) -> tuple[Array, Array]:
        """Return the mean of what lies in each bin, straight between neighbours where a slow log has none about it.

        Args:
            values: shape (n,); nan where there is none.

        Returns:
            Means and numbers of values, flat, shape (m,); a mean is nan outside what was seen.
        """
        own = values[self.rows]
        known = ~np.isnan(own)
        if not known.any():
            size = int(self.lengths.sum())
            return np.full(size, np.nan), np.zeros(size)
        at = self.at
        if known.all():
            numbers, told = self._whole
        else:
            own, at = own[known], at[known]
            numbers, told = self._told(at, self.beside[known])
        sums = np.bincount(at, weights=own, minlength=len(numbers))
        with np.errstate(invalid="ignore"):
            means = sums / numbers
        # bins that are not told between bins that are
        means[~told] = np.nan
        if not told.all():
            self._fill(means, told, values)
        return means, numbers

    @cached_property
    def _whole(self) -> tuple[Array, Flags]:
        """Numbers and told bins of a channel that has a value in each row."""
        return self._told(self.at, self.beside)

    def _told(self, at: Places, beside: Array) -> tuple[Array, Flags]:
        """Return how many values lie in each bin, and whether they lie about its middle."""
        size = int(self.lengths.sum())
        numbers = np.bincount(at, minlength=size).astype(np.float64)
        sums = np.bincount(at, weights=beside, minlength=size)
        with np.errstate(invalid="ignore"):
            # a mean of what lies to one side of the bin's middle is not that of the bin
            return numbers, np.abs(sums / numbers) <= _OFF

    def _fill(self, means: Array, told: Flags, values: Array) -> None:
        """Fill bins that are not told between bins that are."""
        offsets = np.cumsum(self.lengths) - self.lengths
        seen = np.concatenate(([0], np.cumsum(told)))
        of = np.repeat(np.arange(len(self.lengths)), self.lengths)
        before = seen[:-1] - seen[offsets[of]]
        whole = seen[(offsets + self.lengths)[of]] - seen[offsets[of]]
        empty = ~told & (before > 0) & (before < whole)
        for i in np.unique(of[empty]):
            mine = slice(int(offsets[i]), int(offsets[i] + self.lengths[i]))
            means[mine] = np.where(empty[mine], self._between(int(i), values), means[mine])

    def _between(self, i: int, values: Array) -> Array:
        """Return a pull's values straight from one to the next."""
        rows = slice(*np.searchsorted(self.pull, [i, i + 1]))
        rpm, own = self.rpm[rows], values[rows]
        known = ~(np.isnan(rpm) | np.isnan(own))
        speeds = rpm[known]
        order = np.argsort(speeds)
        return np.interp(self.grids.of[i], speeds[order], own[known][order], left=np.nan, right=np.nan)


def numbered(spans: Sequence[slice]) -> tuple[Places, Places]:
    """Return the rows of several spans one after another, and which span each is of."""
    if not spans:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    rows = [np.arange(span.start, span.stop) for span in spans]
    return np.concatenate(rows), np.repeat(np.arange(len(spans)), [len(one) for one in rows])

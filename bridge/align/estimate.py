"""The numbers of ``explain`` estimated from one sensor's readings, with their uncertainty.

Generalized least squares: residuals resemble their neighbours (the sensor's lag on the scatter from cycle to
cycle), so both sides are whitened by the residuals' own autocorrelation; each cell of time has a level and a
slope of its own, so that the slow wander of the mixture says nothing; outliers are weighted down (Huber). The
covariance is a jackknife over cells, so it holds where the model is not quite right.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.align.course import STEP_S, Course, Readings, near
from bridge.align.explain import HIGH, LOW, NUDGE, air_of, arrived, burns, seen_of

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Mask = NDArray[np.bool_]

MIDDLE = np.array(
    [
        0.0,
        0.02,
        np.log(0.10),
        0.08,
        np.log(0.35),
        np.log(0.08),
        np.log(2.5),
        0.9,
        1.15,
        np.log(2.0),
        0.1,
        -0.1,
    ]
)
SPREAD = np.array([0.7, 0.04, 0.6, 0.12, 0.6, 0.8, 0.7, 0.5, 0.2, 0.4, 0.25, 0.25])
"""What is held of them beforehand: wide, so that the ride has the word."""
N = len(MIDDLE)
RICHEST, LEANEST = 0.3, 5.0
_HUBER = 3.0
_FEWEST = 12
OUTLIER_SDS, OUTLIER_LAMBDA = 8.0, 0.04
FOLDS = 5


@dataclass(frozen=True)
class Whitening:
    """What makes the residuals independent: an autoregression, and weights."""

    taps: Array
    """Shape (p + 1,); the first is 1."""
    weight: Array
    """Square roots of the weights by reading, shape (m,)."""


class Problem:
    """Least squares of one sensor's readings: ``theta``, which enters as it will, and ``beta``, the map.

    Attributes:
        used: which readings count, shape (m,).
        rows: those of them that have all neighbours which the whitening needs.
        cells: how many cells of time they come from.
        sd: standard deviation of the whitened residuals, in lambda.
    """

    def __init__(self, course: Course, readings: Readings, columns: Array, ridge: Array, used: Mask) -> None:
        self.course, self.readings, self.columns, self.ridge = course, readings, columns, ridge
        self.used = used
        self.sd = 0.005
        self.base = np.full(len(course.t_s), 1.0 / float(np.median(readings.seen[used])))
        self.white = Whitening(np.array([1.0]), np.ones(len(used)))
        self._settle()

    def _settle(self) -> None:
        """Find which rows have all taps, and the cells of those rows."""
        p = len(self.white.taps) - 1
        whole = self.used.copy()
        for j in range(1, p + 1):
            whole[j:] &= self.used[:-j] & (self.readings.cell[j:] - self.readings.cell[:-j] <= 1)
            whole[:j] = False
        cell = self.readings.cell
        number = np.bincount(cell[whole], minlength=int(cell.max()) + 1)
        whole &= number[cell] >= _FEWEST
        self.rows = np.flatnonzero(whole)
        own = cell[self.rows]
        self.starts = np.flatnonzero(np.concatenate(([True], own[1:] != own[:-1]))) if len(own) else own
        self.weight = self.white.weight[self.rows]
        sizes = np.diff(np.append(self.starts, len(own)))
        self.of_cell = np.repeat(np.arange(len(self.starts)), sizes)
        clock = self.readings.place[self.rows]
        # level and slope of each cell, weighted, orthonormal
        w = self.weight
        norm = np.sqrt(np.add.reduceat(w * w, self.starts)) if len(own) else np.ones(0)
        level = w / norm[self.of_cell]
        centred = w * clock
        centred = centred - level * np.add.reduceat(level * centred, self.starts)[self.of_cell]
        length = np.sqrt(np.add.reduceat(centred**2, self.starts))
        self.level, self.slope = level, centred / np.maximum(length, 1e-9)[self.of_cell]

    @property
    def cells(self) -> int:
        """Return how many cells of time have rows enough."""
        return len(self.starts)

    def prepared(self, values: Array) -> Array:
        """Return values whitened, weighted and without each cell's level and slope: rows by columns."""
        taps, rows = self.white.taps, self.rows
        out = taps[0] * values[rows]
        for j in range(1, len(taps)):
            out = out + taps[j] * values[rows - j]
        flat = out.ndim == 1
        out = (out[:, None] if flat else out) * self.weight[:, None]
        for base in (self.level, self.slope):
            part = np.add.reduceat(base[:, None] * out, self.starts, axis=0)
            out -= base[:, None] * part[self.of_cell]
        prepared: Array = out[:, 0] if flat else out
        return prepared

    def residual(self, theta: Array, beta: Array) -> Array:
        """Return what is left of the readings, whitened and weighted, shape (rows,)."""
        return self.prepared(self.readings.seen - self.explains(theta, self.base + self.columns @ beta))

    def start(self, theta: Array) -> tuple[Array, float]:
        """Return the coefficients of the map at some theta, and the objective."""
        beta = np.zeros(self.columns.shape[1])
        ridge = self.ridge * self.sd
        for _ in range(2):
            x = self.prepared(self.slopes(theta, beta))
            normal = x.T @ x + ridge.T @ ridge
            normal += 1e-9 * np.diag(np.diag(normal) + 1e-12)
            right = x.T @ self.residual(theta, beta) - ridge.T @ (ridge @ beta)
            beta = beta + np.linalg.solve(normal, right)
        return beta, self.objective(theta, beta, self.residual(theta, beta))

    def slopes(self, theta: Array, beta: Array) -> Array:
        """Return how the prediction changes with each coefficient of the map."""
        phi = burns(air_of(self.course, theta), theta, self.base + self.columns @ beta)
        inside = (phi > RICHEST) & (phi < LEANEST)
        return seen_of(self.course, self.readings, theta, self.columns, np.where(inside, 1.0 / phi, 0.0))

    def objective(self, theta: Array, beta: Array, residual: Array) -> float:
        """Return the sum of squares with what is held beforehand."""
        prior = (theta - MIDDLE) / SPREAD
        rough = self.ridge @ beta
        return float(residual @ residual / self.sd**2 + prior @ prior + rough @ rough)

    def explains(self, theta: Array, source: Array) -> Array:
        """Return lambda at the readings, of a mixture that is metered on the course's clock."""
        air = air_of(self.course, theta)
        phi = burns(air, theta, source)
        return arrived(self.course, self.readings, theta, 1.0 / np.clip(phi, RICHEST, LEANEST), air)

    def tangent(self, theta: Array, beta: Array) -> Array:
        """Return how the prediction changes with each number of theta, whitened, shape (rows, N)."""
        source = self.base + self.columns @ beta
        middle = self.explains(theta, source)
        columns = []
        for i in range(N):
            step = NUDGE[i] if theta[i] + NUDGE[i] <= HIGH[i] else -NUDGE[i]
            other = theta.copy()
            other[i] += step
            columns.append((self.explains(other, source) - middle) / step)
        return self.prepared(np.stack(columns, axis=1))

    def climb(
        self, theta: Array, beta: Array, turns: int = 8, enough: float = 0.02
    ) -> tuple[Array, Array, float]:
        """Return the best numbers near some, by damped Gauss-Newton, and their objective.

        It ends where a turn gains less than ``enough``; the objective is a sum of squares in units of the noise,
        so that 1 is a standard error's worth.
        """
        residual = self.residual(theta, beta)
        best = self.objective(theta, beta, residual)
        damping = 1e-3
        for _ in range(turns):
            a, normal = self._system(theta, beta)
            right = a.T @ (residual / self.sd)
            right[:N] -= (theta - MIDDLE) / SPREAD**2
            right[N:] -= self.ridge.T @ (self.ridge @ beta)
            gain = 0.0
            for _ in range(6):
                step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), right)
                tried = np.clip(theta + step[:N], LOW, HIGH), beta + step[N:]
                left = self.residual(*tried)
                value = self.objective(*tried, left)
                if value < best:
                    gain = best - value
                    (theta, beta), residual, best = tried, left, value
                    damping = max(damping / 8.0, 1e-5)
                    break
                damping = max(damping, 1e-3) * 8.0
            if gain < enough:
                break
        return theta, beta, best

    def _system(self, theta: Array, beta: Array) -> tuple[Array, Array]:
        """Return tangent and columns side by side, and the normal matrix with what is held beforehand."""
        a = (
            np.concatenate((self.tangent(theta, beta), self.prepared(self.slopes(theta, beta))), axis=1)
            / self.sd
        )
        normal = a.T @ a
        normal[:N, :N] += np.diag(1.0 / SPREAD**2)
        normal[N:, N:] += self.ridge.T @ self.ridge
        normal += 1e-9 * np.diag(np.diag(normal) + 1e-9)
        return a, normal

    def learn_noise(self, theta: Array, beta: Array) -> None:
        """Take the noise's sd, autocorrelation and outliers from the residuals at some five numbers."""
        self.white = Whitening(np.array([1.0]), np.ones(len(self.used)))
        self._settle()
        residual = self.residual(theta, beta)
        full = np.zeros(len(self.used))
        full[self.rows] = residual
        have = np.zeros(len(self.used), dtype=bool)
        have[self.rows] = True
        scale = 1.4826 * float(np.median(np.abs(residual))) + 1e-6
        clean = np.clip(full, -4 * scale, 4 * scale)
        order = int(np.clip(round(0.12 / self.readings.step_s), 1, 6))
        covariance = np.array([_autocovariance(clean, have, j) for j in range(order + 1)])
        covariance[1:] *= 0.999
        toeplitz = covariance[np.abs(np.subtract.outer(np.arange(order), np.arange(order)))]
        toeplitz = toeplitz + 1e-3 * covariance[0] * np.eye(order)
        taps = np.concatenate(([1.0], -np.linalg.solve(toeplitz, covariance[1:])))
        self.white = Whitening(taps, self.white.weight)
        self._settle()
        residual = self.residual(theta, beta)
        scale = 1.4826 * float(np.median(np.abs(residual))) + 1e-6
        weight = np.ones(len(self.used))
        over = np.abs(residual) / (_HUBER * scale)
        weight[self.rows] = np.sqrt(1.0 / np.maximum(over, 1.0))
        self.white = Whitening(taps, weight)
        self._settle()
        residual = self.residual(theta, beta)
        self.sd = float(
            np.sqrt(residual @ residual / max(1, len(residual) - 2 * self.cells - self.columns.shape[1]))
        )

    def covariance(self, theta: Array, beta: Array) -> tuple[Array, Array]:
        """Return theta's covariance by a jackknife over cells, shape (N, N), and the inverse of the normal matrix.

        A cell is left out by one step from the solution, so that no fit is done again.
        """
        residual = self.residual(theta, beta)
        a, normal = self._system(theta, beta)
        scores = np.add.reduceat(a * (residual / self.sd)[:, None], self.starts, axis=0)
        moved = np.empty((self.cells, N))
        ends = np.append(self.starts[1:], len(a))
        for i, (begin, end) in enumerate(zip(self.starts, ends, strict=True)):
            own = a[begin:end]
            left = normal - own.T @ own
            moved[i] = np.linalg.solve(left + 1e-6 * np.diag(np.diag(normal)), scores[i])[:N]
        centred = moved - moved.mean(axis=0)
        jackknife: Array = (self.cells - 1) / self.cells * centred.T @ centred
        return jackknife, np.asarray(np.linalg.inv(normal), dtype=np.float64)

    def drop_outliers(self, theta: Array, beta: Array) -> None:
        """Leave out what is far from any explanation (a cut, a misfire), with what the sensor remembers of it."""
        white, self.white = self.white, Whitening(np.array([1.0]), np.ones(len(self.used)))
        self._settle()
        residual = np.abs(self.residual(theta, beta))
        scale = 1.4826 * float(np.median(residual))
        bad = np.zeros(len(self.used), dtype=bool)
        bad[self.rows] = residual > max(OUTLIER_SDS * scale, OUTLIER_LAMBDA)
        self.used &= ~near(self.readings.place * STEP_S, bad, 0.2, 0.8)
        self.white = white
        self._settle()

    def explained(self, theta: Array, beta: Array) -> float:
        """Return the correlation of the readings with what is made of them by maps fitted on other cells."""
        white, self.white = self.white, Whitening(np.array([1.0]), np.ones(len(self.used)))
        self._settle()
        x = self.prepared(self.slopes(theta, beta))
        # straight about the fit, with the map's own part taken off
        fixed = self.prepared(self.explains(theta, self.base + self.columns @ beta)) - x @ beta
        seen = self.prepared(self.readings.seen)
        ridge = self.ridge * self.sd
        made = np.zeros(len(seen))
        for fold in range(FOLDS):
            out = self.of_cell % FOLDS == fold
            own = x[~out]
            normal = own.T @ own + ridge.T @ ridge + 1e-9 * np.eye(x.shape[1])
            made[out] = (fixed + x @ np.linalg.solve(normal, own.T @ (seen - fixed)[~out]))[out]
        self.white = white
        self._settle()
        size = float(np.sqrt((made @ made) * (seen @ seen)))
        return float(made @ seen) / size if size > 0.0 else 0.0


def _autocovariance(values: Array, have: Mask, lag: int) -> float:
    both = have & have if lag == 0 else have[lag:] & have[:-lag]
    product = values * values if lag == 0 else values[lag:] * values[:-lag]
    return float(product[both].mean()) if both.any() else 0.0

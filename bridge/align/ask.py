"""One sensor's answer to the question when its charges burned."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from bridge.align.course import FEWEST_READINGS, STEP_S, Course, Readings, overrun_burns
from bridge.align.estimate import MIDDLE, N, Problem
from bridge.align.explain import CYCLE_SHARE, DEAD, LAG, SCALE, SHARE, air_of, map_columns
from bridge.align.fitted import Example

Array = NDArray[np.float64]

FEWEST_CELLS = 4
MODEL_SD_S, MODEL_SHARE = 0.004, 0.025
"""What is wrong with any model of this kind, as a standard uncertainty: so long [s], and this share of the delay.
Found by blind rides."""
_STARTS = ((0.5, 0.05), (0.5, 0.14), (1.5, 0.05), (1.5, 0.14))
_TURNS = 10
_NEAR, _THERE = 0.2, 0.02
# a turn that gains no more is the last one: on the way, and at the end


@dataclass(frozen=True)
class Answer:
    """What one sensor says of the delay."""

    theta: Array
    seconds: float
    """Delay at the median flow under load [s]."""
    sd_s: float
    dead_sd_s: float
    lag_sd_s: float
    explained: float
    axis_s: Array
    """Delays tried, shape (n,) [s]."""
    misfit: Array
    """Sum of squares with each over that with the best, shape (n,) [1]."""
    example: Example


# a wild guess on the way to the best is no number; the climb turns it down
@np.errstate(over="ignore", divide="ignore", invalid="ignore")
def ask(course: Course, readings: Readings, usual: Course, known: Array | None) -> Answer | None:
    """Return the delay that explains a sensor's readings best, or None where too few of them can be used.

    Args:
        course: what was ridden.
        readings: the sensor's.
        usual: the moment that the session's delay is told at.
        known: what another sensor of the same ride came to; a start worth trying first.
    """
    used, with_overrun = overrun_burns(course, readings)
    if used.sum() < FEWEST_READINGS:
        return None
    columns, ridge = map_columns(course, with_overrun=with_overrun)
    problem = Problem(course, readings, columns, ridge, used)
    if problem.cells < FEWEST_CELLS:
        return None
    theta, beta = _best(problem, known)
    problem.drop_outliers(theta, beta)
    if problem.cells < FEWEST_CELLS:
        return None
    problem.learn_noise(theta, beta)
    theta, beta, _ = problem.climb(theta, beta, _TURNS, _THERE)

    def total(at: Array) -> float:
        return dead_s(usual, at) + exp(at[LAG])

    slope = _slope(total, theta)
    lag_slope = np.zeros(N)
    lag_slope[LAG] = exp(theta[LAG])
    covariance, path = problem.covariance(theta, beta)
    seconds = total(theta)
    model = hypot(MODEL_SD_S, MODEL_SHARE * seconds)
    sds = [sqrt(max(float(g @ covariance @ g), 0.0)) for g in (slope, slope - lag_slope, lag_slope)]
    axis_s, misfit = _profile(problem, theta, beta, path, slope, seconds, sds[0])
    return Answer(
        theta,
        seconds,
        hypot(sds[0], model),
        hypot(sds[1], model),
        hypot(sds[2], model),
        problem.explained(theta, beta),
        axis_s,
        misfit,
        _example(problem, theta, beta),
    )


def dead_s(usual: Course, theta: Array) -> float:
    """Return the dead time at the flow of one moment [s]."""
    through = exp(theta[SCALE]) * float(usual.volume[0]) / float(air_of(usual, theta)[0])
    return through + CYCLE_SHARE * float(usual.cycle_s[0]) + float(theta[DEAD])


def _best(problem: Problem, known: Array | None) -> tuple[Array, Array]:
    """Return the best numbers from several starts."""
    tried = []
    if known is not None:
        tried.append((problem.start(known), known))
    else:
        for scale, lag in _STARTS:
            theta = MIDDLE.copy()
            theta[SCALE], theta[LAG], theta[SHARE] = np.log(scale), np.log(lag), 0.1
            tried.append((problem.start(theta), theta))
        tried.sort(key=lambda one: one[0][1])
    (beta, _), theta = tried[0]
    problem.learn_noise(theta, beta)
    climbed = [problem.climb(theta, beta, _TURNS, _NEAR)]
    other = next((one for one in tried[1:] if one[1][LAG] != theta[LAG]), None)
    if other is not None:
        climbed.append(problem.climb(other[1], other[0][0], _TURNS, _NEAR))
    theta, beta, _ = min(climbed, key=lambda one: one[2])
    return theta, beta


def _slope(total: Callable[[Array], float], theta: Array) -> Array:
    middle = total(theta)
    return np.array([(total(theta + 1e-4 * row) - middle) / 1e-4 for row in np.eye(N)])


def _profile(  # noqa: PLR0913, PLR0917  # what the curve is drawn from
    problem: Problem, theta: Array, beta: Array, inverse: Array, slope: Array, seconds: float, sd_s: float
) -> tuple[Array, Array]:
    """Return the misfit by total delay, all else at its best to first order."""
    reach = max(0.05, 4.0 * sd_s)
    away = np.linspace(-min(reach, 0.9 * seconds), reach, 33)
    direction = inverse[:, :N] @ slope
    direction = direction / (slope @ direction[:N])
    values = []
    for step in np.append(away, 0.0):
        moved = problem.residual(theta + step * direction[:N], beta + step * direction[N:])
        values.append(float(moved @ moved))
    misfit = np.array(values)
    return seconds + away, misfit[:-1] / misfit[-1]


def _example(problem: Problem, theta: Array, beta: Array) -> Example:
    """Return the twelve seconds in which the explained lambda moves most."""
    readings = problem.readings
    explained = problem.explains(theta, problem.base + problem.columns @ beta)
    window = max(10, round(12.0 / readings.step_s))
    moved = np.abs(np.diff(explained, prepend=explained[:1])) * problem.used
    sums = np.concatenate(([0.0], np.cumsum(moved)))
    first = int(np.argmax(sums[window:] - sums[:-window])) if len(sums) > window else 0
    rows = slice(first, first + window)
    place = np.clip(np.rint(readings.place[rows]).astype(np.intp), 0, len(problem.course.t_s) - 1)
    t_s = problem.course.t_s[place] + (readings.place[rows] - place) * STEP_S
    used = problem.used[rows]
    seen = np.where(readings.valid[rows], readings.seen[rows], np.nan)
    level = float(np.median((seen - explained[rows])[used])) if used.any() else 0.0
    return Example(t_s, seen, explained[rows] + level)

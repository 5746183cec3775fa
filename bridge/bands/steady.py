"""Which part of a run is steady, and what the rest of it is.

What the sensor says at a moment is a mean over what burned before it, so a reading counts only where the
engine was kept the same long enough. The settings and their reasons stand in ``SteadySettings``.
"""

from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import longest_step_s, typical_period_s
from bridge.model.steady import SteadySettings

STATES = (
    "steady",
    "idle",
    "overrun",
    "opening",
    "closing",
    "settling",
    "cut",
    "cold",
    "not ready",
    "off range",
    "misfire suspected",
    "stopped",
    "no reading",
)
"""What a moment is; exactly one of them holds. ``idle`` and ``steady`` are settled; ``overrun`` is the wheel driving
the engine with the throttle shut, settled or not. ``not ready``, ``off range`` and ``misfire suspected`` are told
of a lambda channel alone."""

SENSOR_STATES = ("ready", "not ready", "off range", "no reading", "misfire suspected")
"""What an oxygen sensor's reading of a moment is."""

SteadyLimits = SteadySettings
DEFAULT_LIMITS = SteadySettings()
# Two of a slow log's periods lie within so many.
_PERIODS = 2.5
# The settings are those of a sensor of this lag [s]; of what a sensor is slower by, so many times more.
_USUAL_LAG_S, _LAGS, _LAGS_OF_AIR = 0.1, 3.0, 6.0


def judge(
    samples: pl.DataFrame,
    later_s: NDArray[np.float64],
    limits: SteadySettings,
    lag_s: float = 0.0,
) -> pl.DataFrame:
    """Say of each moment of a run what the engine does.

    Args:
        samples: ``t_s`` rising [s], ``rpm`` [1/min], ``throttle`` [%], ``cold`` (bool); null where there is no
            reading, and everywhere where there is no such channel.
        later_s: how much later than each row the reading of its charge is taken, shape (n,) [s]; nan where
            that is not known.
        limits: the settings.
        lag_s: of the sensor, as far as the ride shows it [s].

    Returns:
        Two columns for the rows given: ``steady`` (bool: settled, so that a reading counts; also at idle and in
        an overrun) and ``state`` (enum of ``STATES``; of several that hold the first of: no reading,
        stopped, cut, overrun, cold, idle, steady, opening, closing, settling). After a hole in the log settling begins
        anew. Rows further apart than ``settle_s`` / 2 are judged over two of their own periods.
    """
    t_s = samples["t_s"].to_numpy()
    period_s = typical_period_s(t_s)
    blind = samples["throttle"].null_count() == len(samples)
    throttle, rpm = pl.col("throttle"), pl.col("rpm")
    shut = pl.lit(value=False) if blind else throttle <= limits.overrun_throttle_percent
    hole = (pl.col("t_s").diff() > longest_step_s(t_s)).fill_null(value=True)
    quick_s = max(limits.quick_s, 1.5 * period_s)
    window_s = max(limits.settle_s + _LAGS * _slower(lag_s), _PERIODS * period_s)
    cut_s = max(limits.cut_s, _PERIODS * period_s)
    moments = samples.select(
        "throttle",
        "rpm",
        "cold",
        at=(pl.col("t_s") * 1e6).round().cast(pl.Int64),
        hole=hole,
        missing=rpm.is_null() if blind else rpm.is_null() | throttle.is_null(),
        stopped=rpm < limits.stopped_rpm,
        shut=shut,
        overrun=shut & (rpm > limits.overrun_rpm),
    )
    quick = _range("rpm", quick_s) > limits.rpm_per_s * quick_s
    driven = (pl.col("overrun") != pl.col("overrun").shift()).fill_null(value=False)
    upset = pl.any_horizontal("hole", "missing", "stopped", quick)
    calm = pl.lit(value=True) if blind else _range("throttle", window_s) <= limits.throttle_percent
    # an engine with an open throttle loses speed so fast for so long only where the spark is cut
    lost = _over("rpm", cut_s).max - pl.col("rpm")
    over = _over("throttle", quick_s)
    judged = moments.with_columns(
        upset=upset.fill_null(value=True).cast(pl.UInt8),
        driven=driven.cast(pl.UInt8),
        cut=~pl.col("shut") & (lost > limits.rpm_per_s * cut_s),
        opening=throttle - over.min > limits.moving_percent,
        closing=over.max - throttle > limits.moving_percent,
    )
    quiet = (_over("upset", window_s).max == 0) & (
        _over("driven", max(window_s, air_s(limits, lag_s))).max == 0
    )
    judged = judged.with_columns(settled=(calm & quiet).fill_null(value=False))
    ahead = _until(t_s, judged["settled"].to_numpy(), later_s + limits.ahead_s)
    other = pl.any_horizontal("missing", "stopped", "cut", "cold").fill_null(value=True)
    return judged.with_columns(pl.Series("steady", ahead)).select(pl.col("steady") & ~other, _state())


def air_s(limits: SteadySettings, lag_s: float) -> float:
    """Return how long before and after air in the pipe no reading counts, with a sensor of that lag [s]."""
    return limits.air_s + _LAGS_OF_AIR * _slower(lag_s)


def _slower(lag_s: float) -> float:
    return max(0.0, lag_s - _USUAL_LAG_S)


def _state() -> pl.Expr:
    """Return the name of what a moment is; of several that hold, the first."""
    return (
        pl.when("missing")
        .then(pl.lit("no reading"))
        .when("stopped")
        .then(pl.lit("stopped"))
        .when("cut")
        .then(pl.lit("cut"))
        .when("overrun")
        .then(pl.lit("overrun"))
        .when("cold")
        .then(pl.lit("cold"))
        .when(pl.col("steady") & pl.col("shut"))
        .then(pl.lit("idle"))
        .when("steady")
        .then(pl.lit("steady"))
        .when("opening")
        .then(pl.lit("opening"))
        .when("closing")
        .then(pl.lit("closing"))
        .otherwise(pl.lit("settling"))
        .cast(pl.Enum(STATES))
        .alias("state")
    )


class _Over(NamedTuple):
    max: pl.Expr
    min: pl.Expr


def _over(name: str, window_s: float) -> _Over:
    """Return the greatest and the least value of a column within a window up to each row."""
    window = f"{round(window_s * 1e6)}i"
    return _Over(pl.col(name).rolling_max_by("at", window), pl.col(name).rolling_min_by("at", window))


def _range(name: str, window_s: float) -> pl.Expr:
    over = _over(name, window_s)
    return over.max - over.min


def _until(
    t_s: NDArray[np.float64], settled: NDArray[np.bool_], ahead_s: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return whether each row and all that follow it are settled, up to the first one ``ahead_s`` later."""
    if len(t_s) == 0:
        return settled
    last = np.minimum(np.searchsorted(t_s, t_s + ahead_s), len(t_s) - 1)
    unsettled = np.cumsum(~settled)
    none_since: NDArray[np.bool_] = unsettled[last] == unsettled
    return settled & none_since

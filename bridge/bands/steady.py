"""Which part of a run is steady, and what the rest of it is.

What the sensor says at a moment is a mean over what burned before it, so a reading counts only where the
engine was kept the same long enough. The settings and their reasons stand in ``SteadyLimits``.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

STATES = ("steady", "settling", "overrun", "cut ignition", "stopped", "no reading")
"""What a moment is; exactly one of them holds."""

SENSOR_STATES = ("ready", "not ready", "off range", "no reading")
"""What an oxygen sensor's reading of a moment is."""


@dataclass(frozen=True)
class SteadyLimits:
    """What counts as steady running (common practice where no reason is given)."""

    settle_s: float = 0.8
    """Throttle and speed must have been settled for so long [s]: three of the sensor's lags of 0.1 s, after
    which 5 % of the old mixture is left in its reading, and half a second for fuel on the port's wall."""
    ahead_s: float = 0.1
    """... and stay so until the reading that shows the charge was taken, and this much longer [s]: an opening
    flushes the pipe, and what burned since is in the reading already; the delay is known to some 0.05 s."""
    throttle_percent: float = 5.0
    """The opening's range within that time is at most this [%]: noise and a hand's tremble, no movement."""
    rpm_per_s: float = 2000.0
    """Speed may change this fast, since it does at full throttle [1/min per s]. An error of the
    delay of 0.05 s then moves a reading by 100 rpm, a fifth of a default band."""
    quick_s: float = 0.2
    """... over so short a time [s]: a chop or a change of gear shows at once, a speed that trembles
    by 200 rpm passes."""
    overrun_throttle_percent: float = 3.0
    """The throttle counts as shut up to here [%] ..."""
    overrun_rpm: float = 2500.0
    """... and with it shut, an engine this fast is driven by the wheel [1/min]; idle is slower."""
    cut_s: float = 1.0
    """An open engine that loses ``rpm_per_s`` for so long [s] has its spark cut; a change of gear is over by
    then."""
    stopped_rpm: float = 400.0
    """Below this the engine does not run by itself [1/min]."""
    lambda_low: float = 0.6
    """Readings below are off range: no petrol charge this rich fires [1]."""
    lambda_high: float = 1.7
    """Readings above are off range: no homogeneous charge this lean fires, so this is air in the pipe [1]."""


DEFAULT_LIMITS = SteadyLimits()
# Two of a slow log's periods lie within so many.
_PERIODS = 2.5


def judge(
    samples: pl.DataFrame,
    later_s: NDArray[np.float64],
    period_s: float,
    longest_step_s: float,
    limits: SteadyLimits,
) -> pl.DataFrame:
    """Say of each moment of a run what it is.

    Args:
        samples: ``t_s`` rising [s], ``rpm`` [1/min], ``throttle`` [%]; null where there is no reading, and
            everywhere where there is no such channel.
        later_s: how much later than each row the reading of its charge is taken, shape (n,) [s]; nan where
            that is not known.
        period_s: median time between rows [s].
        longest_step_s: rows further apart than this have a hole between them, and settling begins anew [s].
        limits: the settings.

    Returns:
        Two columns for the rows given: ``steady`` (bool) and ``state`` (enum of ``STATES``). Rows further
        apart than ``settle_s`` / 2 are judged over two of their own periods.
    """
    blind = samples["throttle"].null_count() == len(samples)
    throttle, rpm = pl.col("throttle"), pl.col("rpm")
    shut = pl.lit(value=False) if blind else throttle <= limits.overrun_throttle_percent
    hole = (pl.col("t_s").diff() > longest_step_s).fill_null(value=True)
    quick_s = max(limits.quick_s, 1.5 * period_s)
    window_s = max(limits.settle_s, _PERIODS * period_s)
    cut_s = max(limits.cut_s, _PERIODS * period_s)
    moments = samples.select(
        "throttle",
        "rpm",
        at=(pl.col("t_s") * 1e6).round().cast(pl.Int64),
        hole=hole,
        missing=rpm.is_null() if blind else rpm.is_null() | throttle.is_null(),
        stopped=rpm < limits.stopped_rpm,
        overrun=shut & (rpm > limits.overrun_rpm),
        open=~shut,
    )
    quick = _range("rpm", quick_s) > limits.rpm_per_s * quick_s
    upset = pl.any_horizontal("hole", "missing", "stopped", "overrun", quick)
    calm = pl.lit(value=True) if blind else _range("throttle", window_s) <= limits.throttle_percent
    # an engine with an open throttle loses speed so fast for so long only where the spark is cut
    lost = _over("rpm", cut_s).max - pl.col("rpm")
    judged = moments.with_columns(
        upset=upset.fill_null(value=True).cast(pl.UInt8),
        cut=pl.col("open") & (lost > limits.rpm_per_s * cut_s),
    ).with_columns(settled=(calm & (_over("upset", window_s).max == 0)).fill_null(value=False))
    ahead = _until(samples["t_s"].to_numpy(), judged["settled"].to_numpy(), later_s + limits.ahead_s)
    other = pl.any_horizontal("missing", "stopped", "cut", "overrun").fill_null(value=True)
    return judged.with_columns(pl.Series("steady", ahead)).select(pl.col("steady") & ~other, _state())


def _state() -> pl.Expr:
    """Return the name of what a moment is; of several that hold, the first."""
    return (
        pl.when("missing")
        .then(pl.lit("no reading"))
        .when("stopped")
        .then(pl.lit("stopped"))
        .when("cut")
        .then(pl.lit("cut ignition"))
        .when("overrun")
        .then(pl.lit("overrun"))
        .when("steady")
        .then(pl.lit("steady"))
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

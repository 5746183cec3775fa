"""The mixture that a plug lived through, as the oxygen sensor measured it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from bridge.budget import Budget, Component
from bridge.model import PlugLife, Run
from bridge.model.reading_limits import ReadingLimits
from bridge.plug.lived import Lived, live_through
from bridge.plug.sensor import SensorDoubt, sensor_doubt

MEMORY_S = ReadingLimits().memory_s
"""A second counts exp(-age / MEMORY_S), age in running time before the cut; common practice [s]. Each bike may have
its own, ``[reading] memory_s``."""
HISTOGRAM_STEP = 0.005
"""Width of a bin of the distribution [1]."""
# Three decimals are printed; stands in only where the log never changes its value. Common practice.
_COARSE_STEP = 0.001
# Longer blocks bring out a longer memory of the noise, as long as some are left to tell the spread from.
_BLOCKS_S = (1.0, 2.0, 4.0)
_ENOUGH_BLOCKS = 8.0
_ENOUGH_FOR_SPEED = 6.0


@dataclass(frozen=True)
class Measured:
    """The measured lambda over a plug's own exposure.

    ``mean``, ``low``, ``high`` and the sampling figures are None where there is nothing to take a mean of;
    ``because`` then says why.

    Attributes:
        mean: weighted mean of lambda when the charge burned, over steady full throttle [1].
        low: lower end of its 95 % interval, the sensor's own constant error left out [1].
        high: upper end of it [1].
        seconds: steady full throttle with a lambda reading that went into it, unweighted [s].
        budget: sampling, delay and resolution; None without a mean.
        sensor: the doubts about the sensor's own constant errors, which are not in the interval: all of them
            belong to an absolute difference, and those in ``sensor.constant`` cancel against the bike's own history.
        effective_n: as many independent samples would give the same standard error [1]; None where the
            readings vary by less than the sensor's resolution, so that their scatter tells nothing.
        channel: the column it came from.
        engine_wide: the channel stands for the whole engine, an average over its cylinders.
        histogram: ``lambda_from`` [1], ``share`` [1]: the weighted distribution in steps of 0.005.
        because: why there is no mean.
        memory_s: a second counted exp(-age / memory_s) [s].
    """

    mean: float | None
    low: float | None
    high: float | None
    seconds: float
    budget: Budget | None
    sensor: SensorDoubt
    effective_n: float | None
    channel: str | None
    engine_wide: bool
    because: str | None
    histogram: pl.DataFrame = field(compare=False)
    memory_s: float = MEMORY_S

    @property
    def sensor_sd(self) -> float:
        """Standard uncertainty of the sensor's own constant error, accuracy and drift together [1]."""
        return self.sensor.sd


_EMPTY = pl.DataFrame(schema={"lambda_from": pl.Float64, "share": pl.Float64})


def measured(
    life: PlugLife | Sequence[Run],
    cylinder: int | None = None,
    lived: Lived | None = None,
) -> Measured:
    """Return the measured lambda that a plug lived through.

    Each second of steady full throttle counts exp(-age/memory), age in running time before the cut; the memory is 60 s
    unless the bike's ``[reading]`` says otherwise. The
    standard error of sampling is taken between blocks of a second or more, since readings close in time are
    not independent. It holds where the sensor's noise remembers up to about half a second; what wanders more
    slowly belongs to the sensor's own accuracy. How the mixture changes with speed is no error, since the
    plug lived through it; how it wanders besides is taken for one, so the interval is rather too wide.

    Args:
        life: the plug and its runs; or runs alone where no plug is known.
        cylinder: whose lambda; the plug's own where left out.
        lived: what ``live_through`` gave for the same, where it is at hand.

    Returns:
        The mean with its 95 % interval and what it rests on.
    """
    runs = life.runs if isinstance(life, PlugLife) else tuple(life)
    if cylinder is None:
        cylinder = life.fitting.cylinder if isinstance(life, PlugLife) else 1
    lived = lived or live_through(runs, cylinder)
    whose = None if lived.engine_wide else cylinder
    bike = runs[-1].bike if runs else None
    memory_s = bike.reading.memory_s if bike else MEMORY_S
    rows = exposed(lived, memory_s)
    seconds = float(rows["dt_s"].sum())

    def none(because: str) -> Measured:
        return Measured(
            None,
            None,
            None,
            seconds,
            None,
            sensor_doubt(runs, whose),
            None,
            lived.channel,
            lived.engine_wide,
            because,
            _EMPTY,
        )

    if lived.channel is None:
        return none(f"the log has no lambda channel for cylinder {cylinder}")
    if lived.blind is not None:
        return none(f"{lived.blind}, so nobody can tell what this plug lived through")
    if rows.is_empty():
        return none("there is no steady full throttle (95 % and over) with a lambda reading on this plug")
    sampling = _sampling(rows)
    if sampling is None:
        return none(f"{seconds:.1f} s of steady full throttle are too few to tell how sure a mean would be")
    weight = rows["weight"].to_numpy()
    mean, early, late = (
        float(np.average(rows[column].to_numpy(), weights=weight))
        for column in ("lambda", "lambda_early", "lambda_late")
    )
    resolution = Component(
        "the sensor's resolution", (lived.step or _COARSE_STEP) / math.sqrt(12.0), "measured"
    )
    budget = Budget(
        (
            sampling,
            Component("the delay of the sensor", abs(late - early) / 2.0, "measured"),
            resolution,
        ),
    )
    low, high = budget.interval(0.95)
    spread = float(np.average((rows["lambda"].to_numpy() - mean) ** 2, weights=weight))
    tells = spread > resolution.sd**2 and sampling.sd > 0.0
    effective = min(spread / sampling.sd**2, float(rows.height)) if tells else None
    return Measured(
        mean=mean,
        low=mean + low,
        high=mean + high,
        seconds=seconds,
        budget=budget,
        sensor=sensor_doubt(runs, whose, _shares(rows, len(runs))),
        effective_n=effective,
        channel=lived.channel,
        engine_wide=lived.engine_wide,
        because=None,
        histogram=_histogram(rows),
        memory_s=memory_s,
    )


def exposed(lived: Lived, memory_s: float) -> pl.DataFrame:
    """Return what printed the ring: the rows of steady full throttle with a lambda, and how much each counts.

    Args:
        lived: what the logs show of the plug.
        memory_s: a second counts exp(-age / memory_s), age in running time before the cut [s].

    Returns:
        Those rows of ``lived.frame`` with ``weight`` [s].
    """
    since = pl.col("running_s") - pl.col("running_s").last()
    return lived.frame.with_columns(weight=pl.col("dt_s") * (since / memory_s).exp()).filter("printing")


def _shares(rows: pl.DataFrame, count: int) -> list[float]:
    """Return how much each session counts for the mean; the shares add up to 1."""
    by_run = dict(rows.group_by("run").agg(pl.col("weight").sum()).iter_rows())
    return [by_run.get(number, 0.0) / sum(by_run.values()) for number in range(count)]


def _sampling(rows: pl.DataFrame) -> Component | None:
    """Return the standard error of the weighted mean from block to block, or None with under two blocks.

    Batch means, with the longest blocks that leave eight effective ones. Neighbouring blocks still hang
    together a little, which makes the variance short by a share that halves as the blocks double; twice that
    of whole blocks less that of half ones is free of it to first order. The largest of the three is taken.
    """
    spent = 1.0
    if _blocks(rows, _BLOCKS_S[0])[1] >= _ENOUGH_FOR_SPEED:
        rows, spent = _without_speed(rows), 2.0
    enough = [length_s for length_s in _BLOCKS_S if _blocks(rows, length_s)[1] >= _ENOUGH_BLOCKS]
    length_s = enough[-1] if enough else _BLOCKS_S[0]
    spread, number = _blocks(rows, length_s)
    half_spread, half_number = _blocks(rows, length_s / 2.0)
    if number < 2.0:
        return None
    whole = spread * number / (number - spent)
    half = half_spread * half_number / (half_number - spent)
    return Component(
        "sampling", math.sqrt(max(2.0 * whole - half, whole, half)), "measured", df=number - spent
    )


def _blocks(rows: pl.DataFrame, length_s: float) -> tuple[float, float]:
    """Return the spread of the weighted mean from block to block, and the effective number of blocks.

    Each block is one observation of a ratio estimate; the spread is still short of the degrees of freedom.
    """
    blocks = (
        rows.with_columns(since_s=pl.col("t_s") - pl.col("t_s").first().over("stretch"))
        .group_by("stretch", (pl.col("since_s") / length_s).floor().alias("block"))
        .agg(weight=pl.col("weight").sum(), total=(pl.col("weight") * pl.col("lambda")).sum())
    )
    weight, total = blocks["weight"].to_numpy(), blocks["total"].to_numpy()
    spread = np.sum((total - weight * total.sum() / weight.sum()) ** 2) / weight.sum() ** 2
    return float(spread), float(weight.sum() ** 2 / np.sum(weight**2))


def _without_speed(rows: pl.DataFrame) -> pl.DataFrame:
    """Return lambda without its straight-line dependence on engine speed; the weighted mean stays."""
    weight, lambda_ = rows["weight"].to_numpy(), rows["lambda"].to_numpy()
    away = rows["rpm"].to_numpy() - np.average(rows["rpm"].to_numpy(), weights=weight)
    square = np.sum(weight * away**2)
    slope = np.sum(weight * away * lambda_) / square if square > 0.0 else 0.0
    return rows.with_columns(pl.Series("lambda", lambda_ - slope * away))


def _histogram(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the weighted distribution of lambda in steps of 0.005; the shares add up to 1."""
    return (
        rows.group_by(((pl.col("lambda") / HISTOGRAM_STEP).floor() * HISTOGRAM_STEP).alias("lambda_from"))
        .agg(share=pl.col("weight").sum() / rows["weight"].sum())
        .sort("lambda_from")
    )

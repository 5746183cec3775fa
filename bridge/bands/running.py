"""A run as it burned: lambda laid back to its charge, throttle, speed, and what each moment is."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import Delay, filled_in, geometry_delay, longest_step_s, readings_at, typical_period_s
from bridge.bands.steady import DEFAULT_LIMITS, SENSOR_STATES, SteadyLimits, judge
from bridge.channels import find
from bridge.errors import BadValue
from bridge.model import PartState, Run

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Running:
    """What ``prepare`` makes, and what it knows besides."""

    samples: pl.LazyFrame
    """See ``prepare``."""
    delay: Delay
    lambda_columns: tuple[str, ...]
    """``lambda_1``, ... by cylinder, or ``lambda`` where one sensor stands for the engine."""
    egt_columns: tuple[str, ...]
    has_throttle: bool


def prepare(
    run: Run,
    *,
    limits: SteadyLimits = DEFAULT_LIMITS,
    from_s: float | None = None,
    to_s: float | None = None,
) -> pl.LazyFrame:
    """Return a run as it burned, one row a data line.

    Args:
        run: the session; it needs ``rpm``. Throttle and lambda may be missing.
        limits: what counts as steady.
        from_s: leave out what burned before [s].
        to_s: leave out what burned after [s].

    Returns:
        Columns ``t_s`` (when it burned [s]), ``dt_s`` (the time the row stands for; holes do not count [s]),
        ``throttle`` [%] (all null without the channel), ``rpm`` [1/min], each lambda channel of the run under
        its own name (``lambda_1``, ... or ``lambda``; shifted to when the charge burned; null where the
        sensor was not ready, off range or silent), ``sensor_1``, ... (or ``sensor``; enum of
        ``SENSOR_STATES``: why it is null), each ``egt`` channel [Cel], ``steady`` (bool) and ``state``
        (enum of ``STATES``).

    Raises:
        BadValue: the run has no engine speed.
    """
    return running(run, limits=limits, from_s=from_s, to_s=to_s).samples


def running(
    run: Run,
    *,
    limits: SteadyLimits = DEFAULT_LIMITS,
    from_s: float | None = None,
    to_s: float | None = None,
) -> Running:
    """Return what ``prepare`` returns, with the delay and the names of the channels.

    Raises:
        BadValue: the run has no engine speed.
    """
    names = run.samples.collect_schema().names()
    if "rpm" not in names:
        raise BadValue(
            f"session {run.session.id} has no engine speed, so nobody can say when its charges burned;"
            " record or map a channel named rpm",
        )
    lambdas, egts = _channels(names, "lambda"), _channels(names, "egt")
    has_throttle = "throttle" in names
    kept = ["rpm", *(["throttle"] if has_throttle else []), *lambdas, *egts]
    raw = run.samples.select("t_s", *kept).collect()
    t_s = raw["t_s"].to_numpy()
    rpm, throttle = _filled(raw, t_s, "rpm"), _filled(raw, t_s, "throttle") if has_throttle else None
    egt = {name: _filled(raw, t_s, name) for name in egts}
    delay, later = geometry_delay(t_s, rpm, throttle, _mean(list(egt.values())), run.bike, run.setup.weather)
    columns = {"rpm": rpm, "throttle": np.full(len(t_s), np.nan) if throttle is None else throttle, **egt}
    frame = pl.DataFrame(
        {"t_s": t_s, "dt_s": _stands_for(t_s), **{name: _series(values) for name, values in columns.items()}},
    )
    at_s = t_s + later
    for name in lambdas:
        taken = readings_at(t_s, _values(raw, name), at_s)
        frame = frame.with_columns(_judged(name, taken, _ready(run.states, name, at_s), limits))
    frame = frame.hstack(judge(frame, later, typical_period_s(t_s), longest_step_s(t_s), limits))
    low, high = from_s if from_s is not None else -np.inf, to_s if to_s is not None else np.inf
    samples = frame.lazy()
    if from_s is not None or to_s is not None:
        samples = samples.filter(pl.col("t_s").is_between(low, high))
    return Running(samples, delay, lambdas, egts, has_throttle)


def _channels(names: list[str], kind: str) -> tuple[str, ...]:
    """Return the columns of one kind by cylinder; the engine's own only where there is none of a cylinder."""
    found = {name: find(name) for name in names}
    own = {name: hit[1] for name, hit in found.items() if hit and hit[0].name == kind and hit[1] is not None}
    return tuple(sorted(own, key=lambda name: own[name] or 0)) or ((kind,) if kind in names else ())


def _filled(raw: pl.DataFrame, t_s: Array, name: str) -> Array:
    """Return a channel with the fields between its own readings filled in, nan in its holes."""
    return filled_in(t_s, _values(raw, name))


def _values(raw: pl.DataFrame, name: str) -> Array:
    return raw[name].cast(pl.Float64).fill_null(np.nan).to_numpy()


def _mean(channels: list[Array]) -> Array | None:
    """Return the mean of the channels that have a reading, or None where there is no channel."""
    if not channels:
        return None
    stacked = np.stack(channels)
    valid = ~np.isnan(stacked)
    with np.errstate(invalid="ignore"):
        mean: Array = np.where(valid, stacked, 0.0).sum(axis=0) / valid.sum(axis=0)
    return mean


def _stands_for(t_s: Array) -> Array:
    """Return the time to the next row, at most up to what would be a hole [s]."""
    period = typical_period_s(t_s)
    steps = np.append(np.diff(t_s), period)[: len(t_s)]
    return np.where(steps > longest_step_s(t_s), period, steps)


def _series(values: Array) -> pl.Series:
    return pl.Series(values.astype(np.float32), nan_to_null=True)


def _judged(name: str, taken: Array, ready: NDArray[np.bool_], limits: SteadyLimits) -> list[pl.Series]:
    """Return a lambda channel without what is no mixture, and what its sensor was at each reading."""
    off_range = (taken < limits.lambda_low) | (taken > limits.lambda_high)
    sensor = np.select([~ready, np.isnan(taken), off_range], [1, 3, 2], default=0).astype(np.uint8)
    return [
        _series(np.where(sensor == 0, taken, np.nan)).alias(name),
        pl.Series(sensor).cat.to(pl.Enum(SENSOR_STATES)).alias(name.replace("lambda", "sensor")),
    ]


def _ready(states: tuple[PartState, ...], part: str, at_s: Array) -> NDArray[np.bool_]:
    """Return whether a part was ready at the times given; a part that tells no state counts as ready.

    Its first state holds for the time before it too: the logger tells it after the first block of channels.
    """
    own = sorted((state.t_s, state.state == "ready") for state in states if state.part == part)
    if not own:
        return np.ones(len(at_s), dtype=bool)
    edges = np.array([t_s for t_s, _ in own])
    ready = np.array([ok for _, ok in own])
    return ready[np.maximum(np.searchsorted(edges, at_s, side="right") - 1, 0)]

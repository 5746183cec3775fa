"""A run as it burned: lambda laid back to its charge, throttle, speed, and what each moment is."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import (
    Delay,
    Found,
    filled_in,
    longest_step_s,
    readings_at,
    session_delay,
    typical_period_s,
)
from bridge.bands.edges import is_full
from bridge.bands.misfire import suspected
from bridge.bands.readings import MISFIRE, off_range
from bridge.bands.steady import DEFAULT_LIMITS, SENSOR_STATES, STATES, SteadyLimits, air_s, judge
from bridge.channels import find
from bridge.errors import BadValue
from bridge.model import PartState, Run

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Running:
    """What ``prepare`` makes, and what it knows besides."""

    samples: pl.LazyFrame
    """See ``prepare``."""
    found: Found
    """The delay with the fit that it came from."""
    lambda_columns: tuple[str, ...]
    """``lambda_1``, ... by cylinder, or ``lambda`` where one sensor stands for the engine."""
    egt_columns: tuple[str, ...]
    cht_columns: tuple[str, ...]
    has_throttle: bool
    limits: SteadyLimits

    @property
    def delay(self) -> Delay:
        """How much later the sensor says what burned."""
        return self.found.delay


def prepare(
    run: Run,
    *,
    limits: SteadyLimits | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
) -> pl.LazyFrame:
    """Return a run as it burned, one row a data line.

    Args:
        run: the session; it needs ``rpm``. Throttle and lambda may be missing.
        limits: what counts as steady; None for what the bike's file says.
        from_s: leave out what burned before [s].
        to_s: leave out what burned after [s].

    Returns:
        Columns ``t_s`` (when it burned [s]), ``dt_s`` (the time the row stands for; holes do not count [s]),
        ``throttle`` [%] (all null without the channel), ``rpm`` [1/min], each ``egt`` and ``cht`` channel [Cel],
        each lambda channel of the run under its own name (``lambda_1``, ... or ``lambda``; shifted to when the
        charge burned; null where its sensor is not ``ready``), ``sensor_1``, ... (or ``sensor``; enum of
        ``SENSOR_STATES``: why it is null), ``full`` (full throttle, from 95 % on until it falls under 90 %),
        ``steady`` (settled, so that readings count; at idle and in an overrun too), ``state`` (enum of ``STATES``:
        what the engine does) and ``state_lambda_1``, ... (or ``state_lambda``: the same with what is told of
        that sensor alone; only where the engine neither stands nor is driven nor cut).

    Raises:
        BadValue: the run has no engine speed.
    """
    return running(run, limits=limits, from_s=from_s, to_s=to_s).samples


def running(
    run: Run,
    *,
    limits: SteadyLimits | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
    lambdas: Collection[str] | None = None,
) -> Running:
    """Return what ``prepare`` returns, with the delay and the names of the channels.

    Args:
        run: as ``prepare``; its delay is found once, however often it is asked for.
        limits: as ``prepare``.
        from_s: as ``prepare``.
        to_s: as ``prepare``.
        lambdas: lay only these lambda channels back; the delay comes from all of them anyhow. None for all.

    Raises:
        BadValue: the run has no engine speed.
    """
    limits = limits or (DEFAULT_LIMITS if run.bike is None else run.bike.steady)
    names = run.samples.collect_schema().names()
    if "rpm" not in names:
        raise BadValue(
            f"session {run.session.id} has no engine speed, so nobody can say when its charges burned;"
            " record or map a channel named rpm",
        )
    columns, egts, chts = (channels_of(names, kind) for kind in ("lambda", "egt", "cht"))
    others = [name for name in ("throttle", "coolant_temp") if name in names]
    raw = run.samples.select("t_s", "rpm", *others, *columns, *egts, *chts).collect()
    t_s = raw["t_s"].to_numpy()
    known = {name: filled_in(t_s, _values(raw, name)) for name in ("rpm", *others, *egts, *chts)}
    found = _found(run, raw, known, columns, egts)
    at_s = t_s + found.later_s
    throttle = known.get("throttle", np.full(len(t_s), np.nan))
    cold = _cold(t_s, known, egts, chts, limits)
    frame = pl.DataFrame(
        {"t_s": t_s, "dt_s": _stands_for(t_s), "rpm": _series(known["rpm"]), "throttle": _series(throttle)}
        | {name: _series(known[name]) for name in (*egts, *chts)}
        | {"cold": cold, "full": is_full(throttle)},
    )
    lag_s = found.delay.lag_s or 0.0
    engine = judge(frame, found.later_s, limits, lag_s)
    open_ = engine["steady"].to_numpy() & (engine["state"] == "steady").to_numpy()
    state = engine["state"].to_physical().to_numpy()
    for name in columns if lambdas is None else [name for name in columns if name in lambdas]:
        taken = readings_at(t_s, _values(raw, name), at_s)
        why = off_range(at_s, taken, ready_at(run.states, name, at_s), limits, air_s(limits, lag_s))
        egt = known.get(name.replace("lambda", "egt"), known.get("egt"))
        missed = suspected(t_s, np.where(why == 0, taken, np.nan), known["rpm"], egt, open_, limits)
        frame = frame.with_columns(_judged(name, taken, np.where(missed, MISFIRE, why), state))
    frame = frame.drop("cold").hstack(engine)
    samples = frame.lazy()
    if from_s is not None or to_s is not None:
        low, high = from_s if from_s is not None else -np.inf, to_s if to_s is not None else np.inf
        samples = samples.filter(pl.col("t_s").is_between(low, high))
    kept = tuple(name for name in columns if name in frame.columns)
    return Running(samples, found, kept, egts, chts, "throttle" in names, limits)


def delay_of(run: Run) -> Found:
    """Return the delay of a run, the same as ``running`` finds and for the same price.

    Args:
        run: the session; it needs ``rpm``.
    """
    names = run.samples.collect_schema().names()
    columns, egts = (channels_of(names, kind) for kind in ("lambda", "egt"))
    others = [name for name in ("throttle",) if name in names]
    raw = run.samples.select("t_s", "rpm", *others, *columns, *egts).collect()
    t_s = raw["t_s"].to_numpy()
    known = {name: filled_in(t_s, _values(raw, name)) for name in ("rpm", *others, *egts)}
    return _found(run, raw, known, columns, egts)


def _found(
    run: Run, raw: pl.DataFrame, known: dict[str, Array], lambdas: tuple[str, ...], egts: tuple[str, ...]
) -> Found:
    """Return the delay of a run."""
    t_s = raw["t_s"].to_numpy()
    readings = {
        name: np.where(ready_at(run.states, name, t_s), _values(raw, name), np.nan) for name in lambdas
    }
    egt = _mean([known[name] for name in egts])
    return session_delay(t_s, known["rpm"], known.get("throttle"), egt, readings, run.bike, run.setup.weather)


def channels_of(names: list[str], kind: str) -> tuple[str, ...]:
    """Return the columns of one kind by cylinder; the engine's own only where there is none of a cylinder."""
    found = {name: find(name) for name in names}
    own = {name: hit[1] for name, hit in found.items() if hit and hit[0].name == kind and hit[1] is not None}
    return tuple(sorted(own, key=lambda name: own[name] or 0)) or ((kind,) if kind in names else ())


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


def _cold(
    t_s: Array, known: dict[str, Array], egts: tuple[str, ...], chts: tuple[str, ...], limits: SteadyLimits
) -> Flags:
    """Return where the engine is not warm yet: by its heads and its coolant, else by its exhaust, else by time."""
    cold = np.zeros(len(t_s), dtype=bool)
    warm = [(known[name], limits.cold_head_c) for name in chts]
    if "coolant_temp" in known:
        warm.append((known["coolant_temp"], limits.cold_coolant_c))
    for values, limit_c in warm or [(known[name], limits.cold_exhaust_c) for name in egts]:
        cold |= values < limit_c  # no reading is no cold engine
    if not warm and not egts and limits.cold_s > 0.0:
        turns = np.flatnonzero(known["rpm"] >= limits.stopped_rpm)
        cold = t_s < t_s[turns[0]] + limits.cold_s if len(turns) else cold
    return cold


# A sensor's state takes the place of these states of the engine and leaves the others.
_TOLD_BY_THE_SENSOR = [
    STATES.index(name) for name in ("steady", "idle", "opening", "closing", "settling", "cold")
]
_OF_SENSOR = np.array([0, *(STATES.index(name) for name in SENSOR_STATES[1:])], dtype=np.uint8)


def _judged(name: str, taken: Array, why: NDArray[np.uint8], engine: NDArray[np.uint8]) -> list[pl.Series]:
    """Return a lambda channel without what is no mixture, why it is none, and what each moment is to it."""
    state = np.where((why != 0) & np.isin(engine, _TOLD_BY_THE_SENSOR), _OF_SENSOR[why], engine)
    return [
        _series(np.where(why == 0, taken, np.nan)).alias(name),
        _enum(why, SENSOR_STATES).alias(name.replace("lambda", "sensor")),
        _enum(state, STATES).alias(f"state_{name}"),
    ]


def _enum(places: NDArray[np.uint8], names: tuple[str, ...]) -> pl.Series:
    return pl.Series(places.astype(np.uint8)).cat.to(pl.Enum(names))


def ready_at(states: tuple[PartState, ...], part: str, at_s: Array) -> Flags:
    """Return whether a part was ready at the times given; a part that tells no state counts as ready.

    Its first state holds for the time before it too: the logger tells it after the first block of channels.
    """
    own = sorted((state.t_s, state.state == "ready") for state in states if state.part == part)
    if not own:
        return np.ones(len(at_s), dtype=bool)
    edges = np.array([t_s for t_s, _ in own])
    ready = np.array([ok for _, ok in own])
    return ready[np.maximum(np.searchsorted(edges, at_s, side="right") - 1, 0)]

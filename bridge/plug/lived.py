"""The running that a plug lived through: all its sessions in a row, in running time."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import polars as pl

from bridge.bands import running
from bridge.bands.steady import DEFAULT_LIMITS
from bridge.channels import find, lambda_channel
from bridge.model import Run

FULL_PERCENT, SHUT_PERCENT = 95.0, 90.0
"""Full throttle begins at the one and ends under the other [%]."""
AIR_GUARD_S = 0.6
"""Readings so shortly before the sensor sees nothing but air are left out [s]. A cut in gear, where the wheel
keeps the engine turning, shows only there, and until then the readings rise: four of the slowest sensor's
lags. A cut that lets the speed fall shows at once, and needs no such guard."""

FEW_VALUES = 3
"""With no more different readings than this the log does not show the sensor's step."""

_SCHEMA = {
    "run": pl.UInt32,
    "t_s": pl.Float64,
    "dt_s": pl.Float64,
    "rpm": pl.Float64,
    "running": pl.Boolean,
    "full": pl.Boolean,
    "printing": pl.Boolean,
    "lambda": pl.Float64,
    "lambda_early": pl.Float64,
    "lambda_late": pl.Float64,
}


@dataclass(frozen=True)
class Lived:
    """What the logs show of one plug's running.

    Attributes:
        frame: one row a sample in running order: ``run`` (index of the session), ``t_s`` [s of its session],
            ``dt_s`` [s that the row stands for], ``rpm`` [1/min], ``running`` (the engine ran by itself),
            ``running_s`` [s that it had run since the plug was fitted], ``full`` (full throttle),
            ``printing`` (full, steady, with a lambda), ``stretch`` (number of a stretch of it, or not),
            ``lambda`` when the charge burned, and ``lambda_early``, ``lambda_late``: the same with the delay
            one standard uncertainty shorter and longer [1].
        full_throttle_s: full throttle on this plug [s]; None where the log cannot show it.
        gap_s: running from the end of the last full throttle to the end of the log [s]; all of the running
            where there was no full throttle; None where the log cannot show it.
        channel: the lambda column used in the last session; None without one.
        engine_wide: that column stands for the engine as a whole.
        step: the sensor's smallest step in the last log [1]; None where it hardly moved.
        blind: why the log cannot show full throttle; None where it can.
        notes: what else has to be known, one sentence each.
    """

    frame: pl.DataFrame = field(compare=False)
    full_throttle_s: float | None
    gap_s: float | None
    channel: str | None
    engine_wide: bool
    step: float | None
    blind: str | None
    notes: tuple[str, ...] = ()


def live_through(
    runs: Sequence[Run],
    cylinder: int,
    part: tuple[float | None, float | None] = (None, None),
) -> Lived:
    """Lay a plug's sessions end to end.

    Args:
        runs: its sessions, oldest first; at least the one looked at.
        cylinder: the cylinder it was in; the engine's own lambda stands in where the cylinder has none.
        part: look at each session from and to these of its seconds only [s]; None for its start or end.

    Returns:
        What the logs show, with a reason for what they cannot show. A session without throttle or engine
        speed makes the plug's whole life one that the log cannot show.
    """
    names = [run.samples.collect_schema().names() for run in runs]
    channel = lambda_channel(names[-1], cylinder)
    step = None if channel is None else _step(runs[-1].samples, channel)
    blind = _blind(runs, names)
    if blind is not None:
        empty = pl.DataFrame(schema=_SCHEMA | {"running_s": pl.Float64, "stretch": pl.UInt32})
        return Lived(empty, None, None, channel, channel == "lambda", step, blind)
    parts = [_one_run(run, number, cylinder, part) for number, run in enumerate(runs)]
    notes = dict.fromkeys(note for _, note in parts if note)
    hole = (pl.col("t_s").diff() > 1.5 * pl.col("dt_s").shift()).fill_null(value=False)
    frame = pl.concat([part for part, _ in parts]).with_columns(
        running_s=(pl.col("dt_s") * pl.col("running")).cum_sum(),
        stretch=pl.struct("run", "printing", hole.cum_sum().alias("hole")).rle_id(),
    )
    full_s = float(frame.filter("full")["dt_s"].sum())
    whole, until_full = frame["running_s"].to_numpy(), frame.filter("full")["running_s"].to_numpy()
    gap_s = float(whole[-1] if len(whole) else 0.0) - float(until_full[-1] if len(until_full) else 0.0)
    return Lived(frame, full_s, gap_s, channel, channel == "lambda", step, None, tuple(notes))


def _blind(runs: Sequence[Run], names: Sequence[list[str]]) -> str | None:
    """Return why full throttle cannot be seen."""
    needed = {"throttle": "no reading of the throttle", "rpm": "no engine speed (channel rpm)"}
    for run, columns in zip(runs, names, strict=True):
        there = [name for name in needed if name in columns]
        found = run.samples.select(pl.col(there).is_not_null().any()).collect() if there else pl.DataFrame()
        for name, lack in needed.items():
            if name not in there or not found[name].any():
                return f"the log of session {run.session.id} has {lack}"
    return None


def _one_run(
    run: Run, number: int, cylinder: int, part: tuple[float | None, float | None]
) -> tuple[pl.DataFrame, str | None]:
    """Return one session's rows, and what had to be assumed for its delay."""
    names = run.samples.collect_schema().names()
    channel = lambda_channel(names, cylinder)
    others = [
        name for name in names if name != channel and (found := find(name)) and found[0].name == "lambda"
    ]
    burned = running(replace(run, samples=run.samples.drop(others)), from_s=part[0], to_s=part[1])
    samples = burned.samples.collect()
    reading = pl.col(channel).cast(pl.Float64) if channel else pl.lit(None, dtype=pl.Float64)
    engine_runs = (pl.col("rpm") >= DEFAULT_LIMITS.stopped_rpm).fill_null(value=False)
    engine_runs &= pl.col("state") != "cut ignition"
    clean = _clean(channel.replace("lambda", "sensor")) if channel else pl.lit(value=False)
    rows = samples.select(
        pl.lit(number, dtype=pl.UInt32).alias("run"),
        "t_s",
        "dt_s",
        pl.col("rpm").cast(pl.Float64),
        engine_runs.alias("running"),
        (full_throttle(pl.col("throttle")) & engine_runs).alias("full"),
        (pl.col("steady") & reading.is_not_null() & clean).alias("printing"),
        reading.alias("lambda"),
    ).with_columns(printing=pl.col("full") & pl.col("printing"))
    rows = rows.with_columns(
        _read_off(rows, -burned.delay.sd_s).alias("lambda_early"),
        _read_off(rows, burned.delay.sd_s).alias("lambda_late"),
    )
    return rows.select(list(_SCHEMA)), burned.delay.note


def _clean(sensor: str) -> pl.Expr:
    """Return whether a reading is not about to rise to that of air."""
    to_air_s = pl.when(pl.col(sensor) == "off range").then("t_s").fill_null(strategy="backward") - pl.col(
        "t_s"
    )
    return to_air_s.is_null() | (to_air_s > AIR_GUARD_S)


def _read_off(rows: pl.DataFrame, by_s: float) -> pl.Series:
    """Return the lambda column as it would be with a delay longer by ``by_s``."""
    known = rows.drop_nulls("lambda")
    if known.is_empty():
        return rows["lambda"]
    return pl.Series(
        np.interp(rows["t_s"].to_numpy() + by_s, known["t_s"].to_numpy(), known["lambda"].to_numpy())
    )


def full_throttle(throttle: pl.Expr) -> pl.Expr:
    """Return whether the throttle is full: from 95 % on until it falls under 90 %.

    Args:
        throttle: opening [%]; between 90 and 95 % the last of the two that was crossed counts.

    Returns:
        A boolean expression; False where there is no reading.
    """
    crossed = pl.when(throttle >= FULL_PERCENT).then(True).when(throttle < SHUT_PERCENT).then(False)  # noqa: FBT003  # polars takes values so
    return crossed.fill_null(strategy="forward").fill_null(value=False) & throttle.is_not_null()


def _step(samples: pl.LazyFrame, channel: str) -> float | None:
    """Return the smallest step between two readings of a channel [1]; None where it hardly moved."""
    values = samples.select(pl.col(channel).drop_nulls().cast(pl.Float64).unique().sort()).collect()[channel]
    return float(np.diff(values.to_numpy()).min()) if len(values) > FEW_VALUES else None

"""The running that a plug lived through: all its sessions in a row, in running time."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import polars as pl

from bridge.align import filled_in
from bridge.bands import running
from bridge.channels import find, lambda_channel
from bridge.model import Run

ENGINE_LAMBDA = "lambda"
"""The column that stands for the engine as a whole."""

FEW_VALUES = 3
"""With no more different readings than this the log does not show the sensor's step."""

DOING = ("full throttle", "idle", "overrun", "part throttle", "stopped")
"""What an engine does, as far as it colours a nose."""

WarmBy = Literal["head", "coolant", "exhaust", "time"]
"""What tells a warm engine from a cold one, the surest first."""

_SCHEMA: dict[str, pl.DataType | type[pl.DataType]] = {
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
    "doing": pl.Enum(DOING),
    "cold": pl.Boolean,
    "missed": pl.Boolean,
    "head_c": pl.Float64,
    "throttle": pl.Float64,
    "steady": pl.Boolean,
    "egt_c": pl.Float64,
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
            one standard uncertainty shorter and longer [1], ``doing`` (enum of ``DOING``), ``cold`` (the engine
            was), ``missed`` (the charge may not have burned), ``head_c`` (of the coolant where it is recorded, else
            of the head; null without either [Cel]), ``throttle`` [%], ``steady`` (settled, at idle too), ``egt_c`` (of
            the cylinder's own exhaust, else of the engine's; null without either [Cel]).
        full_throttle_s: full throttle on this plug [s]; None where the log cannot show it.
        gap_s: running from the end of the last full throttle to the end of the log [s]; all of the running
            where there was no full throttle; None where the log cannot show it.
        channel: the lambda column used in the last session; None without one.
        engine_wide: that column stands for the engine as a whole.
        step: the sensor's smallest step in the last log [1]; None where it hardly moved.
        blind: why the log cannot show full throttle; None where it can.
        notes: what else has to be known, one sentence each.
        sessions: how many sessions it lived through.
        warm_by: what tells a warm engine from a cold one in the last of them; None where nothing does.
    """

    frame: pl.DataFrame = field(compare=False)
    full_throttle_s: float | None
    gap_s: float | None
    channel: str | None
    engine_wide: bool
    step: float | None
    blind: str | None
    notes: tuple[str, ...] = ()
    sessions: int = 1
    warm_by: WarmBy | None = None


Part = tuple[float | None, float | None]


def _of_cylinders(run: Run) -> list[str]:
    """Return the lambda columns of single cylinders."""
    found = {name: find(name) for name in run.samples.collect_schema().names()}
    return [name for name, hit in found.items() if hit and hit[0].name == "lambda" and hit[1] is not None]


def live_through(
    runs: Sequence[Run],
    cylinder: int,
    part: Part = (None, None),
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
        return Lived(empty, None, None, channel, channel == ENGINE_LAMBDA, step, blind, sessions=len(runs))
    parts = [_one_run(run, number, cylinder, part) for number, run in enumerate(runs)]
    notes = dict.fromkeys(note for _, said in parts for note in said)
    hole = (pl.col("t_s").diff() > 1.5 * pl.col("dt_s").shift()).fill_null(value=False)
    frame = pl.concat([part for part, _ in parts]).with_columns(
        running_s=(pl.col("dt_s") * pl.col("running")).cum_sum(),
        stretch=pl.struct("run", "printing", hole.cum_sum().alias("hole")).rle_id(),
    )
    full_s = float(frame.filter("full")["dt_s"].sum())
    whole, until_full = frame["running_s"].to_numpy(), frame.filter("full")["running_s"].to_numpy()
    gap_s = float(whole[-1] if len(whole) else 0.0) - float(until_full[-1] if len(until_full) else 0.0)
    return Lived(
        frame,
        full_s,
        gap_s,
        channel,
        channel == ENGINE_LAMBDA,
        step,
        None,
        tuple(notes),
        sessions=len(runs),
        warm_by=_warm_by(runs[-1], cylinder),
    )


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


def _one_run(run: Run, number: int, cylinder: int, part: Part) -> tuple[pl.DataFrame, list[str]]:
    """Return one session's rows, and what has to be known of them."""
    channel = lambda_channel(run.samples.collect_schema().names(), cylinder)
    # the engine's own column is left out where a cylinder has one, unless it is all that there is
    asked = replace(run, samples=run.samples.drop(_of_cylinders(run))) if channel == ENGINE_LAMBDA else run
    found = running(asked, from_s=part[0], to_s=part[1], lambdas=[channel] if channel else [])
    samples = found.samples.collect()
    reading = pl.col(channel).cast(pl.Float64) if channel else pl.lit(None, dtype=pl.Float64)
    sensor = pl.col(channel.replace("lambda", "sensor")) if channel else pl.lit(None, dtype=pl.String)
    engine_runs = (pl.col("rpm") >= found.limits.stopped_rpm).fill_null(value=False)
    engine_runs &= pl.col("state") != "cut"
    full = pl.col("full") & engine_runs
    rows = samples.select(
        pl.lit(number, dtype=pl.UInt32).alias("run"),
        "t_s",
        "dt_s",
        pl.col("rpm").cast(pl.Float64),
        engine_runs.alias("running"),
        full.alias("full"),
        (pl.col("steady") & reading.is_not_null()).alias("printing"),
        reading.alias("lambda"),
        (pl.col("steady") & (sensor == "misfire suspected")).fill_null(value=False).alias("missed"),
        _doing(full, engine_runs, found.limits.overrun_throttle_percent).alias("doing"),
        (pl.col("state") == "cold").alias("cold"),
        _head(run, samples["t_s"], cylinder),
        pl.col("throttle").cast(pl.Float64),
        pl.col("steady").fill_null(value=False),
        _egt(found.egt_columns, cylinder),
    ).with_columns(printing=pl.col("full") & pl.col("printing"))
    rows = rows.with_columns(
        _read_off(rows, -found.delay.sd_s).alias("lambda_early"),
        _read_off(rows, found.delay.sd_s).alias("lambda_late"),
    )
    notes = [found.delay.note] if found.delay.note else []
    missed_s = float(rows.filter(pl.col("full") & pl.col("missed"))["dt_s"].sum())
    if missed_s > 0.0:
        notes.append(
            f"{missed_s:.1f} s of full throttle in session {run.session.id} may be misfire and are left out, since a"
            " misfire reads lean: see to the ignition before the jets"
        )
    return rows.select(list(_SCHEMA)), notes


def _doing(full: pl.Expr, engine_runs: pl.Expr, shut_percent: float) -> pl.Expr:
    """Return what the engine does, one of ``DOING``; settled or not, since a nose does not wait for that."""
    return (
        pl.when(full)
        .then(pl.lit("full throttle"))
        .when(~engine_runs)
        .then(pl.lit("stopped"))
        .when(pl.col("state") == "overrun")
        .then(pl.lit("overrun"))
        .when((pl.col("throttle") <= shut_percent).fill_null(value=False))
        .then(pl.lit("idle"))
        .otherwise(pl.lit("part throttle"))
        .cast(pl.Enum(DOING))
    )


def _warm_channel(run: Run, cylinder: int) -> str | None:
    """Return the channel that says how hot the engine is: the coolant's where there is one, else the head's."""
    names = run.samples.collect_schema().names()
    return next((name for name in ("coolant_temp", f"cht_{cylinder}", "cht") if name in names), None)


def _warm_by(run: Run, cylinder: int) -> WarmBy | None:
    """Return what tells warm from cold in a session; see ``bridge.bands`` for how."""
    kinds = {hit[0].name for name in run.samples.collect_schema().names() if (hit := find(name))}
    if _warm_channel(run, cylinder) is not None:
        return "coolant" if "coolant_temp" in kinds else "head"
    if {"cht", "egt"} & kinds:
        return "head" if "cht" in kinds else "exhaust"
    return "time" if run.bike is not None and run.bike.steady.cold_s > 0.0 else None


def _head(run: Run, at_s: pl.Series, cylinder: int) -> pl.Series:
    """Return how hot head or coolant were at the times given; null without such a channel [Cel]."""
    name = _warm_channel(run, cylinder)
    if name is None:
        return pl.Series("head_c", [None] * len(at_s), dtype=pl.Float64)
    raw = run.samples.select("t_s", pl.col(name).cast(pl.Float64).fill_null(np.nan)).collect()
    t_s = raw["t_s"].to_numpy()
    values = np.interp(at_s.to_numpy(), t_s, filled_in(t_s, raw[name].to_numpy()))
    return pl.Series("head_c", values, nan_to_null=True)


def _egt(columns: Sequence[str], cylinder: int) -> pl.Expr:
    """Return how hot a cylinder's exhaust gas was [Cel]; null where neither its own nor the engine's is recorded."""
    name = next((name for name in (f"egt_{cylinder}", "egt") if name in columns), None)
    values = pl.col(name).cast(pl.Float64) if name else pl.lit(None, dtype=pl.Float64)
    return values.alias("egt_c")


def _read_off(rows: pl.DataFrame, by_s: float) -> pl.Series:
    """Return the lambda column as it would be with a delay longer by ``by_s``."""
    known = rows.drop_nulls("lambda")
    if known.is_empty():
        return rows["lambda"]
    return pl.Series(
        np.interp(rows["t_s"].to_numpy() + by_s, known["t_s"].to_numpy(), known["lambda"].to_numpy())
    )


def _step(samples: pl.LazyFrame, channel: str) -> float | None:
    """Return the smallest step between two readings of a channel [1]; None where it hardly moved."""
    values = samples.select(pl.col(channel).drop_nulls().cast(pl.Float64).unique().sort()).collect()[channel]
    return float(np.diff(values.to_numpy()).min()) if len(values) > FEW_VALUES else None

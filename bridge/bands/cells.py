"""Bands of a session: the measured mixture by throttle and engine speed."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import polars as pl

from bridge.align import Delay
from bridge.bands.edges import DEFAULT_RPM_STEP, Banding, banding
from bridge.bands.fuels import session_fuel
from bridge.bands.running import Running, running
from bridge.bands.steady import DEFAULT_LIMITS, STATES, SteadyLimits
from bridge.bands.tally import count_steps, counted_rows, summary, tally
from bridge.channels import find
from bridge.errors import BadValue
from bridge.model import Run
from bridge.physics.fuel import Fuel

FEWEST_SECONDS = 1.0
"""A band with less steady running than this says nothing of lambda [s]."""

CELL_COLUMNS = (
    "cylinder",
    "circuit",
    "throttle_from",
    "throttle_to",
    "rpm_from",
    "rpm_to",
    "seconds",
    "samples",
    "lambda_mean",
    "lambda_sd",
    "lambda_se",
    "lambda_p10",
    "lambda_p50",
    "lambda_p90",
    "afr_mean",
    "egt_mean_c",
    "blocks",
    "effective_samples",
)


@dataclass(frozen=True)
class Bands:
    """The bands of one session."""

    session: int
    fuel: Fuel
    delay: Delay
    cells: pl.DataFrame
    """One row a cylinder and band that was visited steadily, with ``CELL_COLUMNS``; see ``bands``."""
    notes: tuple[str, ...]
    """What was assumed or left out, one sentence each."""
    state_seconds: dict[str, float]
    """Seconds of each state, and of steady running that a sensor did not see [s]."""

    def to_json(self) -> dict[str, Any]:
        """Return what the command line prints, as plain values."""
        delay = asdict(self.delay)
        delay["from"] = delay.pop("from_")
        return {
            "session": self.session,
            "fuel": self.fuel.name,
            "stoich_afr": self.fuel.stoich_afr,
            "delay": delay,
            "cells": self.cells.to_dicts(),
            "state_seconds": self.state_seconds,
            "notes": list(self.notes),
        }


def bands(  # noqa: PLR0913, PLR0917  # what a person may ask for, each with a default
    run: Run,
    throttle_edges: Sequence[float] | None = None,
    rpm_step: float = DEFAULT_RPM_STEP,
    from_s: float | None = None,
    to_s: float | None = None,
    limits: SteadyLimits = DEFAULT_LIMITS,
) -> Bands:
    """Return the measured mixture of a session by throttle and engine speed, in steady running only.

    Args:
        run: the session; it needs ``rpm`` and a lambda channel.
        throttle_edges: rising openings from 0 to 100 [%]; None for where the circuits hand over.
        rpm_step: width of the bands of speed, which begin at 0 [1/min].
        from_s: leave out what burned before [s].
        to_s: leave out what burned after [s].
        limits: what counts as steady.

    Returns:
        The bands that were visited. ``cylinder`` is null where one sensor stands for several cylinders;
        ``throttle_from`` and ``circuit`` are null without a throttle channel; lambda is null in a band with
        less than 1 s. ``lambda_se`` is sampling alone, with ``effective_samples`` for the samples it is
        worth; the sensor's own accuracy is not in it.

    Raises:
        BadValue: no engine speed, no lambda, or edges that are none.
    """
    found = _running(run, from_s, to_s, limits)
    division = _division(run, found, throttle_edges, rpm_step)
    fuel, fuel_note = session_fuel(run.setup)
    tables = []
    for column in found.lambda_columns:
        table = summary(tally(found.samples, column, _egt_of(column, found), division))
        tables.append(_spelled_out(table, division, _cylinder_of(column, run)))
    seconds = state_seconds(found)
    notes = (found.delay.note, fuel_note, *_notes(run, found, division), _left_out(seconds))
    return Bands(
        run.session.id,
        fuel,
        found.delay,
        _said_only_where_known(pl.concat(tables), fuel),
        tuple(note for note in notes if note),
        seconds,
    )


def counts(  # noqa: PLR0913, PLR0917  # what a person may ask for, each with a default
    run: Run,
    throttle_edges: Sequence[float] | None = None,
    rpm_step: float = DEFAULT_RPM_STEP,
    from_s: float | None = None,
    to_s: float | None = None,
    limits: SteadyLimits = DEFAULT_LIMITS,
) -> pl.DataFrame:
    """Return how often each lambda was seen in each band: the distribution, which adds up over sessions.

    Args and Raises: as ``bands``.

    Returns:
        Columns ``cylinder``, ``circuit``, ``throttle_from``, ``throttle_to``, ``rpm_from``, ``rpm_to``,
        ``step`` (lambda in thousandths) and ``n`` (samples of steady running).
    """
    found = _running(run, from_s, to_s, limits)
    division = _division(run, found, throttle_edges, rpm_step)
    tables = [
        _spelled_out(
            count_steps(counted_rows(found.samples, column, division), column, division),
            division,
            _cylinder_of(column, run),
        ).select(*CELL_COLUMNS[:6], "step", "n")
        for column in found.lambda_columns
    ]
    return pl.concat(tables)


def state_seconds(found: Running) -> dict[str, float]:
    """Return the seconds of each state, and of steady running that each sensor missed and why [s]."""
    table = found.samples.group_by("state").agg(pl.col("dt_s").sum()).collect(engine="streaming")
    known = {str(state): float(seconds) for state, seconds in table.iter_rows()}
    result = {state: known.get(state, 0.0) for state in STATES}
    for column in found.lambda_columns:
        sensor = column.replace("lambda", "sensor")
        missed = (
            found.samples.filter(pl.col("steady") & (pl.col(sensor) != "ready"))
            .group_by(sensor)
            .agg(pl.col("dt_s").sum())
            .sort(sensor)
            .collect(engine="streaming")
        )
        result |= {f"{column} {why}": float(seconds) for why, seconds in missed.iter_rows()}
    return result


def _running(run: Run, from_s: float | None, to_s: float | None, limits: SteadyLimits) -> Running:
    found = running(run, limits=limits, from_s=from_s, to_s=to_s)
    if not found.lambda_columns:
        raise BadValue(
            f"session {run.session.id} has no lambda channel, so there is no mixture to put into bands;"
            " record or map a channel named lambda or lambda_1",
        )
    return found


def _division(run: Run, found: Running, edges: Sequence[float] | None, rpm_step: float) -> Banding:
    slide = run.bike is None or run.bike.carburettor == "slide"
    return banding(edges, rpm_step, has_throttle=found.has_throttle, circuits=slide)


def _cylinder_of(column: str, run: Run) -> int | None:
    hit = find(column)
    if hit and hit[1] is not None:
        return hit[1]
    return 1 if run.bike is not None and run.bike.cylinders == 1 else None


def _egt_of(column: str, found: Running) -> str | None:
    own = column.replace("lambda", "egt")
    return own if own in found.egt_columns else "egt" if "egt" in found.egt_columns else None


def _spelled_out(table: pl.DataFrame, division: Banding, cylinder: int | None) -> pl.DataFrame:
    return table.with_columns(pl.lit(cylinder, pl.Int64).alias("cylinder"), *division.spelled_out())


def _said_only_where_known(table: pl.DataFrame, fuel: Fuel) -> pl.DataFrame:
    """Take lambda out of bands with too little running, and add AFR."""
    enough = pl.col("seconds") >= FEWEST_SECONDS
    of_lambda = [name for name in CELL_COLUMNS if name.startswith("lambda")] + ["effective_samples"]
    return (
        table.with_columns(pl.when(enough).then(pl.col(name)).alias(name) for name in of_lambda)
        .with_columns(afr_mean=pl.col("lambda_mean") * fuel.stoich_afr)
        .select(CELL_COLUMNS)
    )


def _notes(run: Run, found: Running, division: Banding) -> list[str | None]:
    one = found.lambda_columns == ("lambda",)
    edges = division.throttle_edges or (0.0, 100.0)
    return [
        None if found.has_throttle else "there is no throttle channel: bands of engine speed alone",
        None
        if division.circuits or not found.has_throttle
        else "the carburettor is of constant depression: its slide follows the air and not the hand, so an"
        " opening of the throttle stands for no circuit",
        f"openings under {edges[0]:g} % and over {edges[-1]:g} % are in no band"
        if division.leaves_out
        else None,
        "one lambda channel stands for the engine as a whole: no cylinder can be told from another"
        if one and _cylinder_of("lambda", run) is None
        else None,
    ]


def _left_out(seconds: dict[str, float]) -> str:
    steady = seconds["steady"]
    others = [f"{why} {s:.1f} s" for why, s in seconds.items() if why != "steady" and s >= 0.05]
    whole = sum(seconds[state] for state in STATES)
    return f"{steady:.1f} s of {whole:.1f} s are steady running" + (
        f"; left out: {', '.join(others)}" if others else ""
    )

"""Bands of a session or a season: the measured mixture by throttle and engine speed."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import polars as pl

from bridge.align import Delay, DelayFit
from bridge.bands.channel import FULL, add_up, counted, table_of
from bridge.bands.edges import DEFAULT_RPM_STEP, SHARE_POINTS, Banding, banding
from bridge.bands.fuels import session_fuel
from bridge.bands.running import Running, running
from bridge.bands.steady import STATES, SteadyLimits
from bridge.bands.tally import count_steps, counted_rows
from bridge.bands.uncertainty import FullThrottle, afr_sd, mean_budget, spelled_out
from bridge.bands.words import notes_of
from bridge.budget import Budget
from bridge.channels import find
from bridge.errors import BadValue
from bridge.model import Bike, Run
from bridge.model.needle import needle_geometry
from bridge.model.sensor_known import pressure_corrected, state_of
from bridge.physics.fooled import TWO_STROKE_READS, Fooled, what_fools
from bridge.physics.fuel import Fuel
from bridge.physics.jets import NeedleGeometry, mean_shares

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
    "too_little",
    "lambda_mean",
    "lambda_sd",
    "lambda_se",
    "lambda_p10",
    "lambda_p50",
    "lambda_p90",
    "sd_budget",
    "lambda_low",
    "lambda_high",
    "afr_mean",
    "afr_sd",
    "egt_mean_c",
    "cht_mean_c",
    "shares",
    "effective_samples",
)


@dataclass(frozen=True)
class Bands:
    """The bands of one session, or of several added up."""

    session: int | None
    """None for a season."""
    sessions: tuple[int, ...]
    fuel: Fuel | None
    """None where the sessions ran on several, so that there is no AFR."""
    delay: Delay | None
    """None for a season: each of its sessions has its own."""
    fit: DelayFit | None
    """What the delay was read off; None where it comes from the pipe's geometry alone."""
    cells: pl.DataFrame
    """One row a cylinder and band that was visited steadily, with ``CELL_COLUMNS``; see ``bands``."""
    budgets: tuple[Budget | None, ...]
    """Of each row's mean; None where it has none."""
    full_throttle: tuple[FullThrottle, ...]
    """One for each lambda channel that saw a second of steady full throttle."""
    notes: tuple[str, ...]
    """What was assumed or left out, one sentence each."""
    limits: SteadyLimits
    state_seconds: dict[str, float]
    """Seconds of each of ``STATES`` [s]; empty for a season. What is told of a sensor alone counts here where it
    is so of all of them."""
    channel_seconds: dict[str, dict[str, float]]
    """The same for each lambda channel by itself [s]."""
    reads: str | None
    """What the readings of a two-stroke that nobody calibrated are worth; None on others."""
    fooled: tuple[Fooled, ...]
    """What can fool the sensor of this bike, the largest first."""

    def to_json(self, *, budgets: bool = False) -> dict[str, Any]:
        """Return what the command line prints, as plain values.

        Args:
            budgets: spell out each band's budget too, not that of full throttle alone.
        """
        delay = None if self.delay is None else asdict(self.delay)
        if delay is not None:
            delay["from"] = delay.pop("from_")
        cells = self.cells.to_dicts()
        if budgets:
            for cell, budget in zip(cells, self.budgets, strict=True):
                cell["budget"] = None if budget is None else spelled_out(budget)
        return {
            "session": self.session,
            "sessions": list(self.sessions),
            "fuel": None if self.fuel is None else self.fuel.name,
            "stoich_afr": None if self.fuel is None else self.fuel.stoich_afr,
            "delay": delay,
            "cells": cells,
            "full_throttle": [value.to_json() for value in self.full_throttle],
            "state_seconds": self.state_seconds,
            "channel_seconds": self.channel_seconds,
            "limits": self.limits.model_dump(),
            "reads": self.reads,
            "fooled": [asdict(one) for one in self.fooled],
            "notes": list(self.notes),
        }


def bands(  # noqa: PLR0913, PLR0917  # what a person may ask for, each with a default
    run: Run,
    throttle_edges: Sequence[float] | None = None,
    rpm_step: float = DEFAULT_RPM_STEP,
    from_s: float | None = None,
    to_s: float | None = None,
    limits: SteadyLimits | None = None,
) -> Bands:
    """Return the measured mixture of a session by throttle and engine speed, in steady running only.

    Args:
        run: the session; it needs ``rpm`` and a lambda channel.
        throttle_edges: rising openings from 0 to 100 [%]; None for where the circuits hand over.
        rpm_step: width of the bands of speed, which begin at 0 [1/min].
        from_s: leave out what burned before [s].
        to_s: leave out what burned after [s].
        limits: what counts as steady; None for what the bike's file says.

    Returns:
        The bands that were visited. ``cylinder`` is null where one sensor stands for several cylinders;
        ``throttle_from`` and ``circuit`` are null without a throttle channel. With the throttle shut there are bands
        of their own, whose ``circuit`` is ``idle`` or ``overrun``. In a band with ``too_little``, less than 1 s,
        lambda is null. ``lambda_se`` is sampling alone: how far off the mean scatter can have put it, with the
        95 % of Student's t at 1.96 of it and ``effective_samples`` for the samples it is worth; null where the ride
        is too short to tell. ``lambda_low`` and ``lambda_high`` are the 95 % interval by the whole budget, with
        ``sd_budget``: sampling, delay, and the sensor's own accuracy and drift, which all bands have in common.
        ``shares`` says what each circuit has in the band's mixture.

    Raises:
        BadValue: no engine speed, no lambda, or edges that are none.
    """
    found = _running(run, from_s, to_s, limits)
    division = division_of(run.bike, found.limits, throttle_edges, rpm_step, has_throttle=found.has_throttle)
    kept = kept_of(run, found, division)
    fuel, fuel_note = session_fuel(run.setup)
    by_channel = channel_seconds(found)
    seconds = state_seconds(found)
    calibrated = all(state_of(run, cylinder_of(name, run)).calibrated for name in found.lambda_columns)
    notes = notes_of(run, found, division, fuel_note, seconds)
    geometry = needle_geometry(run.setup.of_cylinder(1))
    cells, budgets, full = said(kept, division, fuel, geometry)
    return Bands(
        run.session.id,
        (run.session.id,),
        fuel,
        found.delay,
        found.found.fit,
        cells,
        budgets,
        full,
        notes,
        found.limits,
        seconds,
        by_channel,
        reads_of(run.bike, calibrated=calibrated),
        fooled_of(run.bike, fuel, calibrated=calibrated, corrected=pressure_corrected(run)),
    )


def kept_of(run: Run, found: Running, division: Banding) -> pl.DataFrame:
    """Return what a session leaves behind, all its lambda channels."""
    return add_up(
        [
            counted(found, name, cylinder_of(name, run), division, state_of(run, cylinder_of(name, run)))
            for name in found.lambda_columns
        ]
    )


def said(
    kept: pl.DataFrame, division: Banding, fuel: Fuel | None, geometry: NeedleGeometry | None = None
) -> tuple[pl.DataFrame, tuple[Budget | None, ...], tuple[FullThrottle, ...]]:
    """Return cells, their budgets, and the full-throttle values of a kept frame.

    Args:
        kept: as ``counted`` gives it, or several added up.
        division: the bands that it was divided by.
        fuel: for AFR; None where there are several.
        geometry: of the needle, where it is known.
    """
    table = table_of(kept)
    budgets = tuple(_budget(row) for row in table.iter_rows(named=True))
    table = table.with_columns(
        too_little=pl.col("seconds") < FEWEST_SECONDS,
        **{
            name: pl.Series(values, dtype=pl.Float64)
            for name, values in _intervals(table, budgets, fuel).items()
        },
        afr_mean=pl.lit(None, pl.Float64) if fuel is None else pl.col("lambda_mean") * fuel.stoich_afr,
    )
    is_full = table["band"] == FULL
    full = tuple(
        _full(row, budget)
        for row, budget in zip(table.iter_rows(named=True), budgets, strict=True)
        if row["band"] == FULL and budget is not None
    )
    of_lambda = [name for name in CELL_COLUMNS if name.startswith(("lambda", "afr"))]
    cells = (
        table.filter(~is_full)
        .with_columns(division.spelled_out())
        .with_columns(
            pl.when(~pl.col("too_little")).then(pl.col(name)).alias(name)
            for name in (*of_lambda, "effective_samples")
        )
    )
    cells = cells.with_columns(_shares(cells, division, geometry)).select(CELL_COLUMNS)
    own = tuple(budget for budget, whole in zip(budgets, is_full, strict=True) if not whole)
    return cells, own, full


def _budget(row: dict[str, Any]) -> Budget | None:
    if row["seconds"] < FEWEST_SECONDS or row["lambda_se"] is None:
        return None
    return mean_budget(row["lambda_se"], row["delay_sd"], row["accuracy_sd"], row["drift_sd"])


def _intervals(
    table: pl.DataFrame, budgets: Sequence[Budget | None], fuel: Fuel | None
) -> dict[str, list[float | None]]:
    means = table["lambda_mean"].to_list()
    ends = [None if b is None else b.interval(0.95) for b in budgets]
    both = list(zip(means, budgets, strict=True))
    return {
        "sd_budget": [None if b is None else b.sd for b in budgets],
        "lambda_low": [None if e is None else m + e[0] for m, e in zip(means, ends, strict=True)],
        "lambda_high": [None if e is None else m + e[1] for m, e in zip(means, ends, strict=True)],
        "afr_sd": [None if b is None or fuel is None else afr_sd(m, b.sd, fuel) for m, b in both],
    }


def _full(row: dict[str, Any], budget: Budget) -> FullThrottle:
    return FullThrottle(
        row["cylinder"],
        row["channel"],
        row["seconds"],
        row["lambda_mean"],
        budget.sd,
        row["lambda_low"],
        row["lambda_high"],
        row["afr_mean"],
        row["afr_sd"],
        budget,
    )


def _shares(cells: pl.DataFrame, division: Banding, geometry: NeedleGeometry | None) -> pl.Series:
    """Return what each circuit has in each band's mixture: the mean over its openings."""
    if division.throttle_edges is None or not division.circuits:
        return pl.Series("shares", [None] * len(cells), dtype=pl.Null)
    spans = list(zip(cells["throttle_from"], cells["throttle_to"], strict=True))
    known = {span: mean_shares(np.linspace(*span, SHARE_POINTS), geometry) for span in set(spans)}
    return pl.Series("shares", [known[span] for span in spans])


def division_of(
    bike: Bike | None,
    limits: SteadyLimits,
    edges: Sequence[float] | None = None,
    rpm_step: float = DEFAULT_RPM_STEP,
    *,
    has_throttle: bool = True,
) -> Banding:
    """Return how the sessions of a bike are divided."""
    slide = bike is None or bike.carburettor == "slide"
    return banding(
        edges,
        rpm_step,
        has_throttle=has_throttle,
        circuits=slide,
        shut_percent=limits.overrun_throttle_percent,
        overrun_rpm=limits.overrun_rpm,
    )


def counts(  # noqa: PLR0913, PLR0917  # what a person may ask for, each with a default
    run: Run,
    throttle_edges: Sequence[float] | None = None,
    rpm_step: float = DEFAULT_RPM_STEP,
    from_s: float | None = None,
    to_s: float | None = None,
    limits: SteadyLimits | None = None,
) -> pl.DataFrame:
    """Return how often each lambda was seen in each band: the distribution, which adds up over sessions.

    Args and Raises: as ``bands``.

    Returns:
        Columns ``cylinder``, ``circuit``, ``throttle_from``, ``throttle_to``, ``rpm_from``, ``rpm_to``,
        ``step`` (lambda in thousandths) and ``n`` (samples of steady running).
    """
    found = _running(run, from_s, to_s, limits)
    division = division_of(run.bike, found.limits, throttle_edges, rpm_step, has_throttle=found.has_throttle)
    tables = [
        count_steps(counted_rows(found.samples, column, division), column, division)
        .with_columns(pl.lit(cylinder_of(column, run), pl.Int64).alias("cylinder"), *division.spelled_out())
        .select(*CELL_COLUMNS[:6], "step", "n")
        for column in found.lambda_columns
    ]
    return pl.concat(tables)


def state_seconds(found: Running) -> dict[str, float]:
    """Return the seconds of each state [s]; what is told of a sensor alone counts where it is so of all of them."""
    of_channels = [pl.col(f"state_{name}") for name in found.lambda_columns]
    if not of_channels:
        return _seconds_of(found.samples, pl.col("state"))
    alike = pl.all_horizontal(one == of_channels[0] for one in of_channels)
    return _seconds_of(found.samples, pl.when(alike).then(of_channels[0]).otherwise("state"))


def channel_seconds(found: Running) -> dict[str, dict[str, float]]:
    """Return the seconds of each state as each lambda channel has it [s]."""
    return {name: _seconds_of(found.samples, pl.col(f"state_{name}")) for name in found.lambda_columns}


def _seconds_of(samples: pl.LazyFrame, state: pl.Expr) -> dict[str, float]:
    table = samples.group_by(state.alias("what")).agg(pl.col("dt_s").sum()).collect(engine="streaming")
    known = {str(what): float(seconds) for what, seconds in table.iter_rows()}
    return {name: known.get(name, 0.0) for name in STATES}


def cylinder_of(column: str, run: Run) -> int | None:
    """Return whose lambda a column is; None where it stands for several cylinders."""
    hit = find(column)
    if hit and hit[1] is not None:
        return hit[1]
    return 1 if run.bike is not None and run.bike.cylinders == 1 else None


def reads_of(bike: Bike | None, *, calibrated: bool) -> str | None:
    """Return what a two-stroke's readings are worth; None on a four-stroke or where nobody told the strokes."""
    return TWO_STROKE_READS if bike is not None and bike.strokes == 2 and not calibrated else None


def fooled_of(
    bike: Bike | None, fuel: Fuel | None, *, calibrated: bool, corrected: bool
) -> tuple[Fooled, ...]:
    """Return what can fool a bike's sensors, the largest first.

    Args:
        bike: whose; nothing is known without one.
        fuel: of the sessions.
        calibrated: whether the offset of apparent to trapped lambda was stated.
        corrected: whether the exhaust's pressure was measured and taken out.
    """
    if bike is None:
        return ()
    return what_fools(
        bike.strokes,
        bike.sensor,
        cylinders=bike.cylinders,
        calibrated=calibrated,
        h_to_c=None if fuel is None else fuel.h_to_c,
        o_to_c=None if fuel is None else fuel.o_to_c,
        pressure_corrected=corrected,
    )


def _running(run: Run, from_s: float | None, to_s: float | None, limits: SteadyLimits | None) -> Running:
    found = running(run, limits=limits, from_s=from_s, to_s=to_s)
    if not found.lambda_columns:
        raise BadValue(
            f"session {run.session.id} has no lambda channel, so there is no mixture to put into bands;"
            " record or map a channel named lambda or lambda_1",
        )
    return found

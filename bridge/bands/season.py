"""The bands of a season: what is kept of each session, added up."""

from collections.abc import Sequence

import polars as pl

from bridge.bands.cells import Bands, cylinder_of, division_of, fooled_of, kept_of, reads_of, said
from bridge.bands.channel import KEPT_VERSION, SCHEMA, added
from bridge.bands.edges import DEFAULT_RPM_STEP
from bridge.bands.running import running
from bridge.errors import BadValue
from bridge.model import Bike, Run
from bridge.model.sensor_known import state_of
from bridge.physics.fuel import Fuel

SPEED_ALONE = "speed_alone"
"""Column of a kept frame: whether its session had no throttle, so that its bands are of speed alone."""
_OF_SEASON = ("session", SPEED_ALONE, "calibrated")


def counts_version(edges: Sequence[float] | None = None, rpm_step: float = DEFAULT_RPM_STEP) -> str:
    """Return what makes kept counts: other ones of another version say nothing of these bands."""
    return f"{KEPT_VERSION} {None if edges is None else tuple(edges)} {rpm_step:g}"


def kept_counts(
    run: Run, edges: Sequence[float] | None = None, rpm_step: float = DEFAULT_RPM_STEP
) -> pl.DataFrame:
    """Return what a session leaves behind for the season.

    Args:
        run: the session.
        edges: of the throttle, as ``bands`` takes them.
        rpm_step: as ``bands`` takes it.

    Returns:
        As ``bridge.bands.channel.counted``, with ``session``, ``SPEED_ALONE`` and ``calibrated``; without rows
        where the session has no engine
        speed or no lambda.
    """
    try:
        found = running(run)
    except BadValue:  # no engine speed: it has no bands, and that is all there is to say in a season
        return _empty()
    if not found.lambda_columns:
        return _empty()
    division = division_of(run.bike, found.limits, edges, rpm_step, has_throttle=found.has_throttle)
    calibrated = all(state_of(run, cylinder_of(name, run)).calibrated for name in found.lambda_columns)
    return kept_of(run, found, division).with_columns(
        pl.lit(run.session.id, pl.Int64).alias("session"),
        pl.lit(not found.has_throttle).alias(SPEED_ALONE),
        pl.lit(calibrated).alias("calibrated"),
    )


def _empty() -> pl.DataFrame:
    whole = {"session": pl.Int64(), SPEED_ALONE: pl.Boolean(), "calibrated": pl.Boolean()}
    return pl.DataFrame(schema=dict(SCHEMA) | whole)


def season(  # noqa: PLR0913, PLR0917  # what a season is made of, and how it was divided
    rows: pl.LazyFrame,
    sessions: Sequence[int],
    bike: Bike,
    fuel: Fuel | None,
    edges: Sequence[float] | None = None,
    rpm_step: float = DEFAULT_RPM_STEP,
) -> Bands:
    """Return the bands of several sessions from what they left behind.

    Args:
        rows: ``kept_counts`` of each, one below the other, in any order.
        sessions: their numbers.
        bike: whose.
        fuel: for AFR; None where the sessions ran on several.
        edges: by which they were divided.
        rpm_step: by which they were divided.

    Returns:
        As ``bands``, without delay, states and what holds for one session alone: the same to the last digit as
        from the samples. Where one session has a throttle channel those without one are left out, and said.
        ``lambda_se`` adds the sessions' own errors of sampling as squares; what changed from one to the next (jets,
        weather) is in the deviation and the percentiles, not in it.
    """
    known = rows.filter(pl.col("band").is_not_null()).select(*SCHEMA, *_OF_SEASON).collect()
    blind = len(known) > 0 and bool(known[SPEED_ALONE].all())
    left_out = 0 if blind else known.filter(SPEED_ALONE)["session"].n_unique()
    counted = known if blind else known.filter(~pl.col(SPEED_ALONE))
    division = division_of(bike, bike.steady, edges, rpm_step, has_throttle=not blind)
    cells, budgets, full = said(added(counted.lazy().select(*SCHEMA)).collect(), division, fuel)
    calibrated = bool(counted["calibrated"].all())
    there = counted["session"].n_unique()
    notes = (
        f"{there} of {len(sessions)} sessions have steady running with a lambda, each with its own delay",
        None if fuel is not None else "the sessions ran on several fuels, so there is no AFR",
        f"{left_out} sessions without a throttle channel are left out" if left_out else None,
        "se is sampling alone: what jets and weather changed from one session to the next is in the deviation",
    )
    return Bands(
        session=None,
        sessions=tuple(sessions),
        fuel=fuel,
        delay=None,
        fit=None,
        cells=cells,
        budgets=budgets,
        full_throttle=full,
        notes=tuple(note for note in notes if note),
        limits=bike.steady,
        state_seconds={},
        channel_seconds={},
        reads=reads_of(bike, calibrated=calibrated),
        fooled=fooled_of(
            bike, fuel, calibrated=calibrated, corrected=bike.sensor_cell.pressure_share is not None
        ),
    )

"""What ran while a plug was in, in the few figures that tell one cause from another."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from bridge.bands import session_fuel
from bridge.model import Run
from bridge.physics.air import lambda_factor
from bridge.plug.lived import Lived

_PART = (20.0, 80.0)
"""Throttle that counts as part throttle here [%]: the needle's, away from the pilot and the main jet."""
_LEAST_S = 2.0
"""With less steady running than this there is no mean [s]; common practice, no source."""


@dataclass(frozen=True)
class Running:
    """Means over one session of what a plug lived through; each is None where the log or the set-up does not tell.

    Attributes:
        lambda_idle: warm idle, by the sensor [1].
        lambda_part: steady part throttle [1].
        lambda_full: steady full throttle [1].
        egt_full_c: exhaust gas at full throttle [Cel].
        head_full_c: coolant, else head, at full throttle [Cel].
        missed_share: share of full throttle that may be misfire [1].
        fuel: that was told; None where none was.
        main_jet: in the jet box's own numbering.
        air_factor: lambda in the day's air over that in the reference air, with the same jets [1].
    """

    lambda_idle: float | None = None
    lambda_part: float | None = None
    lambda_full: float | None = None
    egt_full_c: float | None = None
    head_full_c: float | None = None
    missed_share: float | None = None
    fuel: str | None = None
    main_jet: float | None = None
    air_factor: float | None = None


def ran_so(runs: Sequence[Run], cylinder: int, lived: Lived) -> Running:
    """Return what ran in the last of a plug's sessions.

    Args:
        runs: the sessions that the plug lived through, oldest first.
        cylinder: whose.
        lived: what the logs show of it.
    """
    run = runs[-1]
    told = {
        "fuel": session_fuel(run.setup)[0].name if run.setup.fuel is not None else None,
        "main_jet": run.setup.of_cylinder(cylinder).main_jet,
        "air_factor": _air(run),
    }
    if lived.blind is not None:
        return Running(**told)  # type: ignore[arg-type]  # names and figures by their keys
    rows = lived.frame.filter((pl.col("run") == len(runs) - 1) & ~pl.col("cold") & ~pl.col("missed"))
    steady = rows.filter("steady")
    full = lived.frame.filter((pl.col("run") == len(runs) - 1) & pl.col("full"))
    full_s = float(full["dt_s"].sum())
    missed_s = float(full.filter("missed")["dt_s"].sum())
    warm_full = rows.filter("full")
    return Running(
        lambda_idle=_mean(steady.filter(pl.col("doing") == "idle"), "lambda"),
        lambda_part=_mean(
            steady.filter((pl.col("doing") == "part throttle") & pl.col("throttle").is_between(*_PART)),
            "lambda",
        ),
        lambda_full=_mean(rows.filter("printing"), "lambda"),
        egt_full_c=_late_mean(warm_full, "egt_c"),
        head_full_c=_late_mean(warm_full, "head_c"),
        missed_share=missed_s / full_s if full_s > 0.0 and lived.channel is not None else None,
        **told,  # type: ignore[arg-type]  # as above
    )


def _mean(rows: pl.DataFrame, column: str) -> float | None:
    known = rows.drop_nulls(column)
    seconds = float(known["dt_s"].sum())
    if seconds < _LEAST_S:
        return None
    return float((known[column] * known["dt_s"]).sum()) / seconds


def _late_mean(rows: pl.DataFrame, column: str) -> float | None:
    """Return the mean over the second half of the rows: a probe follows its gas late."""
    return _mean(rows.tail(max(rows.height // 2, 1)), column)


def _air(run: Run) -> float | None:
    weather = run.setup.weather
    told = (weather.air_temp_c, weather.air_pressure_hpa, weather.humidity_percent)
    if told[0] is None or told[1] is None:
        return None
    return float(lambda_factor(told[0], told[1], 50.0 if told[2] is None else told[2]))

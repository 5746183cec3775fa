"""What a plug went through, in the figures that the rules of a reading ask for."""

from dataclasses import dataclass

import polars as pl

from bridge.plug.lived import Lived, WarmBy

LAST_S = 60.0
"""The last so much running before the cut is called the last minute [s]."""


@dataclass(frozen=True)
class Ran:
    """The figures of a plug's running; all are None where the log cannot show it.

    Attributes:
        full_throttle_s: full throttle on this plug [s].
        last_minute_s: of it, in the last minute of running before the cut [s].
        gap_s: running from the last full throttle to the cut [s].
        idle_s: of that gap, with the throttle shut and the engine on its own [s].
        overrun_s: of that gap, with the throttle shut and the wheel driving [s].
        part_s: of that gap, with the throttle open in part [s].
        stands: the engine stands at the end of the log.
        cold_s: running in a cold engine [s]; None also where nothing tells warm from cold.
        cold_full_s: of it, at full throttle [s].
        missed_s: full throttle that may be misfire [s]; None also without a lambda reading.
        hottest_c: the highest temperature of head or coolant in the last minute of running [Cel]; None also
            where neither was recorded.
        warm_by: which of the two it is, or else what tells a warm engine from a cold one.
        by_session: full throttle in each session since it was fitted, oldest first [s].
        blind: why the log cannot show full throttle; None where it can.
    """

    full_throttle_s: float | None = None
    last_minute_s: float | None = None
    gap_s: float | None = None
    idle_s: float | None = None
    overrun_s: float | None = None
    part_s: float | None = None
    stands: bool | None = None
    cold_s: float | None = None
    cold_full_s: float | None = None
    missed_s: float | None = None
    hottest_c: float | None = None
    warm_by: WarmBy | None = None
    by_session: tuple[float, ...] | None = None
    blind: str | None = None


def ran(lived: Lived) -> Ran:
    """Return the figures of a plug's running.

    Args:
        lived: what the logs show of it.
    """
    if lived.full_throttle_s is None or lived.gap_s is None:
        return Ran(blind=lived.blind)
    frame = lived.frame
    full, cold = pl.col("full"), pl.col("cold") & pl.col("running")
    last = pl.col("running") & (pl.col("running_s") > pl.col("running_s").max() - LAST_S)
    # a row's time stands after its last full throttle where no full throttle is left from it on
    gap = frame.filter(~full.cum_max(reverse=True))
    found = frame.select(
        last=pl.col("dt_s").filter(full & last).sum(),
        cold=pl.col("dt_s").filter(cold).sum(),
        cold_full=pl.col("dt_s").filter(cold & full).sum(),
        missed=pl.col("dt_s").filter(full & pl.col("missed")).sum(),
        hottest=pl.col("head_c").filter(last).max(),
        stands=~pl.col("running").last(),
    ).row(0, named=True)
    sums = frame.group_by("run").agg(pl.col("dt_s").filter(full).sum())
    by_run = dict(zip(sums["run"], sums["dt_s"], strict=True))
    knows_cold = lived.warm_by is not None
    return Ran(
        full_throttle_s=lived.full_throttle_s,
        last_minute_s=found["last"],
        gap_s=lived.gap_s,
        idle_s=_seconds(gap, "idle"),
        overrun_s=_seconds(gap, "overrun"),
        part_s=_seconds(gap, "part throttle"),
        stands=found["stands"],
        cold_s=found["cold"] if knows_cold else None,
        cold_full_s=found["cold_full"] if knows_cold else None,
        missed_s=found["missed"] if lived.channel is not None else None,
        hottest_c=found["hottest"],
        warm_by=lived.warm_by,
        by_session=tuple(by_run.get(run, 0.0) for run in range(lived.sessions)),
    )


def _seconds(rows: pl.DataFrame, doing: str) -> float:
    return float(rows.filter(pl.col("doing") == doing)["dt_s"].sum())

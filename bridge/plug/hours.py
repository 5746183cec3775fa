"""How long an engine ran on a plug, and how much of that was full throttle."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import polars as pl

from bridge.bands import running
from bridge.model import PlugLife, PlugStory, Run


@dataclass(frozen=True)
class Worked:
    """Running time, as far as the logs tell it."""

    running_s: float | None
    """The engine ran by itself [s]; None where no log tells it."""
    full_throttle_s: float | None
    """Of that at full throttle, from 95 % on until it falls under 90 % [s]; None where no log tells it."""
    blind: tuple[int, ...] = ()
    """Numbers of the sessions whose log has no engine speed or no throttle, so that the figures are too small."""


def worked(runs: Iterable[Run]) -> Worked:
    """Return how long the engine ran in some sessions, counted as for what a plug lived through.

    An engine that stands, or whose ignition is cut, does not run. Engine speed and throttle are the engine's, so the
    figures hold for each of its cylinders.

    Args:
        runs: the sessions that a plug lived through, or any.
    """
    return add_up(_of_run(run) for run in runs)


def add_up(parts: Iterable[Worked]) -> Worked:
    """Return the running time of several stretches together; what is not known is left out and named in ``blind``."""
    found = list(parts)
    return Worked(
        running_s=_sum(part.running_s for part in found),
        full_throttle_s=_sum(part.full_throttle_s for part in found),
        blind=tuple(number for part in found for number in part.blind),
    )


def with_hours(story: PlugStory, time: Worked) -> PlugStory:
    """Return a plug's story with how long an engine ran on it."""
    return replace(story, hours_s=time.running_s, full_throttle_s=time.full_throttle_s)


def with_ran(life: PlugLife) -> PlugLife:
    """Return a plug's life with how long an engine ran on it, where its reading has a mark that this says more of.

    Args:
        life: of any plug; only one that was fitted new in this stay has hours that are known here.
    """
    reading = life.reading
    if reading is None or not (reading.edge == "rounded" or reading.glaze) or life.fitting.state != "new":
        return life
    time = worked(life.runs)
    return life if time.blind else replace(life, ran_s=time.running_s)


def _sum(parts: Iterable[float | None]) -> float | None:
    known = [part for part in parts if part is not None]
    return sum(known) if known else None


def _of_run(run: Run) -> Worked:
    there = [name for name in ("rpm", "throttle") if name in run.samples.collect_schema().names()]
    some = run.samples.select(pl.col(there).is_not_null().any()).collect()
    told = [name for name in there if some[name].item()]
    blind = () if len(told) == 2 else (run.session.id,)
    if "rpm" not in told:
        return Worked(None, None, blind)
    found = running(replace(run, samples=run.samples.select("t_s", *told)))
    runs = (pl.col("rpm") >= found.limits.stopped_rpm).fill_null(value=False) & (pl.col("state") != "cut")
    seconds = found.samples.filter(runs).select(
        running=pl.col("dt_s").sum(), full=pl.col("dt_s").filter("full").sum()
    )
    running_s, full_s = seconds.collect().row(0)
    return Worked(float(running_s), float(full_s) if "throttle" in told else None, blind)

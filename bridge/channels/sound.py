"""Looking through a session for channels that cannot be believed."""

from collections.abc import Callable

import polars as pl

from bridge.channels.calibrate import Derived, Plan
from bridge.channels.catalogue import find

RUNNING_RPM = 1000.0
"""An engine this fast runs by itself [1/min]; common practice, no source."""
COLDER_MV = 1.0
"""A probe in the exhaust of a running engine is never this much colder than its terminals, 25 K; common practice,
no source [mV]."""
FEWEST = 10
"""Fewer readings than this tell nothing."""
FALLEN_K = 20.0
WARM_C = 100.0
"""A temperature that falls by so much while the engine runs, and never gets warm, is one read backwards; common
practice, no source [K, Cel]."""


def unsound(samples: pl.LazyFrame, plan: Plan) -> dict[str, str]:
    """Return the exhaust temperatures of a session whose thermocouple is wired backwards.

    Its legs being the wrong way round, it tells the terminals' temperature less what the exhaust is hotter: a
    voltage below zero, or, from a logger that reckons itself, a temperature that falls when heated. It is
    said and not turned round, since the other leads may be wrong too.

    Args:
        samples: as recorded.
        plan: what is worked out from them.

    Returns:
        Of each such channel, a sentence with the mend; empty where all are sound or nothing can be told. Judged
        while the engine runs, where its speed was recorded.
    """
    looks = {one.name: _voltage(one) for one in plan.derived if one.how.thermocouple is not None}
    if "rpm" in plan.columns:
        for name in plan.columns:
            found = find(name)
            if name not in looks and found is not None and found[0].name == "egt":
                looks[name] = _temperature(name)
    if not looks:
        return {}
    running = pl.lit(value=True)
    if "rpm" in plan.columns:
        running = (pl.col("rpm").forward_fill() >= RUNNING_RPM).fill_null(value=False)
    found_out = samples.select(is_backwards(running).alias(name) for name, (is_backwards, _) in looks.items())
    verdict = found_out.collect(engine="streaming").row(0, named=True)
    return {name: told for name, (_, told) in looks.items() if verdict[name]}


_Look = tuple[Callable[[pl.Expr], pl.Expr], str]


def _voltage(one: Derived) -> _Look:
    def is_backwards(running: pl.Expr) -> pl.Expr:
        emf = pl.col(one.source)
        below, above = ((running & side).sum() for side in (emf < -COLDER_MV, emf > COLDER_MV))
        return (below >= FEWEST) & (below > above)

    return is_backwards, (
        f"{one.name} is left out: {one.source} falls below zero when the exhaust is hot, so this thermocouple is wired"
        " backwards; swap its two leads where they meet the logger"
    )


def _temperature(name: str) -> _Look:
    def is_backwards(running: pl.Expr) -> pl.Expr:
        told = pl.col(name).filter(running).drop_nulls()
        return (
            (told.len() >= FEWEST) & (told.first() - told.min() > FALLEN_K) & (told.max() < WARM_C)
        ).fill_null(value=False)

    return is_backwards, (
        f"{name} is left out: it falls while the engine runs and never gets warm, so this thermocouple is wired"
        " backwards; swap its two leads where they meet the logger"
    )

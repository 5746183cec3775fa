"""Working channels out from what was recorded: sensor points and tables, thermocouples, an oxygen sensor's history.

Samples on disk stay as they were recorded. What stands here is laid over them as lazy expressions, so a bike's
file that is corrected later holds for its old sessions too.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from bridge.channels.catalogue import CATALOGUE, find
from bridge.channels.correct import (
    UNCORRECTED,
    Correction,
    changes_reading,
    corrected_current,
    corrected_reading,
)
from bridge.channels.points import Array, Points, value_at
from bridge.errors import nearest
from bridge.physics.thermocouple import emf_mv

TABLE_BEYOND = 0.02
"""How far outside its table a sensor is still believed, as a share of the table's span of readings; common
practice, no source [1]."""


@dataclass(frozen=True)
class Calibration:
    """How one channel is worked out from another.

    Attributes:
        source: the recorded channel.
        points: reading and value; None for a thermocouple.
        beyond: how far outside the points the outer lines go on, as a share of the readings' span [1]; infinite
            for ever, and the channel's own limits judge.
        thermocouple: its type; None for points.
        cold_junction: the recorded channel with its terminals' temperature, or that temperature [Cel].
        instead: whether it stands where the channel itself is recorded too.
        table: name of the file that the points came from.
    """

    source: str
    points: Points | None = None
    beyond: float = math.inf
    thermocouple: Literal["K"] | None = None
    cold_junction: str | float | None = None
    instead: bool = False
    table: str | None = None


@dataclass(frozen=True)
class Derived:
    """One channel of one session that is worked out."""

    name: str
    source: str
    how: Calibration
    cold: str | float | None = None


@dataclass(frozen=True)
class Plan:
    """What is worked out in a session.

    Attributes:
        derived: each channel, in the order of the bike's file.
        columns: those that were recorded.
        notes: what cannot be worked out and why, one sentence each.
    """

    derived: tuple[Derived, ...]
    columns: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Calibrated:
    """Samples with their channels worked out.

    Attributes:
        samples: as they were, with the worked-out channels as float32 columns and lambda corrected; null where
            there is no valid reading, and outside the catalogue's limits.
        notes: what was done, one sentence each.
        sources: of each worked-out channel, the recorded one.
    """

    samples: pl.LazyFrame
    notes: tuple[str, ...]
    sources: Mapping[str, str]


Unsound = Mapping[str, str]
"""Of each channel that cannot be believed, why, in a sentence without its end."""


def plan_of(columns: Iterable[str], calibrations: Mapping[str, Calibration]) -> Plan:
    """Return what is worked out in a session with these columns.

    Args:
        columns: as recorded, in their order.
        calibrations: of the bike, by the channel's name. One without a number holds for each numbered source
            too; a numbered one goes before it.

    Returns:
        The plan. A recorded channel wins over a worked-out one unless the calibration says ``instead``.
    """
    there = tuple(columns)
    derived: dict[str, Derived] = {}
    notes = []
    numbered_first = sorted(calibrations.items(), key=lambda item: item[0] in CATALOGUE)
    for name, how in numbered_first:
        found = [(target, source) for target, source in _targets(name, how, there) if target not in derived]
        if not found:
            notes += [] if any(_is_of(name, one) for one in derived) else [_no_source(name, how, there)]
        for target, source in found:
            cold, missing = _cold(how, source, there)
            if target in there and not how.instead:
                notes.append(
                    f"{target} was recorded, so it is not worked out from {source}; say instead = true under"
                    f" [channel.{name}] of the bike's file to have that"
                )
            elif missing:
                notes.append(f"{target} is not worked out: {missing}")
            else:
                derived[target] = Derived(target, source, how, cold)
    return Plan(tuple(derived.values()), there, tuple(notes))


def calibrate(
    samples: pl.LazyFrame,
    calibrations: Mapping[str, Calibration],
    correction: Callable[[int | None], Correction] = lambda _: UNCORRECTED,
    unsound: Callable[[pl.LazyFrame, Plan], Unsound] = lambda _samples, _plan: {},
) -> Calibrated:
    """Work the channels of a session out.

    Args:
        samples: as recorded: ``t_s`` [s] and channels in the catalogue's units.
        calibrations: of the bike, by the channel's name; see ``plan_of``.
        correction: what the sensor's history says of a cylinder's lambda (None: the engine's).
        unsound: what looks for channels that cannot be believed, such as ``bridge.channels.sound.unsound``;
            those are null, and a note says why.

    Returns:
        The samples. A lambda from ``pump_current`` has its current corrected for gain and pressure before the
        table; a recorded lambda is corrected through the cell's own curve; offsets are taken off at the end.
    """
    plan = plan_of(samples.collect_schema().names(), calibrations)
    broken = unsound(samples, plan)
    derived = {one.name: one for one in plan.derived}
    expressions: list[pl.Expr] = []
    notes = [*plan.notes, *broken.values()]
    for name in dict.fromkeys((*derived, *plan.columns)):
        one = derived.get(name)
        if name in broken:
            expressions.append(pl.lit(None, pl.Float32).alias(name))
            continue
        if one is not None:
            notes.append(f"{name} is worked out {_in_words(one)}")
        if (found := find(name)) is not None and found[0].name == "lambda":
            change = correction(found[1])
            pressure = _of_cylinder("exhaust_pressure", found[1], plan.columns)
            notes += [f"{name}: {note}" for note in change.notes(pressure)]
            if one is not None or changes_reading(change, pressure):
                expressions.append(_lambda(name, one, change, change.pressure_of(pressure)))
        elif one is not None:
            expressions.append(_worked_out(one))
    done = samples.with_columns(expressions) if expressions else samples
    return Calibrated(done, tuple(notes), {one.name: one.source for one in plan.derived})


def _targets(name: str, how: Calibration, there: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return the channels that a calibration makes of a session's columns, and of which."""
    found = [(name, how.source)] if how.source in there else []
    if name in CATALOGUE and find(how.source) in (None, (CATALOGUE.get(how.source), None)):
        prefix = f"{how.source}_"
        numbers = [c.removeprefix(prefix) for c in there if c.startswith(prefix)]
        found += [(f"{name}_{n}", f"{prefix}{n}") for n in numbers if n.isdigit() and not n.startswith("0")]
    return found


def _is_of(name: str, target: str) -> bool:
    found = find(target)
    return target == name or (found is not None and found[0].name == name)


def _no_source(name: str, how: Calibration, there: tuple[str, ...]) -> str:
    return (
        f"{name} is not worked out: this session has no channel {how.source}, which the bike's file names"
        f" under [channel.{name}]{nearest(how.source, [c for c in there if c != 't_s'])}"
    )


def _cold(how: Calibration, source: str, there: tuple[str, ...]) -> tuple[str | float | None, str | None]:
    """Return a thermocouple's cold junction in a session, or what is missing."""
    if not isinstance(how.cold_junction, str):
        return how.cold_junction, None
    found = find(source)
    column = _of_cylinder(how.cold_junction, found[1] if found else None, there)
    if column is None:
        return None, (
            f"this session has no channel {how.cold_junction} with the temperature of the thermocouple's terminals;"
            " record it, or say cold_junction_c in the bike's file"
        )
    return column, None


def _of_cylinder(kind: str, cylinder: int | None, there: tuple[str, ...]) -> str | None:
    """Return the column of a kind that holds for a cylinder: its own, else the engine's, else None."""
    own = f"{kind}_{cylinder}"
    return own if own in there else kind if kind in there else None


def _in_words(one: Derived) -> str:
    if one.how.points is None:
        cold = f"{one.cold:g} Cel" if isinstance(one.cold, float) else one.cold
        return (
            f"from {one.source}, a thermocouple of type {one.how.thermocouple} whose terminals are at {cold}"
        )
    where = f"the table {one.how.table}" if one.how.table else "the bike's file"
    return f"from {one.source} by {len(one.how.points)} points of {where}"


def _held(name: str) -> pl.Expr:
    """Return a slow channel with each reading held until the next, and the first one before it."""
    return pl.col(name).cast(pl.Float64).forward_fill().backward_fill()


def _worked_out(one: Derived) -> pl.Expr:
    """Return the expression of a channel that is no lambda."""
    source, points, beyond = pl.col(one.source).cast(pl.Float64), one.how.points, one.how.beyond
    if points is not None:
        return _by([source], lambda reading: value_at(points, reading, beyond), one.name)
    cold = _held(one.cold) if isinstance(one.cold, str) else pl.lit(one.cold, pl.Float64)
    return _by([source, cold], _type_k, one.name)


def _lambda(name: str, one: Derived | None, change: Correction, pressure: str | None) -> pl.Expr:
    """Return the expression of a lambda: recorded, or worked out from a pump current or another reading."""
    source = find(one.source) if one is not None else None
    is_current = source is not None and source[0].name == "pump_current"

    def of(reading: Array, *exhaust_kpa: Array) -> Array:
        at_kpa = exhaust_kpa[0] if exhaust_kpa else None
        if one is None or one.how.points is None:
            return corrected_reading(reading, change, at_kpa)
        if is_current:
            current = corrected_current(reading, change, at_kpa)
            return value_at(one.how.points, current, one.how.beyond) - change.offset
        return corrected_reading(value_at(one.how.points, reading, one.how.beyond), change, at_kpa)

    reading = pl.col(name if one is None else one.source).cast(pl.Float64)
    return _by([reading, *([] if pressure is None else [_held(pressure)])], of, name)


# The reference function of type K every half kelvin. Straight lines between are within 1e-5 K of it from -200 Cel
# up, and ten times as fast as turning it round for each sample.
_K_C = np.arange(-270.0, 1372.5, 0.5)
_K_MV = emf_mv(_K_C)


def _type_k(emf: Array, cold_c: Array) -> Array:
    """Return the hot junction's temperature [Cel], by voltages, never by adding degrees."""
    total: Array = emf + np.interp(cold_c, _K_C, _K_MV)
    temp_c: Array = np.interp(total, _K_MV, _K_C, left=np.nan, right=np.nan)
    return temp_c


def _by(inputs: list[pl.Expr], function: Callable[..., Array], name: str) -> pl.Expr:
    """Return a channel that a function of arrays makes of others, null where it has no valid value."""
    found = find(name)
    low, high = (found[0].low, found[0].high) if found is not None else (-math.inf, math.inf)

    def run(series: Sequence[pl.Series]) -> pl.Series:
        length = max(len(one) for one in series)
        arrays = [np.broadcast_to(one.to_numpy(), length) for one in series]
        with np.errstate(invalid="ignore"):
            value = function(*arrays)
            value = np.where((value >= low) & (value <= high), value, np.nan)
        return pl.Series(name, value.astype(np.float32), nan_to_null=True)

    return pl.map_batches(inputs, run, return_dtype=pl.Float32, is_elementwise=True).alias(name)

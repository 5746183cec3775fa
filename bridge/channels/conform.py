"""Bringing columns to the catalogue: its units, its limits, one time that rises."""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from bridge.channels.catalogue import find
from bridge.errors import BadValue
from bridge.units import convert


@dataclass(frozen=True)
class Conformed:
    """Columns as the catalogue wants them.

    Attributes:
        frame: ``t_s`` [s] float64, then one float32 column a channel; null where there was no valid reading.
        units: UCUM code of each channel now; empty where nobody said it.
        notes: what was left out, one sentence for each channel.
    """

    frame: pl.DataFrame
    units: dict[str, str]
    notes: tuple[str, ...]


def conform(frame: pl.DataFrame, units: Mapping[str, str]) -> Conformed:
    """Bring channels to the units and within the limits of the catalogue.

    Args:
        frame: ``t_s`` [s] and one float column a channel, in the units given.
        units: UCUM code of each channel; a channel without one has the catalogue's unit. A channel that is
            not in the catalogue keeps its unit and has no limits.

    Returns:
        The columns, converted; a value outside its channel's limits, or one that is not finite, is null.

    Raises:
        BadValue: a unit is unknown or does not fit its channel, which is named.
    """
    new_units: dict[str, str] = {}
    columns: list[pl.Expr] = []
    limits: dict[str, tuple[float, float]] = {}
    for name in frame.columns:
        if name == "t_s":
            continue
        unit = units.get(name)
        value = pl.col(name).cast(pl.Float64)
        found = find(name)
        if found is None:
            new_units[name] = unit or ""
        else:
            channel = found[0]
            new_units[name] = channel.unit
            limits[name] = (channel.low, channel.high)
            try:
                value = convert(value, unit or channel.unit, channel.unit)
            except BadValue as error:
                raise BadValue(f"channel {name}: {error}") from None
        columns.append(value.alias(name))
    converted = frame.select(pl.col("t_s").cast(pl.Float64), *columns)
    valid = {
        name: pl.col(name).is_finite()
        & pl.col(name).is_between(*limits.get(name, (-float("inf"), float("inf"))))
        for name in new_units
    }
    outside = converted.select((pl.col(n).is_not_null() & ~ok).sum().alias(n) for n, ok in valid.items())
    notes = [
        _note(name, int(count), limits.get(name), new_units[name]) + _hint(name, converted)
        for name, count in (outside.row(0, named=True) if outside.height else {}).items()
        if count
    ]
    kept = converted.with_columns(
        pl.when(ok).then(pl.col(name)).otherwise(None).cast(pl.Float32).alias(name)
        for name, ok in valid.items()
    )
    return Conformed(kept, new_units, tuple(notes))


def _note(name: str, count: int, limits: tuple[float, float] | None, unit: str) -> str:
    values = "1 value" if count == 1 else f"{count} values"
    if limits is None:
        return f"{name}: {values} left out, not finite"
    code = "" if unit == "1" else f" {unit}"
    return f"{name}: {values} outside {limits[0]:g}..{limits[1]:g}{code} left out"


def _hint(name: str, converted: pl.DataFrame) -> str:
    """Return what to look for where most exhaust temperatures are below all that air can be; else nothing."""
    found = find(name)
    if found is None or found[0].name != "egt":
        return ""
    below = (converted[name] < found[0].low).sum()
    if 2 * below <= converted[name].count():
        return ""
    return "; a thermocouple that falls when heated is wired backwards: swap its two leads"


def rising(frame: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """Leave out the rows whose time does not come after all times before.

    Args:
        frame: with ``t_s`` [s], of any kind of number.

    Returns:
        The rows whose time rises strictly, and how many were left out.
    """
    before = pl.col("t_s").cum_max().shift(1)
    # a decimal has no infinity to be asked for
    kept = (
        frame.with_columns(pl.col("t_s").cast(pl.Float64))
        .filter(pl.col("t_s").is_finite())
        .filter(before.is_null() | (pl.col("t_s") > before))
    )
    return kept, frame.height - kept.height

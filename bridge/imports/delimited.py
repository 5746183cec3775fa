"""Delimited logs: columns named as in the channel list, or given their meaning by a map."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from bridge.channels import CATALOGUE, find
from bridge.channels.conform import conform, rising
from bridge.channels.points import ordered, value_at
from bridge.errors import BadFile
from bridge.imports.map import ColumnMap, LogMap, TimeColumn, TimeStamps, TimeSteps, unknown_channels
from bridge.imports.table import LINE, MISSING, TextTable, numbers, read_table, rows
from bridge.imports.times import TIME_COLUMNS, refuse_too_long, with_time
from bridge.model.sealed import SealedFrame


@dataclass(frozen=True)
class _Column:
    """One channel, and the column that it is read from."""

    channel: str
    column: str
    how: ColumnMap | None = None


def read_delimited(path: Path, data: bytes, log_map: LogMap | None) -> SealedFrame:
    """Read a delimited log.

    Args:
        path: its name, for sentences.
        data: its bytes.
        log_map: what its columns mean; without one they are named as in the channel list, in its units,
            beside a column ``t_s`` [s].

    Returns:
        Its samples. A row without a time, with a field that is no number, with too many or too few fields, or
        whose time does not come after the one before is refused and counted.

    Raises:
        BadFile: it is no log, has no time or no channel, or lacks a column that the map names (its own are
            listed); or it is longer than any session.
        BadValue: a unit does not fit its channel.
    """
    log_map = log_map or LogMap()
    table = read_table(path, data, log_map.delimiter)
    time = log_map.time or _time_column(path, table, log_map)
    columns, extras = _columns(path, table, log_map, time)
    decimal = log_map.decimal or _decimal(table)
    numeric = numbers(table.frame, [c.column for c in (*columns, *extras)], decimal)
    # a column that nobody asked for is kept where all of it is numbers, and is otherwise no channel
    words = [c for c in extras if not _all_numbers(table.frame, numeric, c.column)]
    columns += [c for c in extras if c not in words]
    frame, started, time_notes = with_time(path, table, time, decimal)
    frame = frame.with_columns(_value(numeric[c.column], c.how).alias(c.channel) for c in columns)
    bad = pl.any_horizontal(
        pl.lit(False),  # noqa: FBT003  # polars takes it so
        *(_not_a_number(table.frame[c.column], numeric[c.column]).alias(f"bad {c.column}") for c in columns),
    )
    read = frame.filter(frame.select(~bad & pl.col("t_s").is_finite()).to_series().fill_null(value=False))
    unreadable = frame.join(read, on=LINE, how="anti")[LINE].to_list() + table.refused
    kept, late = rising(read)
    if kept.is_empty():
        raise BadFile(
            f"{path}: none of its rows could be read; look at the delimiter, the decimal sign and the time"
        )
    refuse_too_long(path, kept, LINE, "line")
    units = {c.channel: c.how.unit for c in columns if c.how is not None and c.how.unit is not None}
    conformed = conform(kept.drop(LINE), units)
    notes = [*table.notes, *time_notes, *unknown_channels(log_map)]
    if unreadable:
        notes.append(
            f"{rows(len(unreadable))} refused that could not be read, the first on line {min(unreadable)}"
        )
    if late:
        notes.append(f"{rows(late)} refused whose time did not come after the row before")
    notes += [f"the column '{c.column}' is not all numbers and was left out" for c in words]
    return SealedFrame(
        frame=conformed.frame,
        units=conformed.units,
        counts={"rows_read": kept.height, "rows_refused": len(unreadable) + late},
        notes=(*notes, *conformed.notes),
        started_utc=started,
    )


def _time_column(path: Path, table: TextTable, log_map: LogMap) -> TimeColumn:
    for name in TIME_COLUMNS:
        if name in table.columns:
            return TimeColumn(column=name)
    known = [name for name in table.columns if find(name)]
    if not known and not log_map.channels:
        raise BadFile(
            f"{path} is no log that can be read without a map: it needs a column t_s with the seconds, and"
            " columns"
            f" named as in the channel list ({', '.join(list(CATALOGUE)[:3])}, ...); its own are"
            f" {', '.join(table.columns)}",
        )
    raise BadFile(
        f"{path} has no column t_s; say by a map which column is the time: it has {', '.join(table.columns)}"
    )


def _columns(
    path: Path,
    table: TextTable,
    log_map: LogMap,
    time: TimeColumn | TimeStamps | TimeSteps,
) -> tuple[list[_Column], list[_Column]]:
    """Return the channels that are meant, and the columns that may be extra ones."""
    wanted = {how.column for how in log_map.channels.values()}
    if not isinstance(time, TimeSteps):
        wanted.add(time.column)
    missing = sorted(wanted.difference(table.columns))
    if missing:
        raise BadFile(
            f"{path} has no column {' and no column '.join(repr(m) for m in missing)}, which the map names;"
            " it has"
            f" {', '.join(table.columns)}",
        )
    columns = [_Column(name, how.column, how) for name, how in log_map.channels.items()]
    taken = {*wanted, *log_map.channels, "t_s"}
    free = [name for name in table.columns if name not in taken]
    columns += [_Column(name, name) for name in free if find(name)]
    if not columns:
        raise BadFile(
            f"{path} has no column that is named as in the channel list; say by a map what they are: it has"
            f" {', '.join(table.columns)}",
        )
    return columns, [_Column(name, name) for name in free if not find(name)]


def _decimal(table: TextTable) -> str:
    """Return the decimal sign: a comma only where numbers are seen with one and none with a point."""
    cells = table.frame.select(table.columns)
    if not cells.select(pl.any_horizontal(pl.all().str.contains(",", literal=True).any())).item():
        return "."
    with_comma = cells.select(pl.any_horizontal(pl.all().str.contains(r"^-?\d+,\d+$").any())).item()
    with_point = cells.select(pl.any_horizontal(pl.all().str.contains(r"^-?\d+\.\d+$").any())).item()
    return "," if with_comma and not with_point else "."


def _not_a_number(text: pl.Series, number: pl.Series) -> pl.Series:
    return number.is_null() & ~text.str.to_lowercase().is_in(MISSING)


def _all_numbers(frame: pl.DataFrame, numeric: pl.DataFrame, column: str) -> bool:
    return not _not_a_number(frame[column], numeric[column]).any() and numeric[column].is_not_null().any()


def _value(number: pl.Series, how: ColumnMap | None) -> pl.Series:
    """Return a channel's values from its column's readings."""
    if how is None:
        return number
    if how.as_ == "phi":
        return 1.0 / number  # a phi of 0 gives infinity, which is no reading and becomes null
    if how.as_ == "afr":
        return number / how.stoich
    if how.volts is not None:
        value = value_at(ordered(how.volts), number.to_numpy().astype(np.float64))
        return pl.Series(value, nan_to_null=True)
    return number

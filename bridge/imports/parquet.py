"""Parquet: the frame that an export writes, or one of somebody else's with the same column names."""

from pathlib import Path

import polars as pl
from polars.exceptions import PolarsError

from bridge.channels import find
from bridge.channels.conform import conform, rising
from bridge.errors import BadFile
from bridge.imports.table import ROW, check_names, rows
from bridge.imports.times import refuse_too_long, since_start
from bridge.logbook import samples
from bridge.model.sealed import SealedFrame


def read_parquet(path: Path) -> SealedFrame:
    """Read a Parquet file with a column ``t_s`` [s] and columns named as in the channel list.

    Args:
        path: the file.

    Raises:
        BadFile: it is no Parquet, or has no time or no channel, or is longer than any session.
        BadValue: a unit in its metadata does not fit its channel.
    """
    try:
        frame = pl.read_parquet(path)
        units = samples.units(path)
    except (OSError, PolarsError) as error:
        raise BadFile(f"{path} is no Parquet file that can be read ({str(error).splitlines()[0]})") from None
    numeric = [name for name in frame.columns if frame.schema[name].is_numeric()]
    if "t_s" not in numeric or not any(find(name) for name in numeric):
        raise BadFile(
            f"{path} is no log: it needs a column t_s with the seconds and columns named as in the channel"
            " list; it has"
            f" {', '.join(frame.columns)}",
        )
    check_names(str(path), frame.columns)
    own = frame.select(pl.col("t_s").cast(pl.Float64), *(name for name in numeric if name != "t_s"))
    timed = own.with_row_index(ROW, offset=1).filter(pl.col("t_s").is_finite())
    kept, late = rising(timed.with_columns(since_start(timed["t_s"])))
    if kept.is_empty():
        raise BadFile(f"{path} holds no row with a time")
    refuse_too_long(path, kept, ROW, "row")
    without = own.height - timed.height
    conformed = conform(kept.drop(ROW), {name: code for name, code in units.items() if code})
    notes = [f"{rows(without)} refused that had no time"] if without else []
    notes += [f"{rows(late)} refused whose time did not come after the row before"] if late else []
    notes += [
        f"the column '{name}' is not numbers and was left out"
        for name in frame.columns
        if name not in numeric
    ]
    return SealedFrame(
        frame=conformed.frame,
        units=conformed.units,
        counts={"rows_read": kept.height, "rows_refused": without + late},
        notes=(*notes, *conformed.notes),
    )

"""A session's samples as a file for other programs; it can be imported again, value for value."""

import os
from pathlib import Path

import polars as pl

from bridge.channels import find
from bridge.errors import BadFile, BadValue
from bridge.logbook import samples
from bridge.logbook.files import placed
from bridge.model import Run


def export_run(run: Run, path: Path, units: dict[str, str] | None = None) -> int:
    """Write a session's samples.

    Args:
        run: the session.
        path: where to; ``.csv`` or ``.parquet`` by its ending. ``t_s`` is in seconds from the session's
            start, the channels are in the catalogue's units; an empty field is no reading.
        units: UCUM code of each channel, for Parquet's metadata; the catalogue's where left out.

    Returns:
        How many rows.

    Raises:
        BadValue: the ending is none of those.
        BadFile: the folder is not there, or a folder stands where the file should.
        DiskTrouble: the disk would not take it; what stood there still stands there.
    """
    path = Path(path)
    ending = path.suffix.lower()
    if ending == ".mf4":
        raise BadValue(f"{path}: measurement files of ASAM MDF 4 cannot be written yet; use .csv or .parquet")
    if ending not in (".csv", ".parquet"):
        raise BadValue(f"{path}: nobody here writes '{ending}'; end the name in .csv or .parquet")
    if not path.parent.is_dir():
        raise BadFile(f"{path} cannot be written: there is no folder {path.parent}; make it first")
    if path.is_dir():
        raise BadFile(f"{path} is a folder; name the file that is to be written")
    path = Path(os.path.realpath(path))  # a link goes on pointing to what is written
    frame = run.samples.collect()
    if ending == ".parquet":
        samples.write(path, frame, units or catalogue_units(frame.columns))
        return frame.height
    with placed(path) as beside:
        try:
            frame.write_csv(beside)
        except pl.exceptions.ComputeError as error:  # what polars makes of a full disk
            raise OSError(str(error)) from error
    return frame.height


def catalogue_units(columns: list[str]) -> dict[str, str]:
    """Return the UCUM code of each column that is in the catalogue."""
    return {name: found[0].unit for name in columns if (found := find(name)) is not None}

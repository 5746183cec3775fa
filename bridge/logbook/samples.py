"""Samples on disk: Parquet, one row a data line, each channel's unit in the file's own metadata."""

from collections.abc import Mapping
from pathlib import Path

import polars as pl

from bridge.errors import BadFile
from bridge.logbook.files import placed

_UNIT = "unit:"


def write(path: Path, frame: pl.DataFrame, units: Mapping[str, str]) -> None:
    """Write samples safely: beside, synced, then renamed.

    Args:
        path: where they go.
        frame: ``t_s`` [s] float64, then float32 channels.
        units: UCUM code of each channel.

    Raises:
        DiskTrouble: the disk would not take them.
    """
    metadata = {"unit:t_s": "s"} | {
        _UNIT + name: units.get(name, "") for name in frame.columns if name != "t_s"
    }
    with placed(path) as beside:
        try:
            frame.write_parquet(beside, compression="zstd", compression_level=3, metadata=metadata)
        except pl.exceptions.ComputeError as error:  # what polars makes of a full disk
            raise OSError(str(error)) from error


def scan(path: Path, session: int) -> pl.LazyFrame:
    """Return a session's samples, read when they are needed.

    Raises:
        BadFile: they are not there.
    """
    if not path.is_file():
        raise BadFile(
            f"the samples of session {session} are not at {path}; they can be made again from its raw file"
        )
    return pl.scan_parquet(path)


def units(path: Path) -> dict[str, str]:
    """Return the UCUM code of each column of a Parquet file of ours; empty for one of somebody else's."""
    metadata = pl.read_parquet_metadata(path)
    return {key.removeprefix(_UNIT): value for key, value in metadata.items() if key.startswith(_UNIT)}

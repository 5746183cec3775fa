"""Making a session of a file, whatever its format: the same frame, the same logbook."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bridge.errors import BadFile, BadValue, WireTooNew
from bridge.imports.delimited import read_delimited
from bridge.imports.map import LogMap, read_map
from bridge.imports.parquet import read_parquet
from bridge.imports.wire_file import is_capture, read_bytes
from bridge.logbook import Logbook
from bridge.model.moments import has_sensible_year
from bridge.model.sealed import SealedFrame
from bridge.sealing.seal import capture_frame
from bridge.sealing.wire_frame import frame_from_capture

WIRE = (".wire", ".capture")
TEXT = (".csv", ".tsv", ".txt")
ENDINGS = (*WIRE, *TEXT, ".parquet")


@dataclass(frozen=True)
class Imported:
    """A file that is a session now."""

    session: int
    seconds: float
    """Length, to the last sample [s]."""
    samples: int
    marks: int
    counts: Mapping[str, int]
    """Of a wire capture lines_good, lines_damaged, lines_lost, junk_bytes, restarts; else rows_read,
    rows_refused."""
    notes: tuple[str, ...]


def import_log(  # noqa: PLR0913  # what the command line takes
    logbook: Logbook,
    file: Path,
    *,
    map_file: Path | None = None,
    bike: str | None = None,
    started: datetime | None = None,
    place: str | None = None,
    again: bool = False,
) -> Imported:
    """Make a session of a file: all of it, or after an error nothing.

    Args:
        logbook: open to write.
        file: a raw wire capture, a delimited log or Parquet, by its ending.
        map_file: what the columns of a delimited log mean.
        bike: name of the bike.
        started: when it began; else what the file tells, else the file's own time.
        place: where.
        again: even if these very bytes were imported before.

    Raises:
        UnknownThing: there is no such bike.
        BadFile: the file or the map is not what it should be.
        BadValue: the file was imported before, or a unit does not fit its channel.
        WireTooNew: the logger speaks a later version.
        DiskTrouble: the disk would not take it.
    """
    file = Path(file)
    data = read_bytes(file)
    if bike is not None:
        logbook.bike(bike)
    digest = hashlib.sha256(data).hexdigest()
    if not again:
        # asked here too, so that nothing is read in vain
        logbook.refuse_again(file, digest)
    sealed = _read(file, data, read_map(map_file) if map_file is not None else None)
    begun, note = _started(file, started, sealed.started_utc)
    notes = (*sealed.notes, *([note] if note else []))
    sealed = SealedFrame(
        sealed.frame, sealed.units, sealed.marks, sealed.states, sealed.counts, notes, sealed.started_utc
    )
    session = logbook.import_session(
        sealed, file, sha256=digest, bike=bike, place=place, started=begun, again=again
    )
    return Imported(session, sealed.seconds, sealed.frame.height, len(sealed.marks), sealed.counts, notes)


def _read(file: Path, data: bytes, log_map: LogMap | None) -> SealedFrame:
    ending = file.suffix.lower()
    if ending == ".mf4":
        raise BadFile(f"{file}: measurement files of ASAM MDF 4 cannot be read yet; export it as .csv")
    if ending not in ENDINGS:
        raise BadFile(
            f"{file}: nobody here reads '{ending}'; the endings that are read are {', '.join(ENDINGS)}"
        )
    if ending not in TEXT and log_map is not None:
        raise BadValue(f"{file} needs no map; a map says what the columns of a delimited log mean")
    if ending in TEXT:
        return read_delimited(file, data, log_map)
    if ending == ".parquet":
        return read_parquet(file)
    try:
        sealed = (
            capture_frame(file, strict=True)[1]
            if is_capture(data)
            else frame_from_capture(data, None, strict=True)
        )
    except WireTooNew as error:
        raise WireTooNew(f"{file}: {error}; nothing was imported, and the file is as it was") from None
    except BadValue as error:
        raise BadValue(f"{file}: {error}") from None
    if not sealed.frame.height:
        raise BadFile(
            f"{file} holds no data line of the wire format that could be read"
            f" ({sealed.counts['lines_good']} good lines, {sealed.counts['lines_damaged']} damaged); is it a"
            " raw"
            " capture of a logger?",
        )
    if sealed.frame.columns == ["t_s"]:
        raise BadFile(f"{file} holds data lines of no channel at all; there is nothing in it to import")
    return sealed


def _started(file: Path, given: datetime | None, told: datetime | None) -> tuple[datetime, str | None]:
    """Return when a session began, and a note where nobody but the file itself said it."""
    if given is not None:
        return given.astimezone(UTC), None
    if told is not None and has_sensible_year(told):
        return told, f"it began at {told:%Y-%m-%d %H:%M:%S} UTC, as the file tells"
    saved = datetime.fromtimestamp(0, UTC) + timedelta(seconds=file.stat().st_mtime)
    if not has_sensible_year(saved):
        raise BadValue(
            f"{file} does not tell when it began, and was saved in the year {saved.year}; say --started"
        )
    return saved, (
        f"nobody said when it began, so the time the file was saved stands for it: {saved:%Y-%m-%d %H:%M:%S}"
        " UTC"
    )

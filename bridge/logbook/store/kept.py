"""What each session leaves behind for the season (counts, pairs), kept beside its samples, remade when it is stale.

A kept file says by its ``digest``, a column of counts and a key of pairs, what it was made from: the samples'
file, the bike's file, every set-up up to that session, the sensor's history up to it, and what reckoned it. Where
that is not what stands in the logbook now, the file counts for nothing. So nobody has to remember to throw it away.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

import polars as pl
from sqlalchemy import Connection, Row, select

from bridge.logbook import files, tables
from bridge.logbook.files import placed
from bridge.logbook.store.base import Store
from bridge.logbook.store.bikes import bike_row
from bridge.model import Bike

_FUEL_KEYS = ("fuel", "oil_ratio", "oil_density_kg_m3", "oil_burns")


@dataclass(frozen=True)
class Season:
    """The sessions of a bike, with what is kept of them."""

    bike: Bike
    sessions: tuple[int, ...]
    """All sealed ones, in order of their start."""
    stale: tuple[int, ...]
    """Those of which nothing is kept, or of something else than what stands in the logbook now."""
    rows: pl.LazyFrame | None
    """What is kept of the others, as it was given, with ``session`` and ``digest``; None where nothing is."""
    digests: dict[int, str]
    """What each session's kept file has to say that it was made from."""
    one_fuel: bool
    """Whether all ran on the same fuel, by what was written."""


class Kept(Store):
    """Band counts and pairs kept for each session."""

    def season(self, bike: str, version: str) -> Season:
        """Return what is kept of a bike's sessions.

        Args:
            bike: its name.
            version: what reckons the counts; another one makes all that is kept stale.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._reading() as connection:
            found = bike_row(connection, bike)
            digests, fuels = self._digests(connection, found.id, version)
        paths = [path for session in digests if (path := files.bands(self.folder, session)).is_file()]
        rows = None
        kept: set[int] = set()
        if paths:
            wanted = pl.LazyFrame({"session": list(digests), "digest": list(digests.values())})
            rows = pl.scan_parquet(paths).join(wanted, on=["session", "digest"], how="semi").collect().lazy()
            kept = set(rows.select("session").unique().collect()["session"].to_list())
        stale = tuple(session for session in digests if session not in kept)
        return Season(found.bike, tuple(digests), stale, rows, digests, len(fuels) <= 1)

    def keep_counts(self, session: int, digest: str, frame: pl.DataFrame) -> None:
        """Keep a session's band counts beside its samples.

        Args:
            session: its number.
            digest: what they were made from, as ``season`` says it.
            frame: the counts; one without rows is kept as one row of nulls, so that it need not be made again.

        Raises:
            DiskTrouble: the disk would not take it.
        """
        said = frame if len(frame) else frame.clear(1)
        marked = said.with_columns(session=pl.lit(session, pl.Int64), digest=pl.lit(digest))
        with placed(files.bands(self.folder, session)) as beside:
            marked.write_parquet(beside, compression="zstd", compression_level=3)

    def samples_stamp(self, session: int) -> tuple[int, int]:
        """Return what another file of samples would not have the same of: its size and when it was written."""
        return _stamp(files.samples(self.folder, session))

    def kept_pairs(self, session: int, digest: str) -> str | None:
        """Return the pairs kept of a session; None where they were made from something else, or there are none.

        Args:
            session: its number.
            digest: of all that they are made from now.
        """
        try:
            found = json.loads(files.pairs(self.folder, session).read_text(encoding="utf-8"))
        except (OSError, ValueError):  # not there, cut off, or from an earlier version: made anew
            return None
        same = isinstance(found, dict) and found.get("digest") == digest
        return json.dumps(found.get("kept")) if same else None

    def keep_pairs(self, session: int, digest: str, document: str) -> None:
        """Keep the pairs of a session beside its samples.

        Args:
            session: its number.
            digest: of all that they were made from, hexadecimal.
            document: the pairs as JSON, as whoever made them reads them.

        Raises:
            DiskTrouble: the disk would not take it.
        """
        with placed(files.pairs(self.folder, session)) as beside:
            beside.write_text(f'{{"digest": "{digest}", "kept": {document}}}\n', encoding="utf-8")

    def _digests(self, connection: Connection, bike_id: int, version: str) -> tuple[dict[int, str], set[str]]:
        """Return what the kept file of each session has to be made from, and the fuels that were written."""
        s, b, f, e = (
            t.c for t in (tables.sessions, tables.bike_files, tables.setup_files, tables.sensor_events)
        )
        file = connection.execute(
            select(b.document).where(b.bike_id == bike_id).order_by(b.id.desc()).limit(1)
        ).scalar()
        written: dict[int, list[Any]] = {}
        query = select(f.session_id, f.document).join(tables.sessions, s.id == f.session_id)
        for row in connection.execute(query.where(s.bike_id == bike_id).order_by(f.id)):
            written.setdefault(row.session_id, []).append(row.document)
        events = connection.execute(
            select(tables.sensor_events).where(e.bike_id == bike_id).order_by(e.at, e.id)
        ).all()
        order = connection.execute(
            select(s.id, s.started, s.state).where(s.bike_id == bike_id).order_by(s.started, s.id)
        )
        # each session takes over from the ones before it, so what was written is chained
        chain = _hash([version, file])
        fuel: dict[str, Any] = {}
        digests, fuels, next_event = {}, set(), 0
        for session in order:
            while next_event < len(events) and events[next_event].at <= session.started:
                chain = _hash([chain, *_plain(events[next_event])])
                next_event += 1
            if session.id in written:
                chain = _hash([chain, *written[session.id]])
                for document in written[session.id]:
                    fuel |= {key: document[key] for key in _FUEL_KEYS if key in document}
            samples = files.samples(self.folder, session.id)
            if session.state == "sealed" and samples.is_file():
                digests[session.id] = _hash([chain, *_stamp(samples)])
                fuels.add(json.dumps(fuel, sort_keys=True))
        return digests, fuels


def _stamp(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_size, found.st_mtime_ns


def _plain(row: Row[Any]) -> list[str]:
    return [str(value) for value in row]


def _hash(parts: Iterable[Any]) -> str:
    return sha256(json.dumps(list(parts), sort_keys=True, default=str).encode()).hexdigest()[:32]

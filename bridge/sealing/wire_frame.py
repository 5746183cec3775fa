"""From the bytes of a logger to samples: every line laid on one time, every channel in its own unit."""

from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl

from bridge.align import lay_on_time
from bridge.channels import find
from bridge.channels.conform import conform, rising
from bridge.errors import BadValue
from bridge.model import Mark, PartState
from bridge.model.sealed import SealedFrame
from bridge.units import scale
from bridge.wire import Counts, Decoded, Segment, decode

BETWEEN_BOOTS_S = 1.0
"""What stands between two starts of the logger where nobody noted when their bytes came in [s]."""


def frame_from_capture(data: bytes, chunks: pl.DataFrame | None, *, strict: bool = False) -> SealedFrame:
    """Turn a logger's bytes into samples, marks and states.

    Args:
        data: the raw bytes.
        chunks: when they came in: ``offset``, ``length``, ``monotonic_ns``, ``utc_ns``; None where nobody
            noted it.
        strict: refuse a unit that does not fit its channel, instead of leaving the channel out with a note.

    Returns:
        What they come to; the same bytes always come to the same. Its ``t_s`` begins at the first line.

    Raises:
        WireTooNew: the logger speaks a later version.
        BadValue: a unit does not fit its channel, and ``strict`` is set.
    """
    decoded = decode(data)
    notes = _notes_on_lines(decoded.counts)
    times = _Times(decoded, chunks)
    parts: list[pl.DataFrame] = []
    units: dict[str, str] = {}
    for segment in decoded.segments:
        named, more = _named(segment, units, strict=strict)
        parts.append(named.with_columns(t_s=times.of(segment.frame["offset"])))
        notes += [note for note in more if note not in notes]
    frame = pl.concat(parts, how="diagonal") if parts else pl.DataFrame(schema={"t_s": pl.Float64})
    frame, dropped = rising(frame.select("t_s", pl.exclude("t_s")))
    conformed = conform(frame, units)
    if dropped:
        notes.append(f"{_lines(dropped)} left out, whose time did not come after the line before")
    return SealedFrame(
        frame=conformed.frame,
        units=conformed.units,
        marks=tuple(Mark(t_s, what, "wire") for t_s, what in times.rows(decoded.marks, "what")),
        states=tuple(
            PartState(t_s, part, state) for t_s, part, state in times.rows(decoded.states, "part", "state")
        ),
        counts={name: value for name, value in asdict(decoded.counts).items() if name in _COUNTED},
        notes=(*notes, *times.notes, *conformed.notes),
        started_utc=times.started_utc,
    )


_COUNTED = ("lines_good", "lines_damaged", "lines_lost", "junk_bytes", "restarts")


def _notes_on_lines(counts: Counts) -> list[str]:
    notes = []
    if counts.lines_damaged:
        notes.append(f"{_lines(counts.lines_damaged)} damaged")
    if counts.lines_lost:
        notes.append(f"{_lines(counts.lines_lost)} lost, the damaged ones among them")
    if counts.junk_bytes:
        notes.append(f"{counts.junk_bytes} bytes that are no part of a line")
    if counts.restarts:
        notes.append(
            f"the logger started anew {'once' if counts.restarts == 1 else f'{counts.restarts} times'}"
        )
    if counts.unknown_lines:
        notes.append(f"{_lines(counts.unknown_lines)} of a kind that this version does not know")
    if counts.unread_lines:
        notes.append(
            f"{_lines(counts.unread_lines)} that no whole block ever described, so nobody knows what they say"
        )
    return notes


def _lines(count: int) -> str:
    return "1 line" if count == 1 else f"{count} lines"


def _named(segment: Segment, units: dict[str, str], *, strict: bool) -> tuple[pl.DataFrame, list[str]]:
    """Return a segment's values by channel name, in the units of ``units``, which grows; and notes."""
    columns: dict[str, pl.Expr] = {}
    notes: list[str] = []
    for line in segment.channels:
        name = line.name
        if name == "t_s" or name in columns:
            notes.append(
                f"a second channel {name} was left out" if name in columns else "a channel t_s was left out"
            )
            continue
        found = find(name)
        wanted = units.get(name) or (found[0].unit if found else line.unit)
        try:
            if wanted == line.unit and found is None:
                factor, offset = 1.0, 0.0  # a unit that nobody knows is kept as it came
            else:
                factor, offset = scale(line.unit, wanted)
        except BadValue as error:
            if strict and found is not None:
                raise BadValue(f"channel {name}: {error}") from None
            notes.append(f"channel {name} was left out: {error}; the raw bytes are kept")
            continue
        units[name] = wanted
        value = pl.col(f"v{line.index}")
        columns[name] = value if (factor, offset) == (1.0, 0.0) else value * factor + offset
    return segment.frame.select(value.alias(name) for name, value in columns.items()), notes


class _Times:
    """When each line was written, by its place in the bytes.

    Data lines, marks and states of one start of the logger are laid on time together. Starts follow each
    other by arrival, or one second apart where nobody noted that.
    """

    def __init__(self, decoded: Decoded, chunks: pl.DataFrame | None) -> None:
        self.notes: tuple[str, ...] = ()
        self.started_utc: datetime | None = None
        rates = {segment.boot_index: segment.identity.ticks_per_second for segment in decoded.segments}
        where = ("offset", "boot_index", "tick")
        lines = pl.concat(
            [
                *(
                    s.frame.with_columns(boot_index=pl.lit(s.boot_index)).select(_plain(where))
                    for s in decoded.segments
                ),
                decoded.marks.select(_plain(where)),
                decoded.states.select(_plain(where)),
            ],
        ).sort("offset")
        if chunks is not None and chunks.is_empty():
            chunks = None
        boots: list[tuple[np.ndarray, np.ndarray]] = []
        end = -BETWEEN_BOOTS_S
        for (boot,), group in lines.group_by("boot_index", maintain_order=True):
            if boot not in rates:  # states of a start that never said what its data are
                continue
            offsets = group["offset"].to_numpy()
            arrival = None if chunks is None else _arrival(offsets, chunks)
            seconds = lay_on_time(group["tick"].cast(pl.UInt32).to_numpy(), rates[int(str(boot))], arrival)
            if arrival is None:
                seconds = seconds - seconds.min() + end + BETWEEN_BOOTS_S
                end = float(seconds.max())
            boots.append((offsets, seconds))
        if chunks is None and len(boots) > 1:
            apart = f"{BETWEEN_BOOTS_S:g} s apart"
            self.notes += (f"nobody noted when the bytes came in, so the starts of the logger stand {apart}",)
        self._offsets = np.concatenate([offsets for offsets, _ in boots]) if boots else np.empty(0, np.int64)
        self._seconds = np.concatenate([seconds for _, seconds in boots]) if boots else np.empty(0)
        if len(self._seconds):
            first = float(self._seconds.min())
            self._seconds = self._seconds - first
            if chunks is not None:
                begun = datetime.fromtimestamp(0, UTC) + timedelta(
                    microseconds=int(chunks["utc_ns"][0]) // 1000
                )
                self.started_utc = begun + timedelta(seconds=first)

    def of(self, offsets: pl.Series) -> pl.Series:
        """Return the seconds of lines since the session's start [s]; null for a line that has no time."""
        wanted = offsets.cast(pl.Int64).to_numpy()
        if not len(self._offsets):
            return pl.Series("t_s", [None] * len(wanted), dtype=pl.Float64)
        at = np.clip(np.searchsorted(self._offsets, wanted), 0, len(self._offsets) - 1)
        known = self._offsets[at] == wanted
        return pl.Series("t_s", np.where(known, self._seconds[at], np.nan)).fill_nan(None)

    def rows(self, lines: pl.DataFrame, *names: str) -> list[tuple[Any, ...]]:
        """Return (t_s, ...) of each line that has a time."""
        return lines.select(self.of(lines["offset"]), *names).drop_nulls("t_s").rows()


def _plain(names: tuple[str, ...]) -> list[pl.Expr]:
    return [pl.col(name).cast(pl.Int64) for name in names]


def _arrival(offsets: np.ndarray, chunks: pl.DataFrame) -> np.ndarray:
    """Return when the bytes at these places had come in, since the first chunk [s]."""
    begins = chunks["offset"].cast(pl.Int64).to_numpy()
    came = chunks["monotonic_ns"].to_numpy()
    at = np.clip(np.searchsorted(begins, offsets, side="right") - 1, 0, len(begins) - 1)
    return np.asarray((came[at] - came[0]) / 1e9, dtype=np.float64)

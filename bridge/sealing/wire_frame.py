"""From the bytes of a logger to samples: every line laid on one time, every channel in its own unit."""

from dataclasses import asdict

import polars as pl

from bridge.channels import find
from bridge.channels.conform import conform, rising
from bridge.errors import BadValue
from bridge.model import Mark, PartState
from bridge.model.moments import LONGEST, LONGEST_S
from bridge.model.sealed import SealedFrame
from bridge.sealing.line_times import LineTimes
from bridge.units import scale
from bridge.wire import Counts, Segment, decode


def frame_from_capture(data: bytes, chunks: pl.DataFrame | None, *, strict: bool = False) -> SealedFrame:
    """Turn a logger's bytes into samples, marks and states.

    Args:
        data: the raw bytes.
        chunks: when they came in: ``offset``, ``length``, ``monotonic_ns``, ``utc_ns``; None where nobody
            noted it.
        strict: refuse a unit that does not fit its channel, and a time beyond any session, instead of leaving the
            channel or the line out with a note.

    Returns:
        What they come to; the same bytes always come to the same. Its ``t_s`` begins at the first line.

    Raises:
        WireTooNew: the logger speaks a later version.
        BadValue: a unit does not fit its channel, or it is longer than any session, and ``strict`` is set.
    """
    decoded = decode(data)
    notes = _notes_on_lines(decoded.counts)
    times = LineTimes(decoded, chunks)
    parts: list[pl.DataFrame] = []
    units: dict[str, str] = {}
    for segment in decoded.segments:
        values, more = _named(segment, units, strict=strict)
        timed = segment.frame.with_columns(t_s=times.of(segment.frame["offset"]))
        parts.append(timed.select("t_s", *values))
        notes += [note for note in more if note not in notes]
    frame = pl.concat(parts, how="diagonal") if parts else pl.DataFrame(schema={"t_s": pl.Float64})
    frame, dropped = rising(frame)
    far = int((frame["t_s"] > LONGEST_S).sum())
    if far and strict:
        raise BadValue(
            f"data line {frame.height - far + 1} that could be read is {frame['t_s'][-far]:.6g} s after the start,"
            f" and no session is longer than {LONGEST}; look at the logger's clock"
        )
    if far:
        notes.append(f"{_lines(far)} left out, more than {LONGEST} after the start")
        frame = frame.head(-far)
    conformed = conform(frame, units)
    if dropped:
        notes.append(f"{_lines(dropped)} left out, whose time did not come after the line before")
    return SealedFrame(
        frame=conformed.frame,
        units=conformed.units,
        marks=tuple(
            Mark(t_s, what, "wire") for t_s, what in times.rows(decoded.marks, "what") if t_s <= LONGEST_S
        ),
        states=tuple(
            PartState(t_s, part, state)
            for t_s, part, state in times.rows(decoded.states, "part", "state")
            if t_s <= LONGEST_S
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


def _named(segment: Segment, units: dict[str, str], *, strict: bool) -> tuple[list[pl.Expr], list[str]]:
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
    return [value.alias(name) for name, value in columns.items()], notes

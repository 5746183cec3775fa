"""Sealing: from the capture of a recording to its samples in the logbook."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.errors import BadFile, SootlineError, WireTooNew
from bridge.link.capture import Capture, read_capture
from bridge.logbook import Logbook
from bridge.model.sealed import SealedFrame
from bridge.sealing.told import befell, without_refused
from bridge.sealing.wire_frame import frame_from_capture


@dataclass(frozen=True)
class Sealed:
    """A recording that is done."""

    session: int
    seconds: float
    """Length, to the last sample [s]."""
    samples: int
    marks: int
    bytes: int
    """Bytes that came off the wire."""
    counts: Mapping[str, int]
    """lines_good, lines_damaged, lines_lost, junk_bytes, restarts, reconnects."""
    notes: tuple[str, ...]


def seal_capture(logbook: Logbook, session: int, capture_path: Path | None = None) -> Sealed:
    """Make a session's samples from its capture. It may be done again at any time, with the same result.

    Args:
        logbook: open to write.
        session: its number.
        capture_path: where the capture is, if not at its own place in the logbook.

    Raises:
        UnknownThing: there is no such session.
        WireTooNew: the logger speaks a later version; the session is kept, marked as interrupted, with its
            bytes.
        BadFile: the capture is none; kept likewise.
        DiskTrouble: the disk would not take the samples; the session stays to be recovered.
    """
    path = capture_path or logbook.raw_path(session)
    try:
        capture, sealed = capture_frame(path)
    except SootlineError as error:
        logbook.give_up(session, f"The raw bytes are kept at {path} but could not be read: {error}.")
        if isinstance(error, WireTooNew):
            raise WireTooNew(f"{error}, which are kept at {path}") from None
        raise
    logbook.finish_session(session, sealed)
    return Sealed(
        session=session,
        seconds=sealed.seconds,
        samples=sealed.frame.height,
        marks=len(sealed.marks),
        bytes=len(capture.data),
        counts=sealed.counts,
        notes=sealed.notes,
    )


def capture_frame(path: Path, *, strict: bool = False) -> tuple[Capture, SealedFrame]:
    """Return a capture and what it comes to.

    Args:
        path: the capture file.
        strict: refuse a unit that does not fit its channel.

    Raises:
        BadFile: it is not there, or no capture.
        WireTooNew: the logger speaks a later version.
        BadValue: a unit does not fit its channel, and ``strict`` is set.
    """
    if not path.is_file():
        raise BadFile(f"there is no capture at {path}")
    capture = read_capture(path)
    told = befell(capture.notes)
    sealed = frame_from_capture(without_refused(capture, told.refused), capture.chunks, strict=strict)
    notes = [*told.notes, *sealed.notes]
    if not sealed.frame.height and not told.foreign:
        notes.insert(0, _empty(len(capture.data)))
    if capture.torn_bytes or capture.damaged_bytes:
        notes.append(
            f"the capture was cut off or hurt: {capture.torn_bytes + capture.damaged_bytes} bytes of it do"
            " not check out",
        )
    return capture, replace(
        sealed, counts={**sealed.counts, "reconnects": told.reconnects}, notes=tuple(notes)
    )


def _empty(size: int) -> str:
    if size == 0:
        return "nothing came off the wire; look at the cable, the port and the logger's power"
    return f"{size} bytes came off the wire, but no data line could be read; look at the baud rate"

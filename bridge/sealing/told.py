"""What a recorder noted beside the bytes, as a session keeps it."""

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.link.capture import Capture, Note
from bridge.link.notes import Kind, Told, read_note


@dataclass(frozen=True)
class Befell:
    """What befell a recording, from its notes."""

    reconnects: int
    """How often the port went away and came back with the same logger behind it."""
    notes: tuple[str, ...]
    """For a person: each gap with its length, then what else there is to know."""
    foreign: bool
    """Whether what came was called foreign, with the likely reason among the notes."""
    refused: tuple[tuple[int, int], ...]
    """Stretches of the bytes (begin, end) that came from another logger."""


def befell(notes: Sequence[Note]) -> Befell:
    """Read a recorder's notes; those of a later version are passed over."""
    told = [(note, read) for note in notes if (read := read_note(note.text)) is not None]
    refused = tuple(
        (max(0, note.offset - read.refused_bytes), note.offset) for note, read in told if read.refused_bytes
    )
    gaps, reconnects, still_away = _gaps(told)
    words = [f"the port was away {gap}" for gap in gaps]
    silences = sum(read.kind is Kind.SILENT for _, read in told)
    if silences:
        words.append(f"the logger was silent for some seconds {_times(silences)}")
    words += [read.words for _, read in told if read.kind in {Kind.FOREIGN, Kind.REFUSED, Kind.DISK}]
    if still_away:
        words.append("the port was away at the end")
    foreign = any(read.kind is Kind.FOREIGN for _, read in told)
    return Befell(reconnects, tuple(dict.fromkeys(words)), foreign, refused)


def without_refused(capture: Capture, refused: Sequence[tuple[int, int]]) -> bytes:
    """Return a capture's bytes with line ends in place of another logger's, so that each keeps its place."""
    if not refused:
        return capture.data
    data = bytearray(capture.data)
    for begin, end in refused:
        data[begin:end] = b"\n" * (end - begin)
    return bytes(data)


def _gaps(told: Sequence[tuple[Note, Told]]) -> tuple[list[str], int, bool]:
    """Return each gap in words, how many there were, and whether the port was away at the end.

    A gap ends when our logger is back: an opening behind which another one spoke from the first byte on is part
    of it.
    """
    gaps: list[tuple[Note, Note]] = []
    lost: Note | None = None
    for note, read in told:
        if read.kind is Kind.REFUSED and gaps and note.offset - read.refused_bytes <= gaps[-1][1].offset:
            lost = gaps.pop()[0]
        elif read.kind is Kind.LOST:
            lost = lost or note
        elif read.kind is Kind.BACK and lost is not None:
            gaps.append((lost, note))
            lost = None
    begun = told[0][0].monotonic_ns if told else 0
    words = [
        f"for {(back.monotonic_ns - gone.monotonic_ns) / 1e9:.1f} s, from"
        f" {(gone.monotonic_ns - begun) / 1e9:.1f} s after the start of the recording"
        for gone, back in gaps
    ]
    return words, len(gaps), lost is not None


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"

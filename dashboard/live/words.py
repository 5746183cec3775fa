"""What stands on the live page in words."""

from collections.abc import Iterable

from bridge.channels import label
from bridge.link.notes import Kind, Told
from dashboard.components.parts import as_sentence, length

_SETTLES: dict[Kind, tuple[str, ...]] = {
    Kind.HEARD: ("silence", "format"),
    Kind.BACK: ("port", "silence"),
    Kind.ENDED: ("port", "silence", "format", "disk"),
}
_TROUBLES: dict[Kind, str] = {
    Kind.LOST: "port",
    Kind.WAITING: "port",
    Kind.SILENT: "silence",
    Kind.FOREIGN: "format",
    Kind.NEWER: "format",
    Kind.DISK: "disk",
    Kind.ENDED: "end",
}


def standing(notes: Iterable[Told]) -> tuple[Told, ...]:
    """Return the recorder's troubles that no later note has settled, the oldest first.

    Args:
        notes: in order; of one kind of trouble the last word counts.
    """
    troubles: dict[str, Told] = {}
    for note in notes:
        for settled in _SETTLES.get(note.kind, ()):
            troubles.pop(settled, None)
        subject = _TROUBLES.get(note.kind)
        if subject is not None:
            troubles.pop(subject, None)
            troubles[subject] = note
    return tuple(troubles.values())


def troubles(notes: Iterable[Told], too_new: str | None, own: str | None) -> list[dict[str, str]]:
    """Return what is amiss just now, one sentence each.

    Args:
        notes: the recorder's, in order.
        too_new: what the reader of the lines has against the logger's version.
        own: what keeps the page from following.
    """
    found = [{"kind": str(note.kind), "words": as_sentence(note.words)} for note in standing(notes)]
    found += [{"kind": "newer", "words": as_sentence(too_new)}] if too_new else []
    return found + ([{"kind": "page", "words": as_sentence(own)}] if own else [])


def event(t: float, note: Told) -> dict[str, str | float]:
    """Return a note with its moment [s]."""
    words = f"ended {note.words}" if note.kind is Kind.ENDED else note.words
    return {"t": round(t, 3), "kind": str(note.kind), "words": as_sentence(words)}


def sensor_words(states: dict[str, str]) -> list[dict[str, str]]:
    """Return how each part of the logger is, in order of its name."""
    return [
        {"part": part, "label": label(part), "state": state}
        for part, state in sorted(states.items(), key=lambda item: item[0])
    ]


def disk_words(free_bytes: int, bytes_per_s: float) -> str:
    """Return how much the disk still takes.

    Args:
        free_bytes: what is free [bytes].
        bytes_per_s: how fast the recording grows [bytes/s]; 0 where that is not known yet.
    """
    room = f"{free_bytes / 1e9:.1f} GB" if free_bytes >= 1e9 else f"{free_bytes / 1e6:.0f} MB"
    if bytes_per_s <= 0.0:
        return room
    seconds = free_bytes / bytes_per_s
    if seconds > 86_400:
        return f"{room}, more than a day"
    return f"{room}, about {length(60.0 * max(1.0, seconds // 60.0)) if seconds >= 60 else 'no minute more'}"

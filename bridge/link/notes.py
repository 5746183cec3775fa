"""What a recorder writes down beside the bytes: one word for programs, then words for a person.

Notes stand in the capture, so whoever follows it (the live page) or reads it later (sealing) learns what befell
the recording from the same file as the bytes.
"""

import re
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a note is about: its first word."""

    BEGAN = "began"
    """The recording began; always the first note."""
    SILENT = "silent"
    """No byte has come for a while; the port is still there."""
    HEARD = "heard"
    """Bytes come again, or can be read for the first time after a ``foreign``."""
    FOREIGN = "foreign"
    """Bytes come, but none of them is a line of the wire format."""
    NEWER = "newer"
    """The logger speaks a later version of the wire format."""
    RESTARTED = "restarted"
    """The logger began anew."""
    LOST = "lost"
    """The port went away."""
    WAITING = "waiting"
    """What stands in the way of the port, and when it is tried again."""
    BACK = "back"
    """The port is open again."""
    REFUSED = "refused"
    """The last so many bytes came from another logger: they are kept, and are no part of the session."""
    DISK = "disk"
    """The disk is full, or will be soon."""
    ENDED = "ended"
    """The recording ended, and why; missing where the recorder was cut off."""


@dataclass(frozen=True)
class Told:
    """A note, taken apart."""

    kind: Kind
    words: str

    @property
    def refused_bytes(self) -> int:
        """How many bytes before this note are another logger's; 0 unless it is a ``refused``."""
        found = re.match(r"the last ([0-9]{1,15}) bytes ", self.words)
        return int(found[1]) if found and self.kind is Kind.REFUSED else 0


def note_text(kind: Kind, words: str) -> str:
    """Return a note as it stands in a capture."""
    return f"{kind}: {words}"


def read_note(text: str) -> Told | None:
    """Take a note apart; None where its first word is none of ours (a later version's)."""
    word, colon, words = text.partition(": ")
    try:
        return Told(Kind(word), words) if colon else None
    except ValueError:
        return None


def refused_words(size: int, because: str) -> str:
    """Return the words of a ``refused`` note, from which the number of bytes can be read again."""
    return f"the last {size} bytes are no part of the session: {because}"

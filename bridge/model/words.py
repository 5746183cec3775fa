"""What a person may write in words: how long it may be, and that it can be read again on a screen."""

from bridge.errors import BadValue, is_printable

LONGEST = {
    "label": 40,
    "fuel's name": 40,
    "bike's name": 80,
    "plug type": 80,
    "place": 120,
    "gearing": 200,
    "rebuild": 200,
    "nose colour": 200,
    "base ring": 200,
    "piston wash": 200,
    "task": 400,
    "reason": 1000,
    "note": 4000,
}
"""The most characters of each kind of words; a convention of this project, so that lists stay readable."""

_NOTE_BREAKS = "\n\r\t"
"""What a note may hold beside characters to see: it may run over several lines."""


def check_words(kind: str, text: str) -> str:
    """Return words that a person wrote as they are, or refuse them.

    Args:
        kind: what they are, a key of ``LONGEST``.
        text: the words.

    Raises:
        BadValue: nothing but blanks, too long, or a character that cannot be seen and that a terminal might
            obey.
    """
    if not text.strip():
        raise BadValue(f"the {kind} is empty; write at least one character to see")
    allowed = _NOTE_BREAKS if kind == "note" else ""
    unseen = next((c for c in text if c not in allowed and not is_printable(c)), None)
    if unseen is not None:
        raise BadValue(
            f"the {kind} holds U+{ord(unseen):04X}, a character that cannot be seen; write it without"
        )
    if len(text) > LONGEST[kind]:
        raise BadValue(
            f"the {kind} '{text[:20]}...' has {len(text)} characters; shorten it to {LONGEST[kind]} at most"
        )
    return text


def check_all(words: dict[str, str | None]) -> None:
    """Refuse any of several words that cannot stand; None is fine, since nobody wrote it.

    Args:
        words: each by its kind.

    Raises:
        BadValue: as ``check_words``.
    """
    for kind, text in words.items():
        if text is not None:
            check_words(kind, text)

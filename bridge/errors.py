"""The error tree.

::

    SootlineError
     +-- RequestError          the user erred: exit 2, nothing was changed
     |    +-- UnknownThing     a session, bike, plug, channel, fuel or key that is not there
     |    +-- BadFile          a file that cannot be read as what it should be (file, line, column)
     |    +-- BadValue         a value out of range, a unit that does not fit, a rule of the tray broken
     |    +-- PortNotUsable    a port that is not there, not permitted or busy before anything began
     +-- NotCarriedThrough     the world erred: exit 1, the sentence says what was kept
     |    +-- PortLost         the port went away and did not come back
     |    +-- ForeignDevice    what speaks on the port does not speak the wire format
     |    +-- DiskTrouble      full disk, read-only folder
     |    +-- WireTooNew       the logger speaks a later version of the wire format
     +-- InternalError         we erred: exit 1, a defect of this program

Each message is one sentence: what, where, and the mend.
"""

import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches


class SootlineError(Exception):
    """Base of all errors that this project raises on purpose."""

    exit_code = 1


class RequestError(SootlineError):
    """The request or its input was wrong, and nothing was changed.

    Example scenarios: an unknown session; a malformed file; a ring deeper than the nose.
    """

    exit_code = 2


class UnknownThing(RequestError):
    """A name that is not there.

    Example scenarios: a session number nobody recorded; a misspelt key in bike.toml.
    """


class BadFile(RequestError):
    """A file that cannot be read as what it should be.

    Example scenarios: a picture given as a log; a map that names a column the file lacks.
    """


class BadValue(RequestError):
    """A value out of its range, or one that breaks a rule.

    Example scenarios: humidity of 140 %; a plug fitted twice; a unit that does not fit its channel.
    """


class PortNotUsable(RequestError):
    """A port that could not be opened at the start.

    Example scenarios: no such device; no rights on it; another program holds it.
    """


class NotCarriedThrough(SootlineError):
    """What was begun could not be finished; the message says what was kept."""


class PortLost(NotCarriedThrough):
    """The port went away while recording and stayed away.

    Example scenarios: the cable was pulled; the logger lost its battery.
    """


class ForeignDevice(NotCarriedThrough):
    """What speaks on the port does not speak the wire format.

    Example scenarios: a wrong baud rate; a device that prints another format.
    """


class DiskTrouble(NotCarriedThrough):
    """The disk would not take what was written.

    Example scenarios: a full disk; a folder that is read-only.
    """


class WireTooNew(NotCarriedThrough):
    """The logger speaks a later version of the wire format than this program reads."""


class InternalError(SootlineError):
    """A defect of this program, not of the user, the logger or the disk."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a hint that names the nearest known word.

    Args:
        name: what was given.
        known: what there is.

    Returns:
        ``"; did you mean 'x'?"``, or ``"; there is a, b, c"``, or an empty string where nothing is known.
    """
    words = sorted(set(known))
    close = get_close_matches(name, words, n=1)
    if close:
        return f"; did you mean '{close[0]}'?"
    return f"; there is {', '.join(words)}" if words else ""


_UNSEEN = {"Cc", "Cf", "Cs", "Zl", "Zp"}
"""Unicode categories that a terminal obeys instead of showing them, or cannot show."""


def is_printable(character: str) -> bool:
    """Return whether a character is one to see: no control, no format character, no half of a pair."""
    return character.isprintable() or unicodedata.category(character) not in _UNSEEN


def printable(text: str) -> str:
    r"""Return a text that no terminal obeys: what cannot be seen is written as its escape, such as ``\x1b``.

    Args:
        text: from a file, a device or a person.
    """
    if text.isprintable():
        return text
    return "".join(c if is_printable(c) else c.encode("unicode_escape").decode() for c in text)

"""What is to be done after a session: a test that would settle something, or a change with its promise."""

from dataclasses import dataclass
from datetime import datetime

LARGEST_PROMISE = 0.3
"""The largest change of lambda that may be promised [1]; a slip of the pen lies over it."""


@dataclass(frozen=True)
class Task:
    """One line of a session's to-do.

    Attributes:
        id: its number in the logbook.
        session: number of the session that it came from.
        cylinder: from 1; None where it is about the whole engine.
        what: what is to be done.
        because: why, in a sentence; None where nobody said.
        promise: by how much lambda at full throttle should change, below zero for richer [1]; None without one.
        written: when, in UTC: before the run that shows what came of it.
        done: when it was done, in UTC; None while it is open.
        note: what was found in doing it.
    """

    id: int
    session: int
    cylinder: int | None
    what: str
    because: str | None
    promise: float | None
    written: datetime
    done: datetime | None = None
    note: str | None = None

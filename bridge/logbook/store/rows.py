"""Small questions that several subjects ask inside their own transaction."""

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from bridge.errors import UnknownThing
from bridge.logbook import tables
from bridge.logbook.store.bikes import bike_rows
from bridge.model import Bike

Position = tuple[datetime, int]
"""Where a session stands in time. Sessions are ordered by their start, not by their number: an old log may be
imported late."""


def session_row(connection: Connection, session: int) -> Row[Any]:
    """Return a session's row.

    Raises:
        UnknownThing: there is none of that number; the message says which there are.
    """
    t = tables.sessions
    row = connection.execute(select(t).where(t.c.id == session)).first()
    if row is None:
        numbers = connection.execute(select(t.c.id).order_by(t.c.id)).scalars().all()
        there = f"there are {_spans(list(numbers))}" if numbers else "there are none yet"
        raise UnknownThing(f"there is no session {session} in the logbook; {there}")
    return row


def bike_of(connection: Connection, bike_id: int | None) -> Bike | None:
    """Return the bike of an id, as it stands now."""
    return next((row.bike for row in bike_rows(connection) if row.id == bike_id), None)


def positions(connection: Connection) -> dict[int, Position]:
    """Return where every session stands in time."""
    t = tables.sessions.c
    return {row.id: (row.started, row.id) for row in connection.execute(select(t.id, t.started))}


def _spans(numbers: list[int]) -> str:
    """Return rising numbers in words, such as ``1 to 4, 7``."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][-1] + 1:
            spans[-1] = [spans[-1][0], number]
        else:
            spans.append([number])
    return ", ".join(" to ".join(map(str, span)) for span in spans)

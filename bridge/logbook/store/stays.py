"""The stays of plugs as they count now: what was first written, with everything that was told of it since.

A fitting's row keeps the cylinder that was first written; the newest correction counts. A stay ends with its pull,
and at the latest with the session before the same plug went in anew, which is how a swap that is told late ends it. A
reading belongs to its plug: it counts for whichever stay of that plug covers its session.
"""

from collections import defaultdict
from itertools import pairwise
from typing import Any

from sqlalchemy import Connection, Row, select

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import insert, now
from bridge.logbook.store.rows import positions, session_row
from bridge.model import Bike, Fitting, Reading
from bridge.model.stay import Position, Stay, Told

FOUND = "the order was found"
"""Why a cylinder was corrected that was not known before."""


def where(connection: Connection, session: int) -> tuple[Position, str | None]:
    """Return where a session stands in time, and the name of its bike."""
    row = session_row(connection, session)
    return (row.started, row.id), bike_names(connection).get(row.bike_id)


def bike_names(connection: Connection) -> dict[int | None, str]:
    """Return the name of each bike by its number; a session without a bike finds none."""
    t = tables.bikes.c
    return {row.id: row.name for row in connection.execute(select(t.id, t.name))}


def stays_of(connection: Connection) -> list[Stay]:
    """Return all stays, in the order in which they were written down."""
    f, p = tables.fittings, tables.pulls
    query = (
        select(f, p.c.session_id.label("pulled"), p.c.order_lost)
        .outerjoin(p, p.c.fitting_id == f.c.id)
        .order_by(f.c.id)
    )
    rows = list(connection.execute(query))
    at = positions(connection)
    ends = _ends(connection, rows, at)
    corrected = _corrected(connection)
    lost = _lost(connection)
    names = bike_names(connection)
    found = []
    for row in rows:
        # an order that was lost at a pull was lost for the stay that ended with it
        at_pull = bool(row.order_lost) and ends[row.id] == row.pulled
        told = lost.get((row.plug, ends[row.id]), [])
        fitting = Fitting(
            id=row.id,
            plug=row.plug,
            cylinder=corrected.get(row.id, row.cylinder),
            state=row.state,
            fitted=row.fitted,
            pulled=ends[row.id],
            order_lost=told[-1] if told else at_pull,
            type=row.type,
            nose_mm=row.nose_mm,
            heat_range=row.heat_range,
        )
        found.append(
            Stay(
                fitting,
                names.get(row.bike_id),
                fitted=at[row.fitted],
                pulled=None if fitting.pulled is None else at[fitting.pulled],
                written=row.cylinder,
                was_lost=at_pull or any(told),
            )
        )
    return found


def _ends(connection: Connection, rows: list[Row[Any]], at: dict[int, Position]) -> dict[int, int | None]:
    """Return the session after which each fitting came out, by the fitting's number."""
    of_plug: dict[str, list[Row[Any]]] = defaultdict(list)
    for row in rows:
        of_plug[row.plug].append(row)
    ends: dict[int, int | None] = {row.id: row.pulled for row in rows}
    for mine in of_plug.values():
        mine.sort(key=lambda row: (at[row.fitted], row.id))
        for row, after in pairwise(mine):
            anew = at[after.fitted]
            if row.pulled is None or at[row.pulled] >= anew:
                last = session_before(connection, row.bike_id, anew)
                ends[row.id] = row.fitted if last is None or at[last] < at[row.fitted] else last
    return ends


def session_before(connection: Connection, bike_id: int | None, here: Position) -> int | None:
    """Return the number of the bike's last session before a place in time; None where there is none."""
    t = tables.sessions
    same = t.c.bike_id.is_(None) if bike_id is None else t.c.bike_id == bike_id
    query = select(t.c.id, t.c.started).where(same, t.c.started <= here[0])
    earlier = [(row.started, row.id) for row in connection.execute(query) if (row.started, row.id) < here]
    return max(earlier)[1] if earlier else None


def _corrected(connection: Connection) -> dict[int, int]:
    """Return the cylinder that was told last of each fitting whose cylinder was corrected."""
    c = tables.fitting_corrections.c
    return {
        row.fitting_id: row.cylinder
        for row in connection.execute(select(c.fitting_id, c.cylinder).order_by(c.id))
    }


def _lost(connection: Connection) -> dict[tuple[str, int | None], list[bool]]:
    """Return what was told of the order of each plug after a session, oldest first: whether it was lost."""
    n = tables.plug_notes.c
    query = (
        select(n.plug, n.session_id, n.what).where(n.what.in_(("order lost", "order found"))).order_by(n.id)
    )
    told: dict[tuple[str, int | None], list[bool]] = defaultdict(list)
    for row in connection.execute(query):
        told[row.plug, row.session_id].append(row.what == "order lost")
    return told


def notes_of(connection: Connection) -> dict[str, list[Row[Any]]]:
    """Return what was written down of each plug beside its stays, oldest first."""
    found: dict[str, list[Row[Any]]] = defaultdict(list)
    for row in connection.execute(select(tables.plug_notes).order_by(tables.plug_notes.c.id)):
        found[row.plug].append(row)
    return found


def told_in(notes: list[Row[Any]]) -> Told:
    """Return what the notes on one plug come to."""
    scrapped = [note.what == "scrapped" for note in notes if note.what in {"scrapped", "kept"}]
    return Told(
        new=any(note.what == "new" for note in notes),
        cleaned=frozenset(note.session_id for note in notes if note.what == "cleaned"),
        scrapped=bool(scrapped) and scrapped[-1],
    )


def labels_of(connection: Connection) -> set[str]:
    """Return the labels of all plugs that were ever told of."""
    columns = (tables.fittings.c.plug, tables.plug_notes.c.plug)
    return {label for column in columns for label in connection.execute(select(column).distinct()).scalars()}


def write_note(
    connection: Connection, plug: str, what: str, session: int | None, note: str | None = None
) -> None:
    """Write down what happened to a plug."""
    insert(connection, tables.plug_notes, plug=plug, what=what, session_id=session, note=note, written=now())


def reading_of(row: Row[Any], plug: str) -> Reading:
    """Return a reading's row as a value."""
    known = Reading.__dataclass_fields__
    values = {key: value for key, value in row._asdict().items() if key in known}
    return Reading(plug=plug, session=row.session_id, **values)


def current_readings(connection: Connection) -> list[Row[Any]]:
    """Return the readings that no later one corrects, in the order in which they were written down."""
    r = tables.readings
    corrected = select(r.c.corrects).where(r.c.corrects.is_not(None))
    return list(connection.execute(select(r).where(r.c.id.not_in(corrected)).order_by(r.c.id)))


def readings_by_stay(connection: Connection, stays: list[Stay]) -> dict[int, list[Row[Any]]]:
    """Return the readings that count, by the fitting whose stay covers their session, oldest first.

    Args:
        connection: the transaction.
        stays: all of them.
    """
    at = positions(connection)
    own = {stay.fitting.id: stay for stay in stays}
    of_plug: dict[str, list[Stay]] = defaultdict(list)
    for stay in stays:
        of_plug[stay.fitting.plug].append(stay)
    found: dict[int, list[Row[Any]]] = defaultdict(list)
    for row in current_readings(connection):
        first, here = own[row.fitting_id], at[row.session_id]
        mine = (stay for stay in of_plug[first.fitting.plug] if stay.bike == first.bike and stay.covers(here))
        found[next(mine, first).fitting.id].append(row)
    return found


def write_pull(connection: Connection, stay: Stay, session: int, *, order_lost: bool = False) -> Fitting:
    """Write down that a plug came out after a session.

    Raises:
        BadValue: it was read for a later session.
    """
    fitting, at = stay.fitting, positions(connection)
    for row in readings_by_stay(connection, stays_of(connection)).get(fitting.id, []):
        if at[row.session_id] > at[session]:
            raise BadValue(
                f"plug {fitting.plug} was read for session {row.session_id}, so it was still in after session"
                f" {session}",
            )
    insert(
        connection,
        tables.pulls,
        fitting_id=fitting.id,
        session_id=session,
        order_lost=order_lost,
        written=now(),
    )
    return Fitting(**{**vars(fitting), "pulled": session, "order_lost": order_lost})


def nose_of(fitting: Fitting, bike: Bike | None) -> float | None:
    """Return the nose length of a fitted plug [mm]: its own, else the bike's, else None."""
    return fitting.nose_mm if fitting.nose_mm is not None else bike.plug.nose_mm if bike else None


def type_of(fitting: Fitting, bike: Bike | None) -> str | None:
    """Return the type of a fitted plug: its own, else the bike's, else None."""
    return fitting.type if fitting.type is not None else bike.plug.type if bike else None


def sealed_sessions(connection: Connection) -> list[tuple[Position, str | None]]:
    """Return where each sealed session stands and the name of its bike, in order of their start."""
    t = tables.sessions.c
    names = bike_names(connection)
    query = select(t.id, t.started, t.bike_id).where(t.state == "sealed").order_by(t.started, t.id)
    return [((row.started, row.id), names.get(row.bike_id)) for row in connection.execute(query)]


def lived_through(
    sealed: list[tuple[Position, str | None]], stays: list[Stay], until: Position | None = None
) -> tuple[int, ...]:
    """Return the numbers of the sessions that some stays of a plug cover.

    Args:
        sealed: all sealed sessions.
        stays: of one plug.
        until: the last session that counts; None for all.
    """
    return tuple(
        here[1]
        for here, bike in sealed
        if until is None or here <= until
        if any(stay.bike == bike and stay.covers(here) for stay in stays)
    )

"""The set-up of each session: what was written, and what holds."""

from sqlalchemy import Connection, Row, func, or_, select

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import Store, kept, now
from bridge.logbook.store.fuels import fuel_exists, with_own_fuel
from bridge.logbook.store.rows import bike_of, session_row
from bridge.model import Setup
from bridge.model.inherit import inherited
from bridge.model.rules import cylinder_exists


def setup_of(connection: Connection, row: Row[tuple[object, ...]]) -> Setup:
    """Return the set-up that a session ran with; a fuel of the tuner's own stands in it by its definition.

    Args:
        connection: where to look.
        row: the session's row.
    """
    s, f = tables.sessions.c, tables.setup_files.c
    query = select(f.document).join(tables.sessions, s.id == f.session_id)
    if row.bike_id is None:
        query = query.where(s.id == row.id)
    else:
        before = or_(s.started < row.started, (s.started == row.started) & (s.id <= row.id))
        query = query.where(s.bike_id == row.bike_id, before)
    documents = connection.execute(query.order_by(s.started, s.id, f.id)).scalars()
    return with_own_fuel(connection, inherited(kept(Setup, document) for document in documents))


def weather_of(connection: Connection, row: Row[tuple[object, ...]]) -> tuple[int, float] | None:
    """Return the oldest session that a part of a session's weather was written for, and how long before [s].

    Args:
        connection: where to look.
        row: the session's row.
    """
    s, f = tables.sessions.c, tables.setup_files.c
    query = select(s.id, s.started, f.document).join(tables.sessions, s.id == f.session_id)
    before = or_(s.started < row.started, (s.started == row.started) & (s.id <= row.id))
    found = connection.execute(
        query.where(s.bike_id == row.bike_id, before).order_by(s.started, s.id, f.id)
    ).all()
    # a place keeps its height
    newest = {key: one for one in found for key in one.document.get("weather") or {} if key != "altitude_m"}
    oldest = min(newest.values(), key=lambda one: (one.started, one.id), default=None)
    if oldest is None or oldest.id == row.id:
        return None
    return oldest.id, (row.started - oldest.started).total_seconds()


def write_setup(connection: Connection, session: int, setup: Setup) -> None:
    """Add what was written for a session."""
    document = setup.model_dump(mode="json", exclude_unset=True)
    connection.execute(
        tables.setup_files.insert().values(session_id=session, document=document, written=now())
    )


class Setups(Store):
    """Set-ups as written, and as they hold."""

    def setup(self, session: int) -> Setup:
        """Return what a session ran with: its own file, and for the rest the bike's earlier sessions.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as connection:
            return setup_of(connection, session_row(connection, session))

    def written_setup(self, session: int) -> Setup:
        """Return what was last written for a session itself; empty where nothing was."""
        with self._reading() as connection:
            session_row(connection, session)
            f = tables.setup_files.c
            newest = select(func.max(f.id)).where(f.session_id == session).scalar_subquery()
            document = connection.execute(select(f.document).where(f.id == newest)).scalar()
        return kept(Setup, document or {})

    def set_setup(self, session: int, setup: Setup) -> None:
        """Write a set-up down for a session.

        What was written for it before stays on record, and holds where this is silent.

        Raises:
            UnknownThing: there is no such session, or no such fuel.
            BadValue: it speaks of a cylinder that the bike lacks.
        """
        with self._writing() as connection:
            row = session_row(connection, session)
            bike = bike_of(connection, row.bike_id)
            for number in setup.cylinder:
                cylinder_exists(number, bike, what=f"[cylinder.{number}]")
            fuel_exists(connection, setup)
            if not setup.model_fields_set:
                raise BadValue('the set-up says nothing; write at least one key, such as fuel = "e5"')
            write_setup(connection, session, setup)

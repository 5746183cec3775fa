"""What the plugs of a session lived through."""

from typing import Any

from sqlalchemy import Connection, Row, select

from bridge.logbook import tables
from bridge.logbook.store.base import Store
from bridge.logbook.store.rows import bike_of, session_row
from bridge.logbook.store.sessions import run_of
from bridge.logbook.store.stays import nose_of, reading_of, readings_by_stay, stays_of, type_of, where
from bridge.model import Bike, PlugLife, Run
from bridge.model.stay import Position, Stay


class Lives(Store):
    """Plugs with their running."""

    def plug_lives(self, session: int) -> list[PlugLife]:
        """Return what the plugs in a session lived through up to and with it, in cylinder order.

        Raises:
            UnknownThing: there is no such session.
            BadValue: a session that they lived through has no samples.
        """
        with self._reading() as connection:
            here, bike_name = where(connection, session)
            every = stays_of(connection)
            stays = [s for s in every if s.bike == bike_name and s.covers(here)]
            readings = {
                number: row
                for number, rows in readings_by_stay(connection, every).items()
                for row in rows
                if row.session_id == session
            }
            bike = bike_of(connection, session_row(connection, session).bike_id)
            first = min((stay.fitted for stay in stays), default=here)
            runs = _runs(self, connection, session, first, here)
        stays.sort(key=lambda stay: stay.fitting.cylinder)
        return [_life(stay, readings.get(stay.fitting.id), bike, runs) for stay in stays]


def _runs(
    store: Store, connection: Connection, session: int, first: Position, last: Position
) -> dict[Position, Run]:
    """Return the sealed sessions of the same bike from ``first`` to ``last``; the last one must be sealed."""
    t = tables.sessions
    bike_id = session_row(connection, session).bike_id
    same = t.c.bike_id.is_(None) if bike_id is None else t.c.bike_id == bike_id
    query = (
        select(t).where(same, t.c.started >= first[0], t.c.started <= last[0]).order_by(t.c.started, t.c.id)
    )
    return {
        here: run_of(store.folder, connection, row)
        for row in connection.execute(query).all()
        if first <= (here := (row.started, row.id)) <= last and (row.state == "sealed" or row.id == session)
    }


def _life(stay: Stay, reading: Row[Any] | None, bike: Bike | None, runs: dict[Position, Run]) -> PlugLife:
    fitting = stay.fitting
    lived = tuple(run for here, run in runs.items() if here >= stay.fitted)
    of_setup = lived[-1].setup.of_cylinder(fitting.cylinder).plug_heat_range
    return PlugLife(
        fitting=fitting,
        reading=None if reading is None else reading_of(reading, fitting.plug),
        type=type_of(fitting, bike),
        nose_mm=nose_of(fitting, bike),
        heat_range=fitting.heat_range if fitting.heat_range is not None else of_setup or 0,
        runs=lived,
    )

"""The oxygen sensor's own history, and exhaust-gas analyses: what a person wrote down beside the log."""

from datetime import datetime, timedelta

from sqlalchemy import Connection, select

from bridge.channels.sensor import SensorEvent
from bridge.channels.sensor_rules import check_event
from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import Store, now
from bridge.logbook.store.bikes import bike_row
from bridge.logbook.store.rows import bike_of, session_row
from bridge.model import GasAnalysis
from bridge.model.gas_entry import check_gas
from bridge.model.rules import cylinder_exists

_AHEAD = timedelta(days=1)
"""A clock that is off by its zone writes no event later than this."""


def events_of(
    connection: Connection, bike_id: int | None, until: datetime | None = None
) -> tuple[SensorEvent, ...]:
    """Return the history of a bike's sensors, oldest first; of two at one moment the later written comes last.

    Args:
        connection: where to look.
        bike_id: whose; none for None.
        until: leave out what happened later.
    """
    t = tables.sensor_events.c
    query = select(
        t.what, t.at, t.cylinder, t.value, t.sd, t.air_temp_c, t.air_pressure_hpa, t.humidity_percent
    )
    query = query.where(t.bike_id == bike_id).order_by(t.at, t.id)
    if until is not None:
        query = query.where(t.at <= until)
    return tuple(SensorEvent(*found) for found in connection.execute(query))


def gas_of(connection: Connection, session: int) -> tuple[GasAnalysis, ...]:
    """Return the exhaust-gas analyses of a session, oldest first."""
    t = tables.gas_analyses.c
    query = select(
        t.session_id, t.cylinder, t.co2_percent, t.co_percent, t.o2_percent, t.hc_ppm, t.no_ppm, t.written
    )
    found = connection.execute(query.where(t.session_id == session).order_by(t.id))
    return tuple(GasAnalysis(*row) for row in found)


class Sensors(Store):
    """Sensor events and gas analyses: added and looked at, never written over."""

    def add_sensor_event(self, bike: str, event: SensorEvent) -> SensorEvent:
        """Write down what was done to a bike's oxygen sensor, or is known of it.

        Of each kind the newest by its moment counts; a wrong one is put right by another of the same moment.

        Args:
            bike: its name.
            event: what.

        Raises:
            UnknownThing: there is no such bike.
            BadValue: a value is out of its range, the bike has no such cylinder or one sensor for all, or the
                moment is still to come.
        """
        check_event(event)
        if event.at > now() + _AHEAD:
            raise BadValue(f"{event.at:%Y-%m-%d %H:%M} UTC is still to come; see the year and the month")
        with self._writing() as connection:
            row = bike_row(connection, bike)
            if event.cylinder is not None:
                cylinder_exists(event.cylinder, row.bike)
                if row.bike.sensor == "collector" and row.bike.cylinders > 1:
                    raise BadValue(
                        f"{row.bike.name} has one sensor in the collector for all cylinders; leave the cylinder out"
                    )
            connection.execute(
                tables.sensor_events.insert().values(
                    bike_id=row.id,
                    what=event.what,
                    at=event.at,
                    cylinder=event.cylinder,
                    value=event.value,
                    sd=event.sd,
                    air_temp_c=event.air_temp_c,
                    air_pressure_hpa=event.air_pressure_hpa,
                    humidity_percent=event.humidity_percent,
                    written=now(),
                ),
            )
        return event

    def sensor_events(self, bike: str) -> tuple[SensorEvent, ...]:
        """Return the history of a bike's oxygen sensors, oldest first.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._reading() as connection:
            return events_of(connection, bike_row(connection, bike).id)

    def add_gas(  # noqa: PLR0913  # an analysis is this much
        self,
        session: int,
        *,
        cylinder: int | None,
        co2_percent: float,
        co_percent: float,
        o2_percent: float,
        hc_ppm: float,
        no_ppm: float | None = None,
    ) -> GasAnalysis:
        """Write an exhaust-gas analysis down; one that was written before for the cylinder stays on record.

        Args:
            session: its number.
            cylinder: from 1; None for the gas of all cylinders together.
            co2_percent: carbon dioxide in dry gas [%].
            co_percent: carbon monoxide [%].
            o2_percent: oxygen [%].
            hc_ppm: unburned fuel as hexane [ppm].
            no_ppm: nitrogen monoxide [ppm]; None where the analyser does not show it.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the bike has no such cylinder, or no analyser shows such values.
        """
        check_gas(co2_percent, co_percent, o2_percent, hc_ppm, no_ppm)
        written = GasAnalysis(session, cylinder, co2_percent, co_percent, o2_percent, hc_ppm, no_ppm, now())
        with self._writing() as connection:
            row = session_row(connection, session)
            if cylinder is not None:
                cylinder_exists(cylinder, bike_of(connection, row.bike_id))
            connection.execute(
                tables.gas_analyses.insert().values(
                    session_id=session,
                    cylinder=cylinder,
                    co2_percent=co2_percent,
                    co_percent=co_percent,
                    o2_percent=o2_percent,
                    hc_ppm=hc_ppm,
                    no_ppm=no_ppm,
                    written=written.written,
                ),
            )
        return written

    def gas(self, session: int) -> tuple[GasAnalysis, ...]:
        """Return the exhaust-gas analyses of a session, oldest first; the newest counts for each cylinder.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as connection:
            session_row(connection, session)
            return gas_of(connection, session)

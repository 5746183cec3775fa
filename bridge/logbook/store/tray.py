"""The tray: which plug was in which cylinder, and what it lived through."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, select

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, now
from bridge.logbook.store.bikes import bike_rows
from bridge.logbook.store.rows import bike_of, positions, session_row
from bridge.logbook.store.sessions import run_of
from bridge.model import Bike, Fitting, PlugLife, Reading, Run, rules
from bridge.model.rules import Position, Stay
from bridge.model.words import check_all


@dataclass(frozen=True)
class TrayRow:
    """One stay of a plug, as the tray shows it."""

    plug: str
    cylinder: int
    fitted: int
    """Number of the session from which on it was in."""
    pulled: int | None
    """Number of the session after which it came out; None while it is in."""
    state: str
    """new, cleaned or used when it went in."""
    readings: int
    """How many there are that no later one corrects."""
    order_lost: bool = False
    bike: str | None = None


def stays_of(connection: Connection) -> list[Stay]:
    """Return all stays, in the order in which they were written down."""
    f, p = tables.fittings, tables.pulls
    query = (
        select(f, p.c.session_id.label("pulled"), p.c.order_lost)
        .outerjoin(p, p.c.fitting_id == f.c.id)
        .order_by(f.c.id)
    )
    where = positions(connection)
    names = {row.id: row.bike.name for row in bike_rows(connection)}
    return [
        Stay(
            _fitting(row),
            names.get(row.bike_id),
            where[row.fitted],
            None if row.pulled is None else where[row.pulled],
        )
        for row in connection.execute(query)
    ]


def _fitting(row: Row[Any]) -> Fitting:
    return Fitting(
        id=row.id,
        plug=row.plug,
        cylinder=row.cylinder,
        state=row.state,
        fitted=row.fitted,
        pulled=row.pulled,
        order_lost=bool(row.order_lost),
        type=row.type,
        nose_mm=row.nose_mm,
        heat_range=row.heat_range,
    )


def reading_of(row: Row[Any], plug: str) -> Reading:
    """Return a reading's row as a value."""
    values = {key: value for key, value in row._asdict().items() if key not in {"fitting_id", "session_id"}}
    return Reading(plug=plug, session=row.session_id, **values)


def current_readings(connection: Connection) -> list[Row[Any]]:
    """Return the readings that no later one corrects, in the order in which they were written down."""
    r = tables.readings
    corrected = select(r.c.corrects).where(r.c.corrects.is_not(None))
    return list(connection.execute(select(r).where(r.c.id.not_in(corrected)).order_by(r.c.id)))


class Tray(Store):
    """Plugs fitted and pulled."""

    def fit(  # noqa: PLR0913  # the columns of a tray's list
        self,
        label: str,
        *,
        cylinder: int,
        session: int,
        state: str,
        type: str | None = None,  # noqa: A002  # the trade's word
        nose_mm: float | None = None,
        heat_range: int | None = None,
    ) -> Fitting:
        """Put a plug into a cylinder, from a session on.

        Args:
            label: of the plug.
            cylinder: from 1.
            session: the first session that it lives through.
            state: new, cleaned or used.
            type: plug type, where it differs from the bike's.
            nose_mm: nose length, where it differs from the bike's [mm].
            heat_range: steps from the bike's usual, where it differs from the set-up's: + colder, - hotter.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug is in already or is not new, the cylinder is taken or is none, or a value is
                out of its range.
        """
        rules.fitting_is_possible(nose_mm, heat_range)
        check_all({"plug type": type})
        with self._writing() as connection:
            row = session_row(connection, session)
            bike = bike_of(connection, row.bike_id)
            rules.can_fit(label, cylinder, state, (row.started, row.id), bike, stays_of(connection))
            values = {
                "plug": label,
                "cylinder": cylinder,
                "state": state,
                "fitted": session,
                "type": type,
                "nose_mm": nose_mm,
                "heat_range": heat_range,
            }
            number = insert(connection, tables.fittings, bike_id=row.bike_id, written=now(), **values)
        return Fitting(id=number, pulled=None, **values)  # type: ignore[arg-type]  # checked by can_fit

    def pull(self, label: str, *, session: int) -> Fitting:
        """Take a plug out after a session.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug is not in, goes in only later, or was read for a later session.
        """
        with self._writing() as connection:
            here, bike = _where(connection, session)
            stay = rules.stay_to_pull(label, here, bike, stays_of(connection))
            return _pull(connection, stay, session, here, order_lost=False)

    def pull_all(self, session: int, *, order_lost: bool = False) -> list[Fitting]:
        """Take every plug out that is in after a session.

        Args:
            session: its number; plugs of its bike are meant.
            order_lost: nobody knows any more which cylinder each came from.

        Returns:
            What came out, in cylinder order.

        Raises:
            UnknownThing: there is no such session.
            BadValue: no plug is in, or one was read for a later session.
        """
        with self._writing() as connection:
            here, bike = _where(connection, session)
            stays = [
                stay
                for stay in stays_of(connection)
                if stay.bike == bike and stay.pulled is None and stay.fitted <= here
            ]
            if not stays:
                raise BadValue(
                    f"no plug is in during session {session}; fit them first by 'sootline plug fit'"
                )
            stays.sort(key=lambda stay: stay.fitting.cylinder)
            return [_pull(connection, stay, session, here, order_lost=order_lost) for stay in stays]

    def tray(self, session: int | None = None) -> list[TrayRow]:
        """Return the tray in cylinder order.

        Args:
            session: the plugs that were in during this one; all there ever were where left out, those that
                are in before those that are out.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as connection:
            stays = stays_of(connection)
            if session is not None:
                here, bike = _where(connection, session)
                stays = [stay for stay in stays if stay.bike == bike and stay.covers(here)]
            count: dict[int, int] = {}
            for row in current_readings(connection):
                count[row.fitting_id] = count.get(row.fitting_id, 0) + 1
        stays.sort(key=lambda s: (s.pulled is not None, s.bike or "", s.fitting.cylinder, s.fitted))
        return [
            TrayRow(
                plug=f.plug,
                cylinder=f.cylinder,
                fitted=f.fitted,
                pulled=f.pulled,
                state=f.state,
                readings=count.get(f.id, 0),
                order_lost=f.order_lost,
                bike=stay.bike,
            )
            for stay in stays
            for f in (stay.fitting,)
        ]

    def plug_lives(self, session: int) -> list[PlugLife]:
        """Return what the plugs in a session lived through up to and with it, in cylinder order.

        Raises:
            UnknownThing: there is no such session.
            BadValue: a session that they lived through has no samples.
        """
        with self._reading() as connection:
            here, bike_name = _where(connection, session)
            stays = [s for s in stays_of(connection) if s.bike == bike_name and s.covers(here)]
            readings = {r.fitting_id: r for r in current_readings(connection) if r.session_id == session}
            bike = bike_of(connection, session_row(connection, session).bike_id)
            first = min((stay.fitted for stay in stays), default=here)
            runs = _runs(self, connection, session, first, here)
        stays.sort(key=lambda stay: stay.fitting.cylinder)
        return [_life(stay, readings.get(stay.fitting.id), bike, runs) for stay in stays]


def _where(connection: Connection, session: int) -> tuple[Position, str | None]:
    """Return where a session stands in time, and the name of its bike."""
    row = session_row(connection, session)
    bike = bike_of(connection, row.bike_id)
    return (row.started, row.id), bike.name if bike else None


def _pull(connection: Connection, stay: Stay, session: int, here: Position, *, order_lost: bool) -> Fitting:
    fitting = stay.fitting
    where = positions(connection)
    for row in current_readings(connection):
        if row.fitting_id == fitting.id and where[row.session_id] > here:
            raise BadValue(
                f"plug {fitting.plug} was read for session {row.session_id}, so it was still in after session"
                f" {session}",
            )
    connection.execute(
        tables.pulls.insert().values(
            fitting_id=fitting.id, session_id=session, order_lost=order_lost, written=now()
        ),
    )
    return Fitting(**{**vars(fitting), "pulled": session, "order_lost": order_lost})


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
        type=fitting.type if fitting.type is not None else bike.plug.type if bike else None,
        nose_mm=nose_of(fitting, bike),
        heat_range=fitting.heat_range if fitting.heat_range is not None else of_setup or 0,
        runs=lived,
    )


def nose_of(fitting: Fitting, bike: Bike | None) -> float | None:
    """Return the nose length of a fitted plug [mm]: its own, else the bike's, else None."""
    return fitting.nose_mm if fitting.nose_mm is not None else bike.plug.nose_mm if bike else None

"""The tray: plugs put in and taken out, and which one is where."""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, now
from bridge.logbook.store.rows import bike_of, session_row
from bridge.logbook.store.stays import (
    labels_of,
    lived_through,
    nose_of,
    notes_of,
    readings_by_stay,
    sealed_sessions,
    session_before,
    stays_of,
    told_in,
    type_of,
    where,
    write_pull,
)
from bridge.model import Fitting, amends, rules
from bridge.model.stay import Position, Stay
from bridge.model.words import check_all


@dataclass(frozen=True)
class TrayRow:
    """One stay of a plug, as the tray shows it."""

    plug: str
    cylinder: int
    """Where nobody knows it any more (``order_lost``), the one that was written down."""
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
    sessions: tuple[int, ...] = ()
    """The sealed sessions that the plug had lived through by then, in any cylinder of any engine."""


class Tray(Store):
    """Plugs fitted and pulled."""

    def fit(  # noqa: PLR0913  # the columns of a tray's list
        self,
        label: str,
        *,
        cylinder: int,
        session: int,
        state: str | None = None,
        type: str | None = None,  # noqa: A002  # the trade's word
        nose_mm: float | None = None,
        heat_range: int | None = None,
        until: int | None = None,
        pull_first: bool = False,
    ) -> Fitting:
        """Put a plug into a cylinder, from a session on.

        What was told of a plug before stays with it: its type and nose length, and in the same bike its heat range.

        Args:
            label: of the plug.
            cylinder: from 1.
            session: the first session that it lives through.
            state: new, cleaned or used; where left out, what the tray knows: new for one that was put in the box
                as new, cleaned where that was said since it came out, else used.
            type: plug type, where it differs from the bike's.
            nose_mm: nose length, where it differs from the bike's [mm].
            heat_range: steps from the bike's usual, where it differs from the set-up's: + colder, - hotter.
            until: the session after which it came out again, for what is told late.
            pull_first: what is in the way (another plug in that cylinder, or this plug elsewhere) came out after
                the last session before this one.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug is in already, is not new or was scrapped, the cylinder is taken or is none, or a
                value is out of its range.
        """
        rules.fitting_is_possible(nose_mm, heat_range)
        check_all({"label": label, "plug type": type})
        with self._writing() as connection:
            row = session_row(connection, session)
            bike = bike_of(connection, row.bike_id)
            here, name = (row.started, row.id), bike.name if bike else None
            told = told_in(notes_of(connection).get(label, []))
            rules.label_is_clear(label, labels_of(connection))
            if until is None:
                amends.not_scrapped(label, told)
            if pull_first:
                _make_room(connection, label, cylinder, name, here)
            stays = stays_of(connection)
            state = amends.state_of(label, state, here, stays, told)
            end = None if until is None else _end(connection, until, name)
            rules.can_fit(label, cylinder, state, here, bike, stays, end)
            before = [stay for stay in stays if stay.fitting.plug == label and stay.fitted < here]
            last = max(before, key=lambda stay: stay.fitted, default=None)
            values: dict[str, Any] = {"plug": label, "cylinder": cylinder, "state": state, "fitted": session}
            values |= _known_of(connection, last, name)
            told_now = {"type": type, "nose_mm": nose_mm, "heat_range": heat_range}
            values |= {key: value for key, value in told_now.items() if value is not None}
            number = insert(connection, tables.fittings, bike_id=row.bike_id, written=now(), **values)
            if until is not None:
                insert(
                    connection,
                    tables.pulls,
                    fitting_id=number,
                    session_id=until,
                    order_lost=False,
                    written=now(),
                )
        return Fitting(id=number, pulled=until, **values)

    def pull(self, label: str, *, session: int) -> Fitting:
        """Take a plug out after a session.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug is not in, goes in only later, or was read for a later session.
        """
        return self.pull_these([label], session)[0]

    def pull_these(self, labels: list[str], session: int, *, order_lost: bool = False) -> list[Fitting]:
        """Take some plugs out after a session, all of them or after an error none.

        Args:
            labels: of the plugs, each once.
            session: its number.
            order_lost: nobody knows any more which of them came from which cylinder.

        Raises:
            UnknownThing: there is no such session.
            BadValue: one is not in, goes in only later, or was read for a later session.
        """
        with self._writing() as connection:
            here, bike = where(connection, session)
            return [
                write_pull(
                    connection,
                    rules.stay_to_pull(label, here, bike, stays_of(connection)),
                    session,
                    order_lost=order_lost,
                )
                for label in labels
            ]

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
            here, bike = where(connection, session)
            stays = [
                stay
                for stay in stays_of(connection)
                if stay.bike == bike and stay.pulled is None and stay.fitted <= here
            ]
            if not stays:
                raise BadValue(
                    f"no plug is in during session {session}; write down first which plugs were in it"
                )
            stays.sort(key=lambda stay: stay.fitting.cylinder)
            return [write_pull(connection, stay, session, order_lost=order_lost) for stay in stays]

    def tray(self, session: int | None = None) -> list[TrayRow]:
        """Return the tray in cylinder order.

        Args:
            session: the plugs that were in during this one; all there ever were where left out, those that
                are in before those that are out.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as connection:
            every = stays_of(connection)
            here, stays = None, every
            if session is not None:
                here, bike = where(connection, session)
                stays = [stay for stay in every if stay.bike == bike and stay.covers(here)]
            count = {number: len(rows) for number, rows in readings_by_stay(connection, every).items()}
            of_plug: dict[str, list[Stay]] = defaultdict(list)
            for stay in every:
                of_plug[stay.fitting.plug].append(stay)
            sealed = sealed_sessions(connection)
            lived = {
                stay.fitting.id: lived_through(
                    sealed,
                    [one for one in of_plug[stay.fitting.plug] if one.fitted <= stay.fitted],
                    here,
                )
                for stay in stays
            }
        stays = sorted(
            stays, key=lambda s: (s.pulled is not None, s.bike or "", s.fitting.cylinder, s.fitted)
        )
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
                sessions=lived[f.id],
            )
            for stay in stays
            for f in (stay.fitting,)
        ]


def _make_room(connection: Connection, label: str, cylinder: int, bike: str | None, here: Position) -> None:
    """Take out what is in the way of a plug, after the last session that it can have been in for."""
    for stay in stays_of(connection):
        f = stay.fitting
        in_the_way = f.plug == label or (f.cylinder == cylinder and stay.bike == bike)
        if in_the_way and stay.pulled is None and stay.fitted < here:
            number = session_before(connection, session_row(connection, f.fitted).bike_id, here)
            assert number is not None  # the one that it went in for is before
            write_pull(connection, stay, number)


def _end(connection: Connection, until: int, bike: str | None) -> Position:
    """Return where the session stands after which a plug came out."""
    here, its_bike = where(connection, until)
    if its_bike != bike:
        raise BadValue(
            f"session {until} was ridden on {its_bike or 'a bike that nobody named'}, so the plug cannot have come"
            " out after it; name one of the same bike"
        )
    return here


def _known_of(connection: Connection, last: Stay | None, bike: str | None) -> dict[str, Any]:
    """Return what was known of a plug itself when it last went in."""
    if last is None:
        return {"type": None, "nose_mm": None, "heat_range": None}
    before = last.fitting
    if last.bike == bike:
        return {"type": before.type, "nose_mm": before.nose_mm, "heat_range": before.heat_range}
    # in another engine it stays the plug that it was, but another heat range is usual there
    its = bike_of(connection, session_row(connection, before.fitted).bike_id)
    return {"type": type_of(before, its), "nose_mm": nose_of(before, its), "heat_range": None}

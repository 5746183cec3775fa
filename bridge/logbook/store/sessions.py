"""Sessions: the list, one of them whole, marks by hand, and what was imported before."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, select

from bridge.errors import BadValue
from bridge.logbook import files, samples, tables
from bridge.logbook.store.base import Store
from bridge.logbook.store.bikes import bike_row, bike_rows
from bridge.logbook.store.channels import with_sources, worked_out
from bridge.logbook.store.rows import session_row
from bridge.logbook.store.sensors import events_of, gas_of
from bridge.logbook.store.setups import setup_of, weather_of
from bridge.model import Mark, PartState, Run, Session

MARKS = ("chop", "lap", "start", "stop", "mark")
LONGEST_S = 1e6
"""How late a mark may stand while nobody knows yet when the recording ends: eleven days and a half [s]."""


def session_of(row: Row[Any], bike: str | None, kind: str | None) -> Session:
    """Return a session's row as a value."""
    return Session(
        id=row.id,
        started=row.started,
        bike=bike,
        build=row.build,
        place=row.place,
        kind=kind,
        seconds=row.seconds,
        samples=row.samples,
        state=row.state,
        source=row.source,
        notes=tuple(row.notes),
    )


def run_of(folder: Path, connection: Connection, row: Row[Any], *, as_recorded: bool = False) -> Run:
    """Return a session with everything that analysis needs of it.

    Args:
        folder: of the logbook.
        connection: where to look.
        row: the session's.
        as_recorded: leave its samples as they lie on the disk: nothing worked out, nothing corrected.

    Raises:
        BadValue: it is not sealed, so there are no samples yet.
        BadFile: its samples are gone.
    """
    if row.state == "recording":
        raise BadValue(
            f"session {row.id} is still being recorded; stop the recording, and its samples are there"
        )
    if row.state == "interrupted":
        raise BadValue(f"session {row.id} has no samples: {' '.join(row.notes)}")
    bike = next((found.bike for found in bike_rows(connection) if found.id == row.bike_id), None)
    setup = setup_of(connection, row)
    m, s = tables.marks.c, tables.part_states.c
    marks = connection.execute(
        select(m.t_s, m.what, m.by).where(m.session_id == row.id).order_by(m.t_s, m.id)
    )
    states = connection.execute(
        select(s.t_s, s.part, s.state).where(s.session_id == row.id).order_by(s.t_s, s.id)
    )
    session = session_of(row, bike.name if bike else None, setup.kind)
    events = events_of(connection, row.bike_id, until=row.started)
    run = Run(
        session=session,
        bike=bike,
        setup=setup,
        samples=samples.scan(files.samples(folder, row.id), row.id),
        marks=tuple(Mark(*found) for found in marks),
        states=tuple(PartState(*found) for found in states),
        sensor_events=events,
        gas=gas_of(connection, row.id),
        weather_of=None if row.bike_id is None else weather_of(connection, row),
    )
    if as_recorded:
        return run
    found = worked_out(files.samples(folder, row.id), session, bike, events)
    return replace(
        run, samples=found.samples, states=with_sources(run.states, found.sources), notes=found.notes
    )


class Sessions(Store):
    """Sessions as they are looked at."""

    def sessions(self, bike: str | None = None) -> list[Session]:
        """Return the sessions in order of their start.

        Args:
            bike: only those of this bike.

        Raises:
            UnknownThing: there is no such bike.
        """
        t = tables.sessions.c
        query = select(tables.sessions).order_by(t.started, t.id)
        with self._reading() as connection:
            if bike is not None:
                query = query.where(t.bike_id == bike_row(connection, bike).id)
            names = {row.id: row.bike.name for row in bike_rows(connection)}
            kinds = _written_kinds(connection)
            found = connection.execute(query).all()
        last: dict[int | None, str | None] = {}
        answer = []
        for row in found:
            own = kinds.get(row.id)
            # what a set-up leaves out stays as it was, for this bike; without one nothing is taken over
            kind = own if row.bike_id is None else own or last.get(row.bike_id)
            last[row.bike_id] = kind
            answer.append(session_of(row, names.get(row.bike_id), kind))
        return answer

    def session(self, session: int) -> Session:
        """Return one session.

        Raises:
            UnknownThing: there is none of that number.
        """
        with self._reading() as connection:
            row = session_row(connection, session)
            names = {found.id: found.bike.name for found in bike_rows(connection)}
            return session_of(row, names.get(row.bike_id), setup_of(connection, row).kind)

    def run(self, session: int) -> Run:
        """Return a session with its bike, set-up, samples, marks, states, sensors and gas analyses.

        Channels that the bike's file says how to work out are worked out, and lambda is corrected by its sensor's
        history; ``recorded`` gives it without.

        Raises:
            UnknownThing: there is none of that number.
            BadValue: it is not sealed, so there are no samples yet.
            BadFile: its samples are gone.
        """
        with self._reading() as connection:
            return run_of(self.folder, connection, session_row(connection, session))

    def recorded(self, session: int) -> Run:
        """Return a session with its samples as recorded: no channel worked out, no lambda corrected.

        Raises:
            UnknownThing: there is none of that number.
            BadValue: it is not sealed, so there are no samples yet.
            BadFile: its samples are gone.
        """
        with self._reading() as connection:
            return run_of(self.folder, connection, session_row(connection, session), as_recorded=True)

    def units(self, session: int) -> dict[str, str]:
        """Return the UCUM code of each column of a session's samples; empty where nobody said it."""
        return samples.units(files.samples(self.folder, session))

    def samples_path(self, session: int) -> Path:
        """Return where a session's samples lie, or will lie."""
        return files.samples(self.folder, session)

    def raw_path(self, session: int) -> Path:
        """Return where a session's raw file lies: what was recorded, or the file that was imported.

        Raises:
            UnknownThing: there is none of that number.
        """
        with self._reading() as connection:
            return files.raw(self.folder, session, session_row(connection, session).ending)

    def marks(self, session: int) -> tuple[Mark, ...]:
        """Return the marked moments of a session, also of one that is still being recorded."""
        m = tables.marks.c
        query = select(m.t_s, m.what, m.by).where(m.session_id == session).order_by(m.t_s, m.id)
        with self._reading() as connection:
            return tuple(Mark(*found) for found in connection.execute(query))

    def add_mark(self, session: int, t_s: float, what: str) -> Mark:
        """Mark a moment by hand.

        Args:
            session: its number.
            t_s: second of the session [s].
            what: chop, lap, start, stop or mark.

        Raises:
            UnknownThing: there is none of that number.
            BadValue: the moment is not in the session, or the word is none of those.
        """
        if what not in MARKS:
            raise BadValue(f"'{what}' is no mark; use one of {', '.join(MARKS)}")
        with self._writing() as connection:
            row = session_row(connection, session)
            # a recording that still grows has no end yet
            end = LONGEST_S if row.state == "recording" else row.seconds
            if not 0.0 <= t_s <= end:
                raise BadValue(f"{t_s:g} s is not in session {session}, which runs from 0 to {end:g} s")
            utc = row.started + timedelta(seconds=t_s)
            connection.execute(
                tables.marks.insert().values(session_id=session, t_s=t_s, what=what, by="hand", utc=utc),
            )
        return Mark(t_s, what, "hand")


def _written_kinds(connection: Connection) -> dict[int, str]:
    """Return the kind that was last written for each session that has one of its own."""
    f = tables.setup_files.c
    rows = connection.execute(select(f.session_id, f.document).order_by(f.id))
    return {row.session_id: row.document["kind"] for row in rows if row.document.get("kind")}

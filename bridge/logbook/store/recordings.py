"""How a session comes to be: begun by a recorder, finished when it is sealed, or taken in from a file."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import Connection, func, select

from bridge.errors import BadValue
from bridge.logbook import files, samples, tables
from bridge.logbook.lock import RecordingLock, holder
from bridge.logbook.store.base import Store, insert
from bridge.logbook.store.bikes import bike_row
from bridge.logbook.store.rows import session_row
from bridge.logbook.store.setups import write_setup
from bridge.model import Setup
from bridge.model.sealed import SealedFrame

# set-up keys that only say what kind of session it is are written through the set-up, so there is one place
# for them
_KINDS = ("practice", "road", "dyno")


class Recordings(Store):
    """Sessions as they come to be."""

    _locks: dict[int, RecordingLock]

    def new_session(
        self,
        *,
        bike: str | None,
        place: str | None,
        source: str,
        started: datetime,
        kind: str | None = None,
    ) -> int:
        """Begin a session that is to be recorded by this process.

        The logbook holds a lock on it until ``finish_session``, ``give_up`` or ``close``, by which
        ``recover`` in another process knows that the recording goes on.

        Args:
            bike: its name, or None.
            place: where.
            source: the port it comes from.
            started: when it began.
            kind: practice, road or dyno.

        Returns:
            Its number; the capture belongs at ``raw_path`` of it.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._writing() as connection:
            number = _insert(
                connection, bike, started, place=place, source=source, state="recording", ending=".capture"
            )
            if kind is not None:
                write_setup(connection, number, _kind(kind))
            # taken before anyone can see the row, so that nobody takes the session for one left behind
            lock = RecordingLock.take(files.lock(self.folder, number))
            if lock is None:
                raise BadValue(f"session {number} is being recorded by another process")
            self._held()[number] = lock
        return number

    def finish_session(self, session: int, sealed: SealedFrame) -> None:
        """Put a session's samples in place and write down what they come to.

        It may be done again at any time: samples, and marks and states from the wire, are then replaced; what
        a person marked stays.

        Args:
            session: its number.
            sealed: what its raw file comes to.

        Raises:
            UnknownThing: there is none of that number.
            DiskTrouble: the disk would not take it; the session is then as it was.
        """
        with self._writing() as connection:
            row = session_row(connection, session)
            self._fill(connection, session, sealed, sealed.started_utc or row.started)
        self._release(session)

    def give_up(self, session: int, because: str) -> None:
        """Write down that a session's raw bytes could not be sealed; they stay.

        Args:
            session: its number.
            because: one sentence.
        """
        with self._writing() as connection:
            t = tables.sessions
            connection.execute(
                t.update().where(t.c.id == session).values(state="interrupted", notes=[because])
            )
        self._release(session)

    def import_session(  # noqa: PLR0913  # what there is to say of a file
        self,
        sealed: SealedFrame,
        raw: Path,
        *,
        sha256: str,
        bike: str | None,
        place: str | None,
        started: datetime,
        kind: str | None = None,
    ) -> int:
        """Make a session of a file: all of it, or after an error nothing.

        Args:
            sealed: what the file comes to.
            raw: the file, which is copied into the logbook.
            sha256: of its bytes.
            bike: name of the bike, or None.
            place: where.
            started: when it began.
            kind: practice, road or dyno.

        Returns:
            Its number.

        Raises:
            UnknownThing: there is no such bike.
            DiskTrouble: the disk would not take it.
        """
        made: list[Path] = []
        try:
            with self._writing() as connection:
                number = _insert(
                    connection,
                    bike,
                    started,
                    place=place,
                    source=raw.name,
                    state="sealed",
                    ending=raw.suffix.lower(),
                    sha256=sha256,
                )
                if kind is not None:
                    write_setup(connection, number, _kind(kind))
                made += [
                    files.raw(self.folder, number, raw.suffix.lower()),
                    files.samples(self.folder, number),
                ]
                with files.placed(made[0]) as beside:
                    shutil.copyfile(raw, beside)
                self._fill(connection, number, sealed, started)
        except BaseException:
            for path in made:
                path.unlink(missing_ok=True)
            raise
        return number

    def unfinished(self) -> list[int]:
        """Return the sessions that are marked as being recorded, by whomever."""
        t = tables.sessions.c
        with self._reading() as connection:
            return list(
                connection.execute(select(t.id).where(t.state == "recording").order_by(t.id)).scalars()
            )

    def recorder(self, session: int) -> int | None:
        """Return the number of the process that records a session; None where none does."""
        return holder(files.lock(self.folder, session))

    @contextmanager
    def left_behind(self, session: int) -> Iterator[bool]:
        """Tell whether a session was left by a recorder that is gone, and keep others off it meanwhile.

        Args:
            session: its number.
        """
        if session in self._held():
            yield False
            return
        lock = RecordingLock.take(files.lock(self.folder, session))
        if lock is None:
            yield False
            return
        try:
            # the recorder may have finished it between the question and the lock
            yield session in self.unfinished()
        finally:
            lock.release()

    def _fill(self, connection: Connection, session: int, sealed: SealedFrame, started: datetime) -> None:
        """Write what a session comes to, its samples last: their renaming is the point of no return."""
        t, m, s = tables.sessions, tables.marks, tables.part_states
        connection.execute(
            t.update()
            .where(t.c.id == session)
            .values(
                started=started,
                seconds=sealed.seconds,
                samples=sealed.frame.height,
                state="sealed",
                notes=list(sealed.notes),
            ),
        )
        connection.execute(m.delete().where(m.c.session_id == session, m.c.by == "wire"))
        connection.execute(s.delete().where(s.c.session_id == session))
        for mark in connection.execute(select(m.c.id, m.c.utc).where(m.c.session_id == session)).all():
            t_s = (mark.utc - started).total_seconds()
            connection.execute(m.update().where(m.c.id == mark.id).values(t_s=t_s))
        marks = [
            {
                "session_id": session,
                "t_s": mark.t_s,
                "what": mark.what,
                "by": mark.by,
                "utc": started + timedelta(seconds=mark.t_s),
            }
            for mark in sealed.marks
        ]
        states = [
            {"session_id": session, "t_s": x.t_s, "part": x.part, "state": x.state} for x in sealed.states
        ]
        for table, rows in ((m, marks), (s, states)):
            if rows:
                connection.execute(table.insert(), rows)
        samples.write(files.samples(self.folder, session), sealed.frame, sealed.units)

    def _held(self) -> dict[int, RecordingLock]:
        if not hasattr(self, "_locks"):
            self._locks = {}
        return self._locks

    def _release(self, session: int) -> None:
        lock = self._held().pop(session, None)
        if lock is not None:
            lock.release()

    def _let_go(self) -> None:
        for session in list(self._held()):
            self._release(session)


def _kind(kind: str) -> Setup:
    if kind not in _KINDS:
        raise BadValue(f"'{kind}' is no kind of session; use one of {', '.join(_KINDS)}")
    return Setup.model_validate({"kind": kind})


def _insert(connection: Connection, bike: str | None, started: datetime, **values: object) -> int:
    row = None if bike is None else bike_row(connection, bike)
    return insert(
        connection,
        tables.sessions,
        started=started,
        bike_id=row.id if row else None,
        build=_build_at(connection, row.id, row.build, started) if row else None,
        seconds=0.0,
        samples=0,
        notes=[],
        **values,
    )


def _build_at(connection: Connection, bike_id: int, build: int, started: datetime) -> int:
    """Return the engine build of a session: today's, unless a later session ran with an earlier one."""
    t = tables.sessions.c
    later = connection.execute(
        select(func.min(t.build)).where(t.bike_id == bike_id, t.started > started),
    ).scalar()
    return build if later is None else min(build, later)

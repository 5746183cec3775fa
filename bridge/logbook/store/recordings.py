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
from bridge.logbook.store.rows import bike_of, session_row
from bridge.logbook.store.setups import setup_of, write_setup
from bridge.logbook.store.stays import stays_of
from bridge.model import Setup
from bridge.model.rules import cylinder_exists
from bridge.model.sealed import SealedFrame
from bridge.model.words import check_all

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
            BadValue: the place is not in words that can stand.
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
        again: bool = False,
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
            again: even if these very bytes were imported before.

        Returns:
            Its number.

        Raises:
            UnknownThing: there is no such bike.
            BadValue: the place is not in words that can stand, or the file was imported before.
            DiskTrouble: the disk would not take it.
        """
        made: list[Path] = []
        try:
            with self._writing() as connection:
                # another process may have imported it since anybody asked
                if not again:
                    _refuse_again(connection, raw, sha256)
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

    def refuse_again(self, raw: Path, sha256: str) -> None:
        """Refuse a file whose very bytes were imported before.

        Args:
            raw: the file.
            sha256: of its bytes.

        Raises:
            BadValue: they were; the session is named.
        """
        with self._reading() as connection:
            _refuse_again(connection, raw, sha256)

    def rode(self, bike: str, session: int) -> None:
        """Say which bike ran in a session that was recorded or imported without one.

        It gets the engine build that a new session of its start would get.

        Args:
            bike: its name.
            session: the number of the session.

        Raises:
            UnknownThing: there is no such session, or no such bike.
            BadValue: the session has a bike, a plug stays in it, or its set-up speaks of a cylinder that the
                bike lacks.
        """
        with self._writing() as connection:
            row, found = session_row(connection, session), bike_row(connection, bike)
            if row.bike_id is not None:
                has = bike_of(connection, row.bike_id)
                raise BadValue(
                    f"session {session} has its bike, {has.name if has else 'one of the logbook'}; name a"
                    " session without one"
                )
            here = (row.started, row.id)
            stay = next((s for s in stays_of(connection) if s.bike is None and s.covers(here)), None)
            if stay is not None:
                raise BadValue(
                    f"plug {stay.fitting.plug} stays in session {session} without a bike ({stay.in_words()}),"
                    " and what was typed of it is kept; import the session's log again with --again and --bike"
                )
            for number in setup_of(connection, row).cylinder:
                cylinder_exists(number, found.bike, what=f"[cylinder.{number}]")
            t = tables.sessions
            build = _build_at(connection, found.id, found.build, row.started)
            connection.execute(t.update().where(t.c.id == session).values(bike_id=found.id, build=build))

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


def _refuse_again(connection: Connection, raw: Path, sha256: str) -> None:
    t = tables.sessions.c
    earlier = connection.execute(select(t.id).where(t.sha256 == sha256).order_by(t.id)).scalars().first()
    if earlier is not None:
        raise BadValue(f"{raw} was imported before, as session {earlier}; say --again to import it once more")


def _kind(kind: str) -> Setup:
    if kind not in _KINDS:
        raise BadValue(f"'{kind}' is no kind of session; use one of {', '.join(_KINDS)}")
    return Setup.model_validate({"kind": kind})


def _insert(
    connection: Connection, bike: str | None, started: datetime, *, place: str | None, **values: object
) -> int:
    check_all({"place": place})
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
        place=place,
        **values,
    )


def _build_at(connection: Connection, bike_id: int, build: int, started: datetime) -> int:
    """Return the engine build of a session: today's, unless a later session ran with an earlier one."""
    t = tables.sessions.c
    later = connection.execute(
        select(func.min(t.build)).where(t.bike_id == bike_id, t.started > started),
    ).scalar()
    return build if later is None else min(build, later)

"""What is to be done after a session, and what was promised of it."""

from typing import Any

from sqlalchemy import Row, select

from bridge.errors import BadValue, UnknownThing
from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, now
from bridge.logbook.store.bikes import bike_row
from bridge.logbook.store.rows import bike_of, session_row
from bridge.model import Task
from bridge.model.todo import LARGEST_PROMISE
from bridge.model.words import check_all, check_words


class Todos(Store):
    """The to-do."""

    def add_task(
        self,
        session: int,
        what: str,
        *,
        cylinder: int | None = None,
        because: str | None = None,
        promise: float | None = None,
    ) -> Task:
        """Write down what is to be done; the same words for the same session and cylinder are written once.

        Args:
            session: number of the session that it comes from.
            what: what is to be done.
            cylinder: whose, from 1; None for the whole engine.
            because: why.
            promise: by how much lambda at full throttle should change, below zero for richer [1].

        Raises:
            UnknownThing: there is no such session.
            BadValue: the words cannot stand, the bike has no such cylinder, or the promise is out of its range.
        """
        check_words("task", what)
        check_all({"reason": because})
        if promise is not None and not 0.0 < abs(promise) <= LARGEST_PROMISE:
            raise BadValue(
                f"a promise of {promise:+g} lambda is outside {-LARGEST_PROMISE:g} to {LARGEST_PROMISE:g} and not 0;"
                " give the change, such as -0.02 for richer by 0.02, not the mixture itself"
            )
        t = tables.todos
        with self._writing() as connection:
            bike = bike_of(connection, session_row(connection, session).bike_id)
            if cylinder is not None and not 1 <= cylinder <= (bike.cylinders if bike else 12):
                there = f"the bike has {bike.cylinders}" if bike else "cylinders count from 1 to 12"
                raise BadValue(f"there is no cylinder {cylinder}; {there}")
            same = (t.c.session_id == session, t.c.cylinder.is_not_distinct_from(cylinder), t.c.what == what)
            known = connection.execute(select(t).where(*same, t.c.done.is_(None))).first()
            if known is not None:
                return _task(known)
            key = insert(
                connection,
                t,
                session_id=session,
                cylinder=cylinder,
                what=what,
                because=because,
                promise=promise,
                written=now(),
            )
            return _task(connection.execute(select(t).where(t.c.id == key)).one())

    def finish_task(self, task: int, note: str | None = None) -> Task:
        """Write down that something was done, and what was found.

        Raises:
            UnknownThing: there is no such task.
            BadValue: it was done before.
        """
        check_all({"note": note})
        t = tables.todos
        with self._writing() as connection:
            row = connection.execute(select(t).where(t.c.id == task)).first()
            if row is None:
                raise UnknownThing(f"there is no task {task} on the to-do; 'sootline todo list' lists them")
            if row.done is not None:
                raise BadValue(f"task {task} was done on {row.done:%Y-%m-%d}; write a new one to do it again")
            connection.execute(t.update().where(t.c.id == task).values(done=now(), note=note))
            return _task(connection.execute(select(t).where(t.c.id == task)).one())

    def tasks(self, *, session: int | None = None, bike: str | None = None) -> list[Task]:
        """Return what is and was to be done, oldest first.

        Args:
            session: that came from this session alone.
            bike: of this bike's sessions alone.

        Raises:
            UnknownThing: there is no such session or bike.
        """
        t, s = tables.todos, tables.sessions
        query = select(t).join(s, s.c.id == t.c.session_id).order_by(t.c.id)
        with self._reading() as connection:
            if session is not None:
                session_row(connection, session)
                query = query.where(t.c.session_id == session)
            if bike is not None:
                query = query.where(s.c.bike_id == bike_row(connection, bike).id)
            return [_task(row) for row in connection.execute(query)]


def _task(row: Row[Any]) -> Task:
    return Task(
        row.id,
        row.session_id,
        row.cylinder,
        row.what,
        row.because,
        row.promise,
        row.written,
        row.done,
        row.note,
    )

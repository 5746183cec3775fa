"""What the pages load of pulls: a session's, a bike's, comparisons and the best mixture; a part of dashboard.data."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.agreement.leaner import stops_of
from bridge.errors import BadValue, SootlineError, UnknownThing, nearest
from bridge.logbook import Logbook
from bridge.model import Run, Session
from bridge.pulls import Pulls, pulls_of
from bridge.pulls.best import Best, best
from bridge.pulls.compare import Comparison, compare
from bridge.pulls.corrected import STANDARDS
from dashboard.cache import Cache
from dashboard.compared import Compared, told_of
from dashboard.figures.reduce import Series, reduce_window

_POINTS = 420
"""Stretches that the strip of a session is cut into."""


@dataclass(frozen=True)
class Asked:
    """How power and mixture are asked for.

    Attributes:
        standard: a correction's short name, or ``none``.
        target: lambda wanted at full throttle [1].
    """

    standard: str = STANDARDS[0]
    target: float | None = None


@dataclass(frozen=True)
class PullsPicture:
    """A session's pulls for its page.

    Attributes:
        found: the pulls.
        series: engine speed and, where it was recorded, throttle, thinned.
    """

    found: Pulls
    series: tuple[Series, ...]


@dataclass(frozen=True)
class Day:
    """A session of a bike as one to compare.

    Attributes:
        session: the session.
        pulls: how many it has; None where they cannot be told.
        why_not: why there is no power, or nothing at all, in a sentence without its full stop.
    """

    session: Session
    pulls: int | None
    why_not: str | None


class PullsData(Compared):
    """Pulls; what takes seconds is worked out once."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._pulls: Cache[Pulls] = Cache(64)
        self._days: Cache[Day] = Cache(1024)
        self._strips: Cache[tuple[Series, ...]] = Cache(32)

    def run(self, number: int) -> Run:
        """Return a session as it was told, without anything worked out.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            return self._run(logbook, number)

    def pulls(self, number: int, asked: Asked) -> PullsPicture:
        """Return the pulls of a session.

        Raises:
            UnknownThing: there is no such session.
            BadValue: there is no engine speed, no such correction, or a target that is none.
        """
        with self._reading() as logbook:
            found = self._of(logbook, number, asked, ask_ride=True)
            run = found.run
            names = [name for name in ("rpm", "throttle") if name in run.samples.collect_schema().names()]
            strip = self._strips.get(
                self._stamp(logbook, number),
                lambda: reduce_window(run.samples.select("t_s", *names), None, _POINTS),
            )
            stops = stops_of(logbook, run.session.bike)
            return PullsPicture(replace(found, stops=stops) if stops else found, strip)

    def pull_days(self, bike: str) -> tuple[Day, ...]:
        """Return the finished sessions of a bike, oldest first, with how many pulls each has.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._reading() as logbook:
            sessions = [one for one in self._sessions(logbook, bike) if one.state == "sealed"]
            return tuple(self._day(logbook, session) for session in sessions)

    def compare_pulls(
        self, bike: str, before: Sequence[int], after: Sequence[int], standard: str
    ) -> Comparison:
        """Return what a change was worth.

        Raises:
            UnknownThing: there is no such bike, or a session is none of it.
            BadValue: the sessions cannot be compared.
        """
        asked = Asked(standard)
        with self._reading() as logbook:
            self._own(logbook, bike, [*before, *after])
            # power alone is compared, so no ride is asked for its delay
            sides = [
                [self._of(logbook, number, asked, ask_ride=False) for number in side]
                for side in (before, after)
            ]
            stops = stops_of(logbook, bike)
        return replace(compare(*sides), stops=stops)

    def best_mixture(
        self, bike: str, numbers: Sequence[int], rpm: float, standard: str
    ) -> tuple[Best, tuple[str, ...]]:
        """Return the best mixture at an engine speed, and which sessions were left out and why.

        Raises:
            UnknownThing: there is no such bike, or a session is none of it.
            BadValue: no session has a pull with power and lambda there.
        """
        asked, found, left = Asked(standard), [], []
        with self._reading() as logbook:
            self._own(logbook, bike, numbers)
            for number in numbers:
                try:
                    found.append(self._of(logbook, number, asked, ask_ride=False))
                except BadValue as error:
                    left.append(f"session {number} is left out: {error}")
            stops = stops_of(logbook, bike)
        if not found:
            raise BadValue("; ".join(left) or "choose the sessions in which different jets were tried")
        return best(found, rpm, stops), tuple(left)

    def _of(self, logbook: Logbook, number: int, asked: Asked, *, ask_ride: bool) -> Pulls:
        run = self._run(logbook, number)
        return self._pulls.get(
            (self._known(logbook, run), asked, ask_ride),
            lambda: pulls_of(run, standard=asked.standard, target=asked.target, ask_ride=ask_ride),
        )

    def _known(self, logbook: Logbook, run: Run) -> tuple[object, ...]:
        """Return what changes when anything does that pulls depend on."""
        return self._stamp(logbook, run.session.id), told_of(run), repr((run.session, run.marks))

    def _day(self, logbook: Logbook, session: Session) -> Day:
        # what is said of a day is short, so a long season of them is kept where its pulls are not
        try:
            key = self._known(logbook, self._run(logbook, session.id))
        except SootlineError as error:
            return Day(session, None, str(error))
        return self._days.get(key, lambda: self._looked(logbook, session))

    def _looked(self, logbook: Logbook, session: Session) -> Day:
        try:
            found = self._of(logbook, session.id, Asked(), ask_ride=False)
        except SootlineError as error:
            return Day(session, None, str(error))
        return Day(session, len(found.pulls), found.means.why_not)

    def _sessions(self, logbook: Logbook, bike: str) -> list[Session]:
        known = [one.name for one, _ in logbook.bikes()]
        if bike not in known:
            raise UnknownThing(f"there is no bike '{bike}' in this logbook{nearest(bike, known)}")
        return logbook.sessions(bike)

    def _own(self, logbook: Logbook, bike: str, numbers: Sequence[int]) -> None:
        own = {one.id for one in self._sessions(logbook, bike)}
        foreign = next((number for number in numbers if number not in own), None)
        if foreign is not None:
            raise UnknownThing(f"session {foreign} is none of {bike}; choose from its own")

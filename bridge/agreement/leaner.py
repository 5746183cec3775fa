"""A plan to go leaner: what has to be said with every one, and when it is refused."""

from collections.abc import Sequence
from typing import Protocol

from bridge.agreement.stops import Stop, stops_after
from bridge.errors import BadValue
from bridge.model import Bike, PlugLife, Session

LEANER = (
    "A lean engine can seize or hole a piston in seconds: go leaner in small steps, one change at a time, never on one"
    " method's word alone, and read the plugs again before the next step."
)
LEANER_TWO_STROKE = (
    "On a two-stroke never go leaner without a valid ring that allows it: its oxygen sensor reads lean by an unknown"
    " amount."
)


class Logbook(Protocol):
    """What is asked of a logbook."""

    def session(self, session: int) -> Session:
        """Return one session."""

    def sessions(self, bike: str | None = None) -> list[Session]:
        """Return the sessions in order of their start."""

    def bikes(self) -> list[tuple[Bike, int]]:
        """Return the bikes, each with its engine build."""

    def plug_lives(self, session: int) -> list[PlugLife]:
        """Return what the plugs in it lived through."""


def cautions_of_promise(logbook: Logbook, session: int, cylinder: int | None, promise: float | None) -> str:
    """Return what stands beside a plan: nothing beside a richer one, cautions beside every leaner one.

    Of a plan without a promise nobody knows the way; beside it stands what the plugs show that stops a leaner one.

    Args:
        logbook: to look in.
        session: number of the session that it is promised after.
        cylinder: whose, from 1; None for the whole engine.
        promise: by how much lambda at full throttle should change [1]; None where nobody said.

    Raises:
        UnknownThing: there is no such session.
        BadValue: it goes leaner although a plug shows what stops that.
    """
    if promise is not None and promise <= 0.0:
        return ""
    own = logbook.session(session)
    known = next((bike for bike, _ in logbook.bikes() if bike.name == own.bike), None)
    stop = _stop(logbook, own, cylinder)
    if promise is None:
        return "" if stop is None else f"If this goes leaner, do not do it: {stop}"
    if stop is not None:
        raise BadValue(f"no plan to go leaner by {promise:g} is written down: {stop}")
    two_stroke = known is None or known.strokes == 2
    return f"{LEANER} {LEANER_TWO_STROKE}" if two_stroke else LEANER


def _stop(logbook: Logbook, own: Session, cylinder: int | None) -> str | None:
    """Return what stops it, by the readings of the bike up to a session."""
    before = logbook.sessions(own.bike) if own.bike else [own]
    stops = _stops(logbook, [one for one in before if (one.started, one.id) <= (own.started, own.id)])
    # a plug whose order was lost may have been in any cylinder
    mine = (stop for stop in stops if cylinder is None or stop.cylinder in {None, cylinder})
    return next((f"{stop.sentence[0].lower()}{stop.sentence[1:]}" for stop in mine), None)


def stops_of(logbook: Logbook, bike: str | None) -> tuple[str, ...]:
    """Return what a bike's plugs show that stops all talk of leaner, by their newest readings, a sentence each.

    Args:
        logbook: to look in.
        bike: its name; None for none.
    """
    return () if bike is None else tuple(one.sentence for one in _stops(logbook, logbook.sessions(bike)))


def _stops(logbook: Logbook, sessions: Sequence[Session]) -> tuple[Stop, ...]:
    stops: tuple[Stop, ...] = ()
    for one in sessions:
        if one.state == "sealed":
            stops = stops_after(stops, one.id, logbook.plug_lives(one.id))
    return stops

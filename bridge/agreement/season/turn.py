"""Where a drift turned, and what changed there."""

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.agreement.methods import Cusum
from bridge.agreement.season.gather import About, Gathered
from bridge.agreement.season.points import Point


@dataclass(frozen=True)
class Turn:
    """The sessions about a turn.

    Attributes:
        last: number of the last session before it.
        first: number of the first one after it.
        changed: what was written down to have changed between the two, in words.
    """

    last: int
    first: int
    changed: tuple[str, ...]


def turn_of(drift: Cusum, points: Sequence[Point], gathered: Gathered) -> Turn | None:
    """Return where a drift turned; None where none is shown.

    Args:
        drift: over the sessions of the points.
        points: in order of time.
        gathered: what is known of their sessions.
    """
    if drift.turned is None:
        return None
    sessions = list(dict.fromkeys(point.session for point in points))
    last, first = sessions[drift.turned - 1], sessions[drift.turned]
    return Turn(
        last, first, (*_plugs(points, last, first), *_about(gathered.about[last], gathered.about[first]))
    )


def _plugs(points: Sequence[Point], last: int, first: int) -> list[str]:
    types = [
        sorted({str(point.plug_type) for point in points if point.session == number})
        for number in (last, first)
    ]
    if types[0] == types[1]:
        return []
    return [f"the plug type, from {' and '.join(types[0])} to {' and '.join(types[1])}"]


def _about(last: About, first: About) -> list[str]:
    changed = [
        f"the {what}, from {before} to {after}"
        for what, before, after in (
            ("fuel", last.fuel, first.fuel),
            ("place", last.place, first.place),
            ("engine build", last.build, first.build),
        )
        if before != after
    ]
    new = [event for event in first.sensor_events if last.started < event.at <= first.started]
    return changed + [
        f"the sensor{'' if event.cylinder is None else f' of cylinder {event.cylinder}'}: {event.what} on"
        f" {event.at:%Y-%m-%d}"
        for event in new
    ]

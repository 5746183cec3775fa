"""A chop found by itself, line by line: full throttle held, then revs falling as only a dead engine lets them.

The settings are common practice, no source; what they are meant to tell apart stands beside each. What is found
is offered to the tuner and never written down by itself.
"""

from collections import deque
from dataclasses import dataclass
from typing import NamedTuple

_FINEST_S = 0.009
"""Speeds closer together than this are not remembered [s]: a logger of 1000 lines a second costs no more."""


@dataclass(frozen=True)
class ChopLimits:
    """What counts as a chop."""

    full_percent: float = 95.0
    """The throttle is full from here up ..."""
    until_percent: float = 90.0
    """... until it falls under this [%]."""
    held_s: float = 3.0
    """Full throttle before it must have lasted so long [s]: a blip colours no plug."""
    drop_share: float = 0.45
    """The revs must fall by this share of what they were [1]. A change of gear takes at most a third, from
    first to second; the next steps less."""
    rpm_per_s: float = 4000.0
    """... and this fast on the mean [1/min per s]. With the clutch in, friction and pumping alone stop an
    engine within a second or two; one that the wheel drives with the throttle shut loses less than this in the
    gears that hold full throttle for three seconds."""
    within_s: float = 2.0
    """... within so long [s]."""
    stays_s: float = 0.25
    """... and stay down so long [s]: a pick-up that misses a few sparks is back sooner."""
    stopped_rpm: float = 600.0
    """Where the throttle was shut meanwhile the engine must have died, below this [1/min]: one that falls to
    its idle with the clutch in is rolled off, and its plug tells nothing. Idle is faster."""
    running_rpm: float = 2000.0
    """The revs must have been above this [1/min]: what turns slower at full throttle is being started."""
    begins_share: float = 0.97
    """The chop is where the revs were last this near to what they had been [1]."""


class Chop(NamedTuple):
    """A chop that was found."""

    t_s: float
    """When the ignition was cut, within a tenth of a second or two, on the clock of the lines [s]."""
    rpm: float
    """Engine speed before it [1/min]."""
    full_throttle_s: float
    """How long the throttle had been full [s]."""


class _Speed(NamedTuple):
    t_s: float
    rpm: float


@dataclass
class _Watched:
    """Full throttle that lasted long enough, and what has happened since."""

    full_s: float
    left_s: float | None = None
    """When the throttle left the full; None while it is open."""
    low: Chop | None = None
    """What it is, if the revs stay down ..."""
    low_s: float = 0.0
    """... from here on."""


class ChopFinder:
    """Takes lines as they come in and says where a chop was; one chop is said once."""

    def __init__(self, limits: ChopLimits | None = None) -> None:
        self._limits = limits or ChopLimits()
        self._speeds: deque[_Speed] = deque()
        self._full_since: float | None = None
        self._watched: _Watched | None = None
        self._t_s: float | None = None

    def feed(self, t_s: float, throttle: float | None, rpm: float | None) -> Chop | None:
        """Look at one line.

        Args:
            t_s: its time, rising [s].
            throttle: opening [%]; None for no reading, which changes nothing.
            rpm: engine speed [1/min]; None likewise.

        Returns:
            The chop, at the first line that makes it certain; else None.
        """
        if self._t_s is not None and not 0.0 <= t_s - self._t_s <= self._limits.within_s:
            self._forget()  # a hole: nobody knows what was in it
        self._t_s = t_s
        if throttle is not None:
            self._look_at_throttle(t_s, throttle)
        return None if rpm is None else self._look_at_speed(_Speed(t_s, rpm))

    def _forget(self) -> None:
        self._full_since = self._watched = None
        self._speeds.clear()

    def _look_at_throttle(self, t_s: float, throttle: float) -> None:
        limits = self._limits
        if self._full_since is None:
            if throttle >= limits.full_percent:
                self._full_since = t_s
        elif throttle < limits.until_percent:
            self._full_since = None
        if self._full_since is not None and t_s - self._full_since >= limits.held_s:
            if self._watched is None or self._watched.left_s is not None:
                self._watched = _Watched(0.0)
            self._watched.full_s = t_s - self._full_since
        elif self._watched is not None and self._full_since is None and self._watched.left_s is None:
            self._watched.left_s = t_s

    def _look_at_speed(self, now: _Speed) -> Chop | None:
        limits, speeds = self._limits, self._speeds
        if not speeds or now.t_s - speeds[-1].t_s >= _FINEST_S:
            speeds.append(now)
        while now.t_s - speeds[0].t_s > limits.within_s:
            speeds.popleft()
        watched = self._watched
        if watched is None:
            return None
        if now.rpm > (1.0 - limits.drop_share) * max(speed.rpm for speed in speeds):
            watched.low = None
        elif watched.low is None:
            watched.low, watched.low_s = self._fallen(watched, now), now.t_s
        if watched.low is None:
            left_s = now.t_s if watched.left_s is None else watched.left_s
            if now.t_s - left_s > limits.within_s:
                self._watched = None
            return None
        if now.t_s - watched.low_s < limits.stays_s:
            return None
        self._forget()
        return watched.low

    def _fallen(self, watched: _Watched, now: _Speed) -> Chop | None:
        """Return the chop that this line would end, if the revs stay where they are."""
        limits, speeds = self._limits, self._speeds
        before = max(speed.rpm for speed in speeds)
        if before < limits.running_rpm or (watched.left_s is not None and now.rpm > limits.stopped_rpm):
            return None
        begun = next(speed for speed in reversed(speeds) if speed.rpm >= limits.begins_share * before)
        if begun.rpm - now.rpm < limits.rpm_per_s * (now.t_s - begun.t_s):
            return None
        # a throttle that stays open after the cut is no running at full throttle
        left_s = now.t_s if watched.left_s is None else watched.left_s
        full_s = watched.full_s - max(0.0, left_s - begun.t_s)
        return Chop(begun.t_s, begun.rpm, full_s) if full_s >= limits.held_s else None

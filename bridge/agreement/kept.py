"""A pair as it is kept for the scale: the ring, the measured lambda, and what ran while the plug was in."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from bridge.agreement.causes.running import Running
from bridge.plug.ring_fit import RingPair
from bridge.plug.scale import same_length

ENOUGH_PAIRS = 3
"""Pairs of other sessions that a scale needs to judge a session by; common practice, no source."""
ENOUGH_SESSIONS = 2
"""Sessions that they come from at least; common practice, no source."""
TOGETHER = 0
"""The cylinder of a pair that stands for all of them: the rings' mean beside one sensor's average."""


@dataclass(frozen=True)
class Kept:
    """A pair with the plug that it came from; a scale holds for one plug type and nose length in one build.

    Attributes:
        pair: depth and lambda; its cylinder is ``TOGETHER`` where one sensor stands for all.
        plug: label of the plug; of several, with a comma between.
        plug_type: the tuner's name of the type.
        nose_mm: length of the nose [mm].
        build: number of the engine build.
        running: what ran, for what changes from session to session.
        started: when the session did, in UTC.
        depths: each cylinder's depth behind a pair of all together [mm].
    """

    pair: RingPair
    plug: str
    plug_type: str | None
    nose_mm: float
    build: int | None
    running: Running | None = None
    started: datetime | None = None
    depths: tuple[tuple[int, float], ...] = ()


def alike(kept: Iterable[Kept], *, plug_type: str | None, nose_mm: float, build: int | None) -> list[Kept]:
    """Return what is kept of one plug type and nose length in one engine build."""
    return [
        one
        for one in kept
        if one.plug_type == plug_type and one.build == build and same_length(one.nose_mm, nose_mm)
    ]

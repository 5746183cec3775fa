"""The computer's two clocks: one that never jumps, and UTC, which may be set at any moment.

Arrivals are taken by the monotonic clock alone; UTC only says when the session began. So a clock that is set in
mid-session (by hand, or by the network once there is one) moves no sample.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bridge.align.clock import WRAP, Seconds

_JUMP_S = 0.5
"""A smaller step of UTC is the scheduler between the readings of the two clocks, or a clock that is slewed [s]."""
_LOOK = 5
"""Chunks on which a jump is judged: one whose two clocks were read far apart is no jump."""
_SLEPT_S = 2.0
"""A shorter sleep is not looked for [s]."""
_LINES = 200
"""Lines after a jump by which a sleep is told from a clock that was set: more than a buffer hands over late."""


@dataclass(frozen=True)
class Jump:
    """UTC moved against the monotonic clock."""

    chunk: int
    """The first chunk after it."""
    size_s: float
    """Positive: UTC moved forward, or the monotonic clock stood still [s]."""
    slept: bool = False
    """Whether the monotonic clock stood still: the logger counted as many seconds as UTC did."""


@dataclass(frozen=True)
class HostClock:
    """The computer's clocks over a recording."""

    arrival_s: Seconds
    """When each chunk came in, since the first one [s], sleep included where it was found; shape (chunks,)."""
    utc_less_arrival_ns: NDArray[np.int64]
    """UTC since 1970 less ``arrival_s`` [ns], shape (chunks,)."""
    jumps: tuple[Jump, ...]

    def zero_utc_ns(self) -> int:
        """Return the UTC of arrival 0, since 1970 [ns], as the clock stood before it was first set.

        It is what the recorder itself went by when the session began. All chunks until the first jump vote: the
        median of them.
        """
        values = self.utc_less_arrival_ns[: self.jumps[0].chunk if self.jumps else None]
        return int(values[0] + np.median(values - values[0]))


def read_host_clock(monotonic_ns: NDArray[np.int64], utc_ns: NDArray[np.int64]) -> HostClock:
    """Return the clocks of a recording, no sleep assumed.

    Args:
        monotonic_ns: when the last byte of each chunk came, shape (chunks,), chunks >= 1.
        utc_ns: UTC at the same moments, since 1970.
    """
    since = monotonic_ns - monotonic_ns[0]
    apart = utc_ns - since
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(apart - apart[0], _LOOK // 2, mode="edge"), _LOOK
    )
    steps = np.diff(np.median(around, axis=1)) / 1e9
    found = np.flatnonzero(np.abs(steps) > _JUMP_S)
    jumps = tuple(Jump(int(i) + 1, float(steps[i])) for i in found)
    return HostClock(since / 1e9, apart, jumps)


def with_sleep(
    clock: HostClock, boots: Sequence[tuple[NDArray[np.intp], NDArray[np.uint32], int]]
) -> HostClock:
    """Find out in which jumps the computer slept, and add that time to the arrivals after it.

    On some systems the monotonic clock stands still while the computer sleeps, UTC does not; the recorder then sees
    UTC jump ahead. The same is seen where somebody sets the clock. The logger is the judge: if it counted on by as
    much as UTC did, and not by as much as the monotonic clock, the computer slept. Where it started anew in
    between, it cannot be asked; the jump then counts as a clock that was set.

    Args:
        clock: as ``read_host_clock`` gives it.
        boots: of each start of the logger the chunk (index) of each line, its tick, and ticks per second.

    Returns:
        The clock, with ``slept`` set and ``arrival_s`` and what hangs on it put right.
    """
    jumps = tuple(
        replace(jump, slept=jump.size_s > _SLEPT_S and any(_counted_on(jump, clock, *boot) for boot in boots))
        for jump in clock.jumps
    )
    asleep = np.zeros(len(clock.arrival_s))
    for jump in jumps:
        if jump.slept:
            asleep[jump.chunk :] += jump.size_s
    apart = clock.utc_less_arrival_ns - np.rint(asleep * 1e9).astype(np.int64)
    return HostClock(clock.arrival_s + asleep, apart, jumps)


def _counted_on(
    jump: Jump, clock: HostClock, chunks: NDArray[np.intp], ticks: NDArray[np.uint32], ticks_per_second: int
) -> bool:
    """Return whether the logger went on through a jump of UTC and counted its seconds."""
    at = int(np.searchsorted(chunks, jump.chunk))
    if not 0 < at < len(chunks):
        return False
    after = slice(at, at + _LINES)
    counted = ticks[after].astype(np.float64) - float(ticks[at - 1])
    waited = (clock.arrival_s[chunks[after]] - clock.arrival_s[chunks[at - 1]]) * ticks_per_second
    awake = np.median(_off(counted - waited))
    asleep = np.median(_off(counted - waited - jump.size_s * ticks_per_second))
    return bool(asleep < awake)


def _off(ticks: Seconds) -> Seconds:
    """Return how far counts are from 0, whole wraps left out."""
    return np.asarray(np.abs(ticks - np.rint(ticks / WRAP) * WRAP), dtype=np.float64)

"""The logger's ticks as seconds of the session."""

import numpy as np
from numpy.typing import NDArray

WRAP = 2**32
"""Ticks are 32-bit counts."""


def lay_on_time(
    ticks: NDArray[np.uint32],
    ticks_per_second: int,
    arrival_s: NDArray[np.float64] | None,
) -> NDArray[np.float64]:
    """Return the seconds at which the lines of one boot were written, by the device's clock.

    Args:
        ticks: of the lines of one boot in order of arrival, shape (n,); wrapping at 2**32. A line may carry a
            tick a little earlier than the one before it (a mark is stamped when the button goes down).
        ticks_per_second: rate of the device's clock [1/s].
        arrival_s: when each line came in, shape (n,), any clock that does not jump [s]; None where nobody
            noted it (an imported file).

    Returns:
        Seconds, shape (n,). With arrivals they are on the arrivals' clock, laid so that the line that came
        through soonest took no time at all: late arrivals are a busy computer's, early ones cannot be. No
        drift between the two clocks is taken out. Without arrivals the first line stands at 0.

        A silence longer than half a wrap is measured by arrival time; without arrivals it cannot be told
        from a shorter one and whole wraps in it are lost.
    """
    if len(ticks) == 0:
        return np.empty(0, dtype=np.float64)
    # the difference of unsigned counts, read as signed, is right for every step within half a wrap
    steps = np.diff(ticks.astype(np.uint32, copy=False)).view(np.int32).astype(np.float64) / ticks_per_second
    if arrival_s is None:
        return np.concatenate(([0.0], np.cumsum(steps)))
    silence = np.diff(arrival_s)
    steps = np.where(silence > WRAP / 2 / ticks_per_second, silence, steps)
    seconds = np.concatenate(([0.0], np.cumsum(steps)))
    return seconds + np.min(arrival_s - seconds)

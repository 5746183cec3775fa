"""The logger's ticks on the clock that stamps the arrivals, as far as is known while they come in."""

from collections.abc import Sequence

_WRAP = 2**32
_SLACK = 200e-6
"""How fast the two clocks may run apart [s/s]: a cheap logger's quartz is within 100 ppm (common practice)."""


class TickClock:
    """Lays the lines of one boot on time by their earliest arrivals.

    A line cannot come before it was written, so of all the offsets between arrival and tick the smallest is
    the truest. Drift is followed by letting that smallest one rise slowly. Sealing does this better, with all
    lines at hand; here a few milliseconds do not show.
    """

    def __init__(self, ticks_per_second: int) -> None:
        self._rate = ticks_per_second
        self._tick: int | None = None
        self._device_s = 0.0
        self._offset: float | None = None
        self._arrival_s = self._last_arrival_s = 0.0

    def lay(self, lines: Sequence[tuple[int, float]]) -> list[float]:
        """Return the seconds of lines on the arrivals' clock.

        Args:
            lines: (tick, arrival [s]) in order of arrival; all that came since the last call, at once, so that
                lines which were held back for a while do not all fall on the moment of their release.
        """
        if not lines:
            return []
        device = [self._step(tick, arrival_s) for tick, arrival_s in lines]
        earliest = min(arrival_s - at for (_, arrival_s), at in zip(lines, device, strict=True))
        if self._offset is not None:
            quiet = max(0.0, lines[-1][1] - self._arrival_s)
            earliest = min(earliest, self._offset + _SLACK * quiet)
        self._offset, self._arrival_s = earliest, lines[-1][1]
        return [at + earliest for at in device]

    def _step(self, tick: int, arrival_s: float) -> float:
        if self._tick is not None:
            step = ((tick - self._tick + _WRAP // 2) % _WRAP - _WRAP // 2) / self._rate
            silence = arrival_s - self._last_arrival_s
            self._device_s += silence if silence > _WRAP / 2 / self._rate else step
        self._tick, self._last_arrival_s = tick, arrival_s
        return self._device_s

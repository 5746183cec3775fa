"""The logger's clock laid on the computer's, by the lines that came through soonest.

A line that was written at ``device_s`` by the logger's clock comes in at::

    arrival_s = offset_s + (1 + drift) * device_s + delay,   delay >= 0

Nothing bounds the delay from above (a busy computer, batches, stalls), so a mean says little; but no line can
come in before it was written, so the truth lies along the lower edge of ``arrival_s - device_s``. The lines are
parted into blocks, the soonest line of each is kept, and the drift is the median of the slopes between any two
of them (Theil and Sen). Its uncertainty comes from Sen's interval by ranks, which holds whatever law the delays
follow (P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379; over several boots as R. M. Hirsch, J. R. Slack and R. A.
Smith, Water Resour. Res. 18 (1982) 107, pool their seasons).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Seconds = NDArray[np.float64]

WRAP = 2**32
"""Ticks are 32-bit counts."""

_BLOCKS = 32
"""So many soonest lines carry the slope: enough for the ranks, few enough that each is soon indeed."""
_FEWEST_BLOCKS = 8
"""Below that the ranks say nothing."""
_FEWEST_CHUNKS = 8
"""A block is at least so many arrivals, or a stall would be all of it."""
_ROUNDS = 4
_Z95 = 1.96

USUAL_DRIFT_PPM = 200.0
"""Standard uncertainty of a drift that cannot be told [ppm]: quartz keeps within 20 to 100 ppm, ceramic resonators
within 5000 (from memory)."""
_TOO_VAGUE_PPM = 100.0
"""A measured drift with a greater standard uncertainty is not used [ppm]."""
_NO_CLOCK_PPM = 30_000.0
"""A greater drift is no clock's [ppm]: a serial line stops working at such differences. The lines did not come in
as they were written (a stored ride was read out), or the logger's tick rate is not what it says."""
_ALONE_SD_S = 0.1
"""Standard uncertainty of an offset that hangs on one arrival [s]: a busy computer's stall (common practice)."""


@dataclass(frozen=True)
class ClockFit:
    """How the logger's clock of one boot stands to the computer's."""

    offset_s: float
    """The computer's clock at the boot's first line, had it come through as soon as the soonest [s]."""
    offset_sd_s: float
    """Its standard uncertainty [s], rather too great than too small. The delay of the very soonest line (some
    milliseconds of wire and USB) cannot be known from one side and is no part of it."""
    drift_ppm: float
    """How many more seconds the computer counts than the logger [ppm]: positive where the logger is slow. One
    for all boots of a session."""
    drift_sd_ppm: float
    """Its standard uncertainty [ppm]."""
    lines: int
    """How many lines could be the soonest: the last one of each arrival."""
    note: str | None = None
    """Why the drift was not taken out; None where it was."""

    def times(self, device_s: Seconds) -> Seconds:
        """Return the logger's seconds since the boot's first line as seconds of the computer's clock."""
        return self.offset_s + device_s * (1 + self.drift_ppm * 1e-6)


def unwrap_ticks(
    ticks: NDArray[np.uint32], ticks_per_second: int, arrival_s: Seconds | None = None
) -> Seconds:
    """Return the seconds of the lines of one boot by the logger's own clock, since the first of them.

    Args:
        ticks: in order of arrival, shape (n,); wrapping at 2**32. A line may carry a tick a little earlier than the
            one before it (a mark is stamped when the button goes down).
        ticks_per_second: rate of the logger's clock [1/s].
        arrival_s: when each line came in, shape (n,), by a clock that does not jump [s]; None where nobody
            noted it (an imported file).

    Returns:
        Seconds, shape (n,), first 0. The wraps in a silence longer than half a wrap are counted by arrival
        time; without arrivals such a silence cannot be told from a shorter one, and whole wraps in it are lost.
    """
    if len(ticks) == 0:
        return np.empty(0, dtype=np.float64)
    # the difference of unsigned counts, read as signed, is right for every step within half a wrap
    steps = np.diff(ticks.astype(np.uint32, copy=False)).view(np.int32).astype(np.float64)
    if arrival_s is not None:
        silence = np.diff(arrival_s) * ticks_per_second
        steps += np.where(silence > WRAP / 2, np.rint((silence - steps) / WRAP) * WRAP, 0.0)
    return np.concatenate(([0.0], np.cumsum(steps) / ticks_per_second))


def fit_clock(boots: Sequence[tuple[Seconds, Seconds]], resolution_s: float = 0.0) -> tuple[ClockFit, ...]:
    """Lay the logger's clock on the computer's.

    Args:
        boots: of each start of the logger ``device_s`` as from ``unwrap_ticks`` and ``arrival_s``, shapes (n,),
            n >= 1, in order of arrival; one logger, so one drift for all.
        resolution_s: length of a tick [s].

    Returns:
        One fit for each boot, the same for the same data. No line of a boot lies before its ``times``. Where the
        drift cannot be told (too short, too few lines) or is no clock's, it is 0 with a wide uncertainty and
        a note.
    """
    soonest = [_ends_of_arrivals(device, arrival) for device, arrival in boots]
    drift_ppm, sd_ppm = (1e6 * value for value in _fit_drift(soonest, resolution_s))
    note = None
    if sd_ppm > _TOO_VAGUE_PPM:
        note = "the recording is too short to tell how fast the logger's clock runs: it is taken as right"
    elif abs(drift_ppm) > _NO_CLOCK_PPM:
        times = 1 / max(1 + drift_ppm * 1e-6, 1e-9)
        note = (
            f"the lines came in {times:.3g} times as fast as the logger's clock says that they were written: its"
            " clock is taken as right"
        )
    if note is not None:
        rough = float(np.hypot(drift_ppm, sd_ppm)) if np.isfinite(sd_ppm) else 0.0
        drift_ppm, sd_ppm = 0.0, max(USUAL_DRIFT_PPM, rough)
    fits = []
    for (device, arrival), (some_device, some_arrival) in zip(boots, soonest, strict=True):
        offset = float(np.min(arrival - device * (1 + drift_ppm * 1e-6)))
        offset_sd = _offset_sd(some_device, some_arrival, drift_ppm * 1e-6, sd_ppm * 1e-6)
        fits.append(ClockFit(offset, offset_sd, drift_ppm, sd_ppm, len(some_device), note))
    return tuple(fits)


def _ends_of_arrivals(device: Seconds, arrival: Seconds) -> tuple[Seconds, Seconds]:
    """Leave out the lines that others overtook: of those that came in together only the last can be soonest."""
    last = np.append(arrival[1:] != arrival[:-1], np.True_)
    return device[last], arrival[last]


def _fit_drift(boots: Sequence[tuple[Seconds, Seconds]], resolution: float) -> tuple[float, float]:
    """Return the drift and its standard uncertainty, infinite where there is too little to tell."""
    size = max(_FEWEST_CHUNKS, -(-sum(len(device) for device, _ in boots) // _BLOCKS))
    parted = [
        (device[:whole].reshape(-1, size), (arrival - device)[:whole].reshape(-1, size))
        for device, arrival in boots
        if (whole := len(device) // size * size) >= 2 * size
    ]
    if sum(len(device) for device, _ in parted) < _FEWEST_BLOCKS:
        return 0.0, np.inf
    drift = 0.0
    for _ in range(_ROUNDS):  # which line of a block is soonest depends on the slope, less and less
        minima = [_soonest_of_blocks(device, late, drift) for device, late in parted]
        slopes = np.concatenate([_slopes(device, late) for device, late in minima])
        if not len(slopes):
            return 0.0, np.inf
        drift = float(np.median(slopes))
    return drift, _drift_sd(minima, slopes, drift, resolution)


def _soonest_of_blocks(device: Seconds, late: Seconds, drift: float) -> tuple[Seconds, Seconds]:
    """Return the line of each block, a row, that came through soonest."""
    at = np.argmin(late - drift * device, axis=1)[:, None]
    return np.take_along_axis(device, at, 1)[:, 0], np.take_along_axis(late, at, 1)[:, 0]


def _slopes(device: Seconds, late: Seconds) -> Seconds:
    """Return the slopes between any two points that lie apart."""
    one, other = np.triu_indices(len(device), 1)
    run = device[other] - device[one]
    return np.asarray((late[other] - late[one])[run > 0] / run[run > 0], dtype=np.float64)


def _drift_sd(
    minima: Sequence[tuple[Seconds, Seconds]], slopes: Seconds, drift: float, resolution: float
) -> float:
    counts = np.array([len(device) for device, _ in minima], dtype=np.float64)
    spread = np.sqrt(np.sum(counts * (counts - 1) * (2 * counts + 5)) / 18)  # of Kendall's S
    half = min(0.5, _Z95 * spread / len(slopes) / 2)
    low, high = np.quantile(slopes, [0.5 - half, 0.5 + half])
    by_ranks = (high - low) / 2 / _Z95
    # neighbours that are late together (a long stall, a clock that warms up) count for less than their number
    left = [late - drift * device for device, late in minima]
    ranks = [np.argsort(np.argsort(rest)) - (len(rest) - 1) / 2 for rest in left]
    alike = sum(float(r[1:] @ r[:-1]) for r in ranks) / sum(float(r @ r) for r in ranks)
    alike = min(max(alike, 0.0), 0.9)
    # below the length of a tick nothing can be told
    run = np.sqrt(sum(float(np.sum((device - device.mean()) ** 2)) for device, _ in minima))
    return float(np.hypot(by_ranks * np.sqrt((1 + alike) / (1 - alike)), resolution / np.sqrt(12) / run))


def _offset_sd(device: Seconds, arrival: Seconds, drift: float, drift_sd: float) -> float:
    """Return the standard uncertainty of the highest line below all arrivals, at the boot's first line."""
    late = arrival - device * (1 + drift)
    blocks = np.sort([part.min() for part in np.array_split(late, min(len(late), _BLOCKS))])
    # how far the median one lies above the soonest says how far below that the edge may be: too wide for delays that
    # are often near their least, about right for those that seldom are
    level_sd = float(np.median(blocks) - blocks[0]) if len(blocks) > 1 else _ALONE_SD_S
    return float(np.hypot(level_sd, drift_sd * abs(float(device.mean()))))

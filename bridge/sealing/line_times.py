"""When each line of a recording was written: the logger's clock laid on one time for the whole session."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import ClockFit, HostClock, Jump, fit_clock, read_host_clock, unwrap_ticks, with_sleep
from bridge.wire import Decoded

BETWEEN_BOOTS_S = 1.0
"""What stands between two starts of the logger where nobody noted when their bytes came in [s]."""
_SIGNIFICANT = 3.0
"""So many standard uncertainties from 0 make a drift worth a note."""
_MATTERS_S = 0.05
"""A drift that is not known is worth a note where it comes to so much over the session [s]."""
_GAP_S = 1.0
_GAP_PERIODS = 5.0
"""A gap is longer than 1 s, and than so many usual steps from line to line."""
_GAPS_TOLD = 5
"""So many gaps are told one by one."""


@dataclass(frozen=True)
class _Boot:
    """The lines of one start of the logger, in order of arrival."""

    offsets: NDArray[np.int64]
    ticks: NDArray[np.uint32]
    is_data: NDArray[np.bool_]
    ticks_per_second: int

    def judges(self) -> NDArray[np.bool_]:
        """Return the lines that the clock is fitted by: a state or a mark may be told later than it was."""
        return self.is_data if self.is_data.any() else np.ones_like(self.is_data)


class LineTimes:
    """The seconds of each line since the first one, by its place in the bytes.

    Data lines, marks and states of one start of the logger are laid on time together: by the logger's own ticks,
    whose offset and drift are fitted to the arrivals (``bridge.align.clock``). A port that goes away and comes
    back changes nothing in that, so a gap is as long as the logger counted. Starts follow each other by arrival.
    Where nobody noted arrivals, the ticks stand as they are, and starts one second apart.
    """

    def __init__(self, decoded: Decoded, chunks: pl.DataFrame | None) -> None:
        self.notes: tuple[str, ...] = ()
        self.started_utc: datetime | None = None
        self.fits: tuple[ClockFit, ...] = ()
        """One for each start of the logger; none without arrivals."""
        boots = _boots(decoded)
        if not boots:
            self._offsets, self._seconds = np.empty(0, np.int64), np.empty(0)
            return
        arrivals = chunks is not None and not chunks.is_empty()
        seconds = (
            self._by_arrival(boots, chunks) if arrivals and chunks is not None else self._by_ticks(boots)
        )
        self._offsets = np.concatenate([boot.offsets for boot in boots])
        self._seconds = np.concatenate(seconds)
        first = float(self._seconds.min())
        self._seconds -= first
        if self.started_utc is not None:
            self.started_utc += timedelta(seconds=first)
            data = [at[boot.is_data] - first for at, boot in zip(seconds, boots, strict=True)]
            self.notes += _tell_gaps([at for at in data if len(at)])

    def of(self, offsets: pl.Series) -> pl.Series:
        """Return the seconds of lines since the session's start [s]; null for a line that has no time."""
        wanted = offsets.cast(pl.Int64).to_numpy()
        if not len(self._offsets):
            return pl.Series("t_s", [None] * len(wanted), dtype=pl.Float64)
        at = np.clip(np.searchsorted(self._offsets, wanted), 0, len(self._offsets) - 1)
        known = self._offsets[at] == wanted
        return pl.Series("t_s", np.where(known, self._seconds[at], np.nan)).fill_nan(None)

    def rows(self, lines: pl.DataFrame, *names: str) -> list[tuple[Any, ...]]:
        """Return (t_s, ...) of each line that has a time."""
        return lines.select(self.of(lines["offset"]), *names).drop_nulls("t_s").rows()

    def _by_ticks(self, boots: list[_Boot]) -> list[NDArray[np.float64]]:
        laid, end = [], -BETWEEN_BOOTS_S
        for boot in boots:
            seconds = unwrap_ticks(boot.ticks, boot.ticks_per_second)
            laid.append(seconds - seconds.min() + end + BETWEEN_BOOTS_S)
            end = float(laid[-1].max())
        if len(boots) > 1:
            apart = f"{BETWEEN_BOOTS_S:g} s apart"
            self.notes += (f"nobody noted when the bytes came in, so the starts of the logger stand {apart}",)
        return laid

    def _by_arrival(self, boots: list[_Boot], chunks: pl.DataFrame) -> list[NDArray[np.float64]]:
        begins = chunks["offset"].cast(pl.Int64).to_numpy()
        of_lines = [
            np.clip(np.searchsorted(begins, boot.offsets, side="right") - 1, 0, len(begins) - 1)
            for boot in boots
        ]
        host = with_sleep(
            read_host_clock(chunks["monotonic_ns"].to_numpy(), chunks["utc_ns"].to_numpy()),
            [(at, boot.ticks, boot.ticks_per_second) for at, boot in zip(of_lines, boots, strict=True)],
        )
        device, judges = [], []
        for at, boot in zip(of_lines, boots, strict=True):
            arrival = host.arrival_s[at]
            device.append(unwrap_ticks(boot.ticks, boot.ticks_per_second, arrival))
            chosen = boot.judges()
            judges.append((device[-1][chosen], arrival[chosen]))
        self.fits = fit_clock(judges, 1 / min(boot.ticks_per_second for boot in boots))
        self.started_utc = datetime.fromtimestamp(0, UTC) + timedelta(microseconds=host.zero_utc_ns() // 1000)
        self.notes += (
            *_tell_drift(self.fits[0], float(host.arrival_s[-1])),
            *(_tell_jump(jump, host) for jump in host.jumps),
        )
        return [fit.times(seconds) for fit, seconds in zip(self.fits, device, strict=True)]


def _boots(decoded: Decoded) -> list[_Boot]:
    """Return the starts of the logger that have a line; states of one that never said its tick rate have no time."""
    rates = {segment.boot_index: segment.identity.ticks_per_second for segment in decoded.segments}
    where = [pl.col(name).cast(pl.Int64) for name in ("offset", "boot_index", "tick")]
    data = [s.frame.with_columns(boot_index=pl.lit(s.boot_index)).select(where) for s in decoded.segments]
    lines = pl.concat(
        [
            *(frame.with_columns(is_data=pl.lit(True)) for frame in data),  # noqa: FBT003  # polars' own way
            *(
                frame.select(where).with_columns(is_data=pl.lit(False))  # noqa: FBT003  # polars' own way
                for frame in (decoded.marks, decoded.states)
            ),
        ],
    ).sort("offset")
    return [
        _Boot(
            group["offset"].to_numpy(),
            group["tick"].cast(pl.UInt32).to_numpy(),
            group["is_data"].to_numpy(),
            rates[int(str(boot))],
        )
        for (boot,), group in lines.group_by("boot_index", maintain_order=True)
        if boot in rates
    ]


def _tell_drift(fit: ClockFit, length_s: float) -> tuple[str, ...]:
    ppm, sd = abs(fit.drift_ppm), fit.drift_sd_ppm
    if fit.note is not None:
        return (f"{fit.note}, within {sd:.0f} ppm",) if sd * 1e-6 * length_s > _MATTERS_S else ()
    if ppm < _SIGNIFICANT * sd:
        return ()
    pace = "slow" if fit.drift_ppm > 0 else "fast"
    digits = int(np.clip(1 - np.floor(np.log10(max(sd, 1e-3))), 0, 3))
    words = (
        f"the logger's clock is {pace} by {ppm:.{digits}f} ppm against this computer's"
        f" (standard uncertainty {max(sd, 1e-3):.{digits}f} ppm); that is taken out"
    )
    return (words,)


def _tell_jump(jump: Jump, host: HostClock) -> str:
    at = f"{host.arrival_s[jump.chunk]:.1f} s after the first byte"
    if jump.slept:
        return f"the computer slept for {jump.size_s:.1f} s, until {at}; the logger counted on"
    way = "forward" if jump.size_s > 0 else "back"
    return (
        f"the computer's clock jumped {way} by {abs(jump.size_s):.1f} s, {at}; no sample is moved by that, and the"
        " session's start is told by the clock as it stood before"
    )


def _tell_gaps(boots: list[NDArray[np.float64]]) -> tuple[str, ...]:
    """Return each gap between data lines, the longest ones where there are many; times in s since the start."""
    if not boots:
        return ()
    seconds = np.concatenate(boots)
    steps = np.diff(seconds)
    anew = np.zeros(len(steps), dtype=np.bool_)
    anew[np.cumsum([len(boot) for boot in boots])[:-1] - 1] = True
    usual = float(np.median(steps[~anew])) if (~anew).any() else 0.0
    found = np.flatnonzero(steps > max(_GAP_S, _GAP_PERIODS * usual))
    longest = np.sort(found[np.argsort(-steps[found], kind="stable")[:_GAPS_TOLD]])
    words = [
        f"gap of {steps[i]:.1f} s without a data line, from {seconds[i]:.1f} s on"
        f"{', in which the logger started anew' if anew[i] else ''}"
        for i in longest.tolist()
    ]
    more = len(found) - len(longest)
    if more:
        rest = float(steps[found].sum() - steps[longest].sum())
        words.append(
            f"{more} shorter {'gap' if more == 1 else 'gaps'} without a data line, {rest:.1f} s in all"
        )
    return tuple(words)

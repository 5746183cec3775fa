"""Whether a reading is worth anything, as the log and the tray tell it.

Every rule here is common practice, without a published source; each stands with its figure in ``LIMITS``.
"""

from dataclasses import dataclass

from bridge.model import PlugLife
from bridge.plug.lived import Lived, live_through


@dataclass(frozen=True)
class Limits:
    """The figures of the rules; common practice, no source.

    Attributes:
        full_throttle_s: full throttle that a plug needs before its nose shows anything [s].
        no_ring_s: full throttle before "no ring" means lean and not "too short" [s].
        gap_s: running from the last full throttle to the cut that does not yet colour the nose [s].
    """

    full_throttle_s: float = 5.0
    no_ring_s: float = 10.0
    gap_s: float = 10.0


LIMITS = Limits()


@dataclass(frozen=True)
class Validity:
    """The judgement on one reading.

    Attributes:
        valid: it may be compared.
        because: why not, in one sentence with its figure; None for a valid one.
        full_throttle_s: full throttle on this plug [s]; None where the log cannot show it.
        gap_s: running from the last full throttle to the cut [s]; None where the log cannot show it.
    """

    valid: bool
    because: str | None
    full_throttle_s: float | None
    gap_s: float | None


def judge(life: PlugLife, lived: Lived | None = None, limits: Limits = LIMITS) -> Validity:
    """Judge the reading of a plug.

    Args:
        life: the plug, its reading, and the running it lived through.
        lived: what ``live_through`` gave for the same, where it is at hand.
        limits: the figures of the rules.

    Returns:
        The judgement; the first rule broken is the one that is named.
    """
    lived = lived or live_through(life.runs, life.fitting.cylinder)
    because = _tray(life) or _log(life, lived, limits)
    return Validity(because is None, because, lived.full_throttle_s, lived.gap_s)


def _tray(life: PlugLife) -> str | None:
    """Return what the tray and the reading itself say against it."""
    fitting, reading = life.fitting, life.reading
    if fitting.order_lost:
        return f"the order of the tray was lost, so nobody knows which cylinder plug {fitting.plug} came from"
    if fitting.state == "used":
        return (
            f"plug {fitting.plug} was used when it was fitted, and a plug that was neither new nor cleaned"
            " keeps its old colour"
        )
    if reading is None:
        return f"plug {fitting.plug} has not been read after this session"
    if reading.ring == "not-seen":
        return f"nobody could see the ring of plug {fitting.plug}"
    return None


def _log(life: PlugLife, lived: Lived, limits: Limits) -> str | None:
    """Return what the log says against the reading."""
    if lived.full_throttle_s is None or lived.gap_s is None:
        return f"{lived.blind}, so it cannot show what this plug saw; record or map that channel"
    seconds, gap = lived.full_throttle_s, lived.gap_s
    if seconds < limits.full_throttle_s:
        return (
            f"the plug saw {seconds:.1f} s of full throttle, and a reading needs at least"
            f" {limits.full_throttle_s:g} s"
        )
    if gap > limits.gap_s:
        return (
            f"the engine ran for {gap:.0f} s between the last full throttle and the cut, and over"
            f" {limits.gap_s:g} s may have coloured the nose on the way in; cut the ignition at full throttle"
        )
    if life.reading is not None and life.reading.ring == "none":
        return _no_ring(life.heat_range, seconds, limits)
    return None


def _no_ring(heat_range: int, seconds: float, limits: Limits) -> str | None:
    """Return why "no ring" does not mean lean here."""
    if seconds < limits.no_ring_s:
        return (
            f"no ring after {seconds:.1f} s of full throttle may only mean too short a run; it means lean"
            f" from {limits.no_ring_s:g} s on"
        )
    if heat_range != 0:
        steps = f"{abs(heat_range)} step{'s' if abs(heat_range) > 1 else ''}"
        side = "colder" if heat_range > 0 else "hotter"
        return f"no ring means lean only at the usual heat range, and this plug is {steps} {side}"
    return None

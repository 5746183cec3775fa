"""What happened in one stretch of full throttle: a pull, and what is none, told apart.

The revs are cut where they fall at an open throttle: a change of gear, a wheel that found its grip again, an ignition
that was cut. In what is left, revs over speed show whether wheel and engine turned as one. Limits are common practice
or our own choice; what they are meant to tell apart stands beside each. Without a speed, slip that the revs do not
show cannot be told.
"""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.model import PullSettings
from bridge.pulls.even import SMOOTH_S, Course
from bridge.pulls.gears import Gears, mode_of

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Kind = Literal["pull", "hold", "launch", "shift", "wheelspin", "clutch slip", "aborted", "short", "cut"]

KINDS: tuple[Kind, ...] = (
    "pull", "hold", "launch", "shift", "wheelspin", "clutch slip", "aborted", "short", "cut",
)  # fmt: skip
"""What a piece of full throttle is. ``aborted`` closed the throttle before the revs had risen far enough, ``short``
lies between two gears, ``cut`` lost its revs with the throttle open and did not get them back."""

_FALL = 0.04
"""Revs that fall by this share with the throttle open are no pull any more [1]: the closest gears are 8 % apart."""
_BEGINS, _TREMBLE_S = 0.01, 0.3
"""... and where they stay within this share of their top [1] for longer than this [s], the fall begins at the last of
them."""
_CUT = 0.45
"""A greater fall than this is no change of gear: from first to second takes a third at most [1]."""
_FLARE = 3.0
"""Revs that rise so many times as fast as in the rest, just before they fall back, had no grip [1]."""
_LAUNCH_SPEED = 0.3
"""Below this share of the ride's top speed an engine that outruns its gear is pulling away [1]."""
_QUICK = 0.25
"""A ratio that runs off faster than this share a second is a wheel that spins; a clutch slips slower [1/s]."""
_KEPT, _KEPT_SHARE = 0.02, 0.4
"""A ratio that the ride has not elsewhere is a gear where so much of the time it is within so little [1]."""
_BLOCK = 4_096
_MODE_OF = 300
"""So many ratios of a segment tell its gear."""
_AT_ONCE_S = 0.5
"""Nobody changes gear so soon after opening the throttle [s]."""
_ONE_S = 0.3
"""Slips nearer together than this are one [s]."""
_SLIP_S = 0.15
"""... and shorter than this it is noise [s]."""
_HOLD = 0.005
"""Revs that change by less than this share a second are held [1/s]."""
_LEAST_RISE = 300.0
"""A rise of less says nothing [1/min]."""
_RISING = 0.85
"""Of a pull's time the revs rise for at least this share [1]."""


class Piece(NamedTuple):
    """A part of a stretch of full throttle."""

    kind: Kind
    start_s: float
    end_s: float
    rpm_from: float
    rpm_to: float
    ratio: float | None
    """Engine speed over the road channel, where the wheel is told."""
    why: str
    """What makes it that, in words; for a pull, what ended it."""


def pieces_of(course: Course, settings: PullSettings, gears: Gears) -> list[Piece]:
    """Say what happened in a stretch of full throttle.

    Args:
        course: the stretch, laid out.
        settings: what counts as a pull.
        gears: that the ride shows.

    Returns:
        Its pieces in order of time.
    """
    falls = _falls(course)
    edges = [0, *(low for _, low in falls)]
    ends = [*(top for top, _ in falls), len(course.at) - 1]
    ratio = course.ratio()
    modes = [
        None if ratio is None else _own(ratio[a : b + 1], gears) for a, b in zip(edges, ends, strict=True)
    ]
    # what spins all the way up to a fall shows its gear after it
    modes = [mode or (modes[i + 1] if i + 1 < len(modes) else None) for i, mode in enumerate(modes)]
    found: list[Piece] = []
    for i, (a, b) in enumerate(zip(edges, ends, strict=True)):
        last = i == len(edges) - 1
        here = _segment(course, a, b, modes[i], ratio, settings, last=last)
        if not last:
            fall = _fall(course, falls[i], (a, ends[i + 1]), modes[i], modes[i + 1], settings)
            here = _with_fall(here, fall, float(course.at[a]))
        found += here
    return _merged(sorted(found, key=lambda one: (one.start_s, one.end_s)))


def _with_fall(here: list[Piece], fall: Piece, start_s: float) -> list[Piece]:
    """Return the pieces of a segment with the fall that ends it, which may say what the segment was."""
    if fall.kind == "cut":
        here = [one._replace(why="the ignition was cut") if one.kind == "pull" else one for one in here]
    if fall.kind == "wheelspin" and not any(one.kind == "pull" for one in here):
        here = [one for one in here if one.kind not in {"short", "aborted"}]
        if fall.start_s - start_s < 2.0 * _AT_ONCE_S:
            fall = fall._replace(start_s=start_s)
    return [*here, fall]


def _merged(found: list[Piece]) -> list[Piece]:
    """Return the pieces with slips that are one put together."""
    kept: list[Piece] = []
    for one in found:
        before = kept[-1] if kept else None
        alike = (
            before is not None
            and one.kind == before.kind
            and one.kind in {"wheelspin", "clutch slip", "launch"}
        )
        if before is not None and alike and one.start_s - before.end_s < _ONE_S:
            kept[-1] = before._replace(end_s=max(one.end_s, before.end_s), rpm_to=one.rpm_to)
        else:
            kept.append(one)
    return kept


def _piece(  # noqa: PLR0913, PLR0917  # all that a piece is
    course: Course, kind: Kind, i: int, j: int, ratio: float | None, why: str
) -> Piece:
    at, rpm = course.at, course.rpm
    return Piece(kind, float(at[i]), float(at[j]), float(rpm[i]), float(rpm[j]), ratio, why)


def _falls(course: Course) -> list[tuple[int, int]]:
    """Return where the revs fall with the throttle open: the places of each fall's top and bottom."""
    rpm, ahead = course.rpm, max(1, round(0.1 / course.step_s))
    rising = np.flatnonzero(rpm[ahead:] > rpm[:-ahead])
    found: list[tuple[int, int]] = []
    start, last = 0, len(rpm) - 1
    while start < last:
        here = _fallen(rpm, start)
        if here is None:
            break
        risen = rpm[start : here + 1]
        peak = int(np.argmax(risen))
        last_near = int(np.flatnonzero(risen >= (1.0 - _BEGINS) * risen[peak])[-1])
        # held revs tremble, and the greatest of them says nothing of where they fell
        peak = start + (last_near if (last_near - peak) * course.step_s > _TREMBLE_S else peak)
        up = int(np.searchsorted(rising, here))
        low = int(rising[up]) if up < len(rising) else last
        found.append((peak, low))
        start = max(low, start + 1)
    return found


def _fallen(rpm: Array, start: int) -> int | None:
    """Return the first place at which the revs are lower than before by the share that is a fall."""
    top = 0.0
    for block in range(start, len(rpm), _BLOCK):  # a throttle that is stuck makes a stretch of hours
        part = rpm[block : block + _BLOCK]
        tops = np.maximum.accumulate(np.maximum(part, top))
        fell = part < tops * (1.0 - _FALL)
        if fell.any():
            return block + int(np.argmax(fell))
        top = float(tops[-1])
    return None


def _own(ratio: Array, gears: Gears) -> float | None:
    """Return a segment's gear ratio: that of the ride where it has one near, else its own where it is kept."""
    mode = mode_of(ratio[:: max(1, len(ratio) // _MODE_OF)])
    place = gears.place(mode)
    if mode is None or place is not None:
        return mode if place is None else gears.ratios[place]
    return mode if np.mean(np.abs(ratio / mode - 1.0) < _KEPT) >= _KEPT_SHARE else None


def _fall(  # noqa: PLR0911, PLR0913, PLR0917  # what stands on both sides of it, and all that it may be
    course: Course,
    fall: tuple[int, int],
    around: tuple[int, int],
    before: float | None,
    after: float | None,
    settings: PullSettings,
) -> Piece:
    """Say what a fall of the revs was."""
    top, low = fall
    start, end = around
    depth = 1.0 - course.rpm[low] / course.rpm[top]
    goes_on = course.rpm[end] > course.rpm[low] * 1.01 and end - low > 2

    def piece(kind: Kind, why: str) -> Piece:
        return _piece(course, kind, top, low, None, why)

    if not goes_on:
        return piece("cut", f"the revs fell by {depth:.0%} with the throttle open and did not come back")
    if depth > _CUT:
        return piece(
            "cut", f"the revs fell by {depth:.0%} with the throttle open, which is no change of gear"
        )
    if before is not None and after is not None:
        if abs(np.log(after / before)) > 2.0 * settings.ratio_share:
            return piece("shift", f"revs over speed went from {before:.3g} to {after:.3g}")
        return piece(
            "wheelspin", f"the revs fell by {depth:.0%} in one gear, as a wheel does that finds its grip"
        )
    if start == 0 and (top - start) * course.step_s < _AT_ONCE_S:
        return piece("wheelspin", f"the revs shot up with the throttle and fell back by {depth:.0%}")
    flare = _flare(course, start, top, low, end)
    if flare > _FLARE:
        return piece("wheelspin", f"the revs shot up {flare:.1f} times as fast as after they fell back")
    return piece("shift", f"the revs fell by {depth:.0%}; without a speed that is taken for a change of gear")


def _flare(course: Course, start: int, top: int, low: int, end: int) -> float:
    """Return how much faster the revs rose just before a fall than in what lies around it [1]."""
    slope = np.gradient(course.rpm[start : end + 1], course.step_s)
    back = max(0, top - start - max(2, round(0.6 / course.step_s)))
    quick = float(np.max(slope[back : top - start + 1], initial=0.0))
    usual = max(
        float(np.median(slope[: back + 1])) if back > 4 else 0.0,
        1.2 * float(np.median(slope[low - start :])),
    )
    return quick / usual if usual > 0.0 else 0.0


def _segment(  # noqa: PLR0913, PLR0917  # one segment and what it is held against
    course: Course,
    a: int,
    b: int,
    gear: float | None,
    ratio: Array | None,
    settings: PullSettings,
    *,
    last: bool,
) -> list[Piece]:
    """Return the pieces between two falls."""
    if b - a < 3:
        return []
    held = _held(course, a, b, settings)
    found = [_piece(course, "hold", i, j, gear, "the revs were held") for i, j in _runs(held, a)]
    good = ~held
    if ratio is not None and gear is not None:
        with np.errstate(invalid="ignore"):
            off = np.abs(ratio[a : b + 1] / gear - 1.0) > settings.ratio_share
        slips = [run for run in _runs(off, a) if (run[1] - run[0]) * course.step_s >= _SLIP_S]
        for i, j in slips:
            good[i - a : j - a + 1] = False
            found.append(_slip(course, ratio, gear, i, j))
    tries = [_trimmed(course, *run) for run in _runs(good, a)]
    pulls = [_pull(course, *one, gear, settings, end=b, last=last) for one in tries if one is not None]
    whole = [one for one in pulls if one.kind == "pull"]
    if not whole and any(one.kind in {"wheelspin", "clutch slip", "launch"} for one in found):
        return found  # what it was has been said
    rest = max(pulls, key=lambda one: one.rpm_to - one.rpm_from, default=None)
    if not whole and rest is not None and rest.rpm_to - rest.rpm_from >= _LEAST_RISE:
        return [*found, rest]
    return [*found, *whole]


def _held(course: Course, a: int, b: int, settings: PullSettings) -> Flags:
    """Return where in a segment the revs are held for long enough, shape (b - a + 1,)."""
    rpm = course.rpm[a : b + 1]
    reach = max(1, round(0.5 / course.step_s))
    if len(rpm) <= 2 * reach:
        return np.zeros(len(rpm), dtype=bool)
    place = np.arange(len(rpm))
    low, high = np.maximum(place - reach, 0), np.minimum(place + reach, len(rpm) - 1)
    still = np.abs(rpm[high] - rpm[low]) < _HOLD * rpm * (high - low) * course.step_s
    held = np.zeros(len(rpm), dtype=bool)
    for i, j in _closed(_runs(still, 0), rpm):
        if (j - i) * course.step_s >= settings.hold_s:
            held[i : j + 1] = True
    return held


def _closed(runs: list[tuple[int, int]], rpm: Array) -> list[tuple[int, int]]:
    """Return runs of still revs with those put together between which the revs only trembled."""
    kept: list[tuple[int, int]] = []
    for i, j in runs:
        if kept:
            first, last = kept[-1]
            middle = float(np.mean(rpm[first : last + 1]))
            if np.max(np.abs(rpm[last : j + 1] - middle)) < _BEGINS * middle:
                kept[-1] = (first, j)
                continue
        kept.append((i, j))
    return kept


def _runs(flags: Flags, offset: int) -> list[tuple[int, int]]:
    """Return the first and last place of each run of flags."""
    if not flags.any():
        return []
    if flags.all():
        return [(offset, offset + len(flags) - 1)]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return [(int(a) + offset, int(b) - 1 + offset) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _slip(course: Course, ratio: Array, gear: float, i: int, j: int) -> Piece:
    """Say why wheel and engine did not turn as one."""
    road = course.road
    assert road is not None  # there is a ratio
    most = float(np.max(ratio[i : j + 1])) / gear - 1.0
    back = max(0, i - max(1, round(_SLIP_S / course.step_s)))
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(np.minimum(ratio[back : j + 1], 50.0 * gear))
    reach = max(1, round(SMOOTH_S / course.step_s))
    speed = (logs[reach:] - logs[:-reach]) / (reach * course.step_s) if len(logs) > reach else np.zeros(1)
    kind: Kind
    if most < 0.0:
        kind, why = (
            "short",
            "revs over speed lie under the gear's own, which neither a clutch nor a spinning wheel does",
        )
    elif road[i] < _LAUNCH_SPEED * course.top_speed and (i == 0 or most > 0.5):
        kind, why = "launch", "the engine outran a slow wheel: the clutch was coming in"
    elif float(np.max(speed)) > _QUICK:
        kind, why = "wheelspin", f"revs over speed ran off by {most:.0%} at once"
    else:
        kind, why = "clutch slip", f"revs over speed ran off by {most:.0%}, slowly"
    return _piece(course, kind, i, j, gear, why)


def _trimmed(course: Course, i: int, j: int) -> tuple[int, int] | None:
    """Return a run without what does not rise at its ends; None where nothing is left."""
    rpm = course.rpm[i : j + 1]
    if len(rpm) < 3:
        return None
    top = int(np.argmax(rpm))
    low = int(np.argmin(rpm[: top + 1]))
    rise = rpm[top] - rpm[low]
    if rise <= 0.0 or top - low < 2:
        return None
    begun = low + int(np.argmax(rpm[low : top + 1] > rpm[low] + 0.005 * rise)) - 1
    done = low + int(np.argmax(rpm[low : top + 1] >= rpm[top] - 0.005 * rise))
    return i + max(begun, low), i + done


def _pull(  # noqa: PLR0913  # as _segment
    course: Course,
    i: int,
    j: int,
    gear: float | None,
    settings: PullSettings,
    *,
    end: int,
    last: bool,
) -> Piece:
    """Say whether a run is a pull."""
    at, rpm = course.at, course.rpm
    rise, seconds = float(rpm[j] - rpm[i]), float(at[j] - at[i])
    steady = np.count_nonzero(rpm[i + 1 : j + 1] > rpm[i:j]) / max(j - i, 1)
    closed = last and end - j <= max(2, round(0.5 / course.step_s))
    why = "the throttle was closed" if closed else "the revs rose no further" if last else "the revs fell"
    kind: Kind = "pull"
    if rise < settings.least_rpm or seconds < settings.full_s:
        kind = "aborted" if closed and seconds >= 0.3 * settings.full_s else "short"
        why = f"the revs rose by {rise:.0f} in {seconds:.1f} s; {why}"
    elif steady < _RISING:
        kind, why = "aborted", f"the revs rose unsteadily, only {steady:.0%} of the time"
    return _piece(course, kind, i, j, gear, why)

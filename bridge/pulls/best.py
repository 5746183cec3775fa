"""The best mixture: power against measured lambda over several jets, at equal revs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from bridge.bands import session_fuel
from bridge.errors import BadValue
from bridge.pulls.alike import why_not
from bridge.pulls.result import Pull, Pulls
from bridge.pulls.top import Top, top_of

DEGREES = (2, 3)
"""A parabola, or a cubic where the points ask for one: rich of the top power falls slower than lean of it."""
_FEWEST_JETS = 3
_LEAST_RANGE = 0.02
"""With lambda spread over less than this nothing is asked [1]."""
_SAME_JET = 0.004
"""Mean lambdas of sessions this near count as one mixture tried [1]."""
_NEAR_STEPS = 1.0
_SAME_TIMING_DEG = 0.25
"""Ignition within this is the same: nobody sets it closer (our choice) [deg]."""


@dataclass(frozen=True)
class Point:
    """One pull at the engine speed asked for."""

    session: int
    pull: int
    lambda_: float
    power_kw: float
    left_out: str | None
    cylinders: dict[int, float] = field(default_factory=dict)
    """Lambda of each cylinder there [1], of which ``lambda_`` is the mean; none where one sensor stands for all."""


@dataclass(frozen=True)
class Best:
    """The best mixture at one engine speed."""

    rpm: float
    points: tuple[Point, ...]
    corrected_by: str | None
    best_lambda: float | None
    """Where the curve is greatest within what was tried [1]; None without a curve."""
    low: float | None
    """Ends of its 95 % interval [1]; None where what was tried does not bound it."""
    high: float | None
    at_edge: bool
    """The best is, or may well be, beyond what was tried."""
    power_kw: float | None
    """Of the curve at its top [kW]."""
    flat_from: float | None
    """Between these power stays within 1 % of its top [1]."""
    flat_to: float | None
    top: Top | None
    statement: str
    notes: tuple[str, ...]
    cylinders: dict[int, float] = field(default_factory=dict)
    """Where each cylinder is when their mean is at the best, as they stood apart in these pulls [1]."""
    stops: tuple[str, ...] = ()
    """What the bike's plugs show that stops all talk of leaner, a sentence each, told by whoever has its readings."""


def best(sessions: Sequence[Pulls], rpm: float, stops: tuple[str, ...] = ()) -> Best:
    """Return the best mixture of a bike at an engine speed.

    Args:
        sessions: of one bike and one engine build, with different jets.
        rpm: where power and lambda are compared [1/min].
        stops: what the bike's plugs show that stops all talk of leaner.

    Raises:
        BadValue: no session has a pull with power and lambda there.
    """
    pulls = [pull for one in sessions for pull in one.pulls]
    corrected = {pull.corrected.by.name if pull.corrected.by else None for pull in pulls}
    by = next(iter(corrected)) if len(corrected) == 1 else None
    notes = []
    if len(corrected) > 1:
        notes.append(
            "not all runs could be corrected by one standard, so all stand as measured, in the air of each"
        )
    points = _points(pulls, rpm, "power_kw" if by else "power_measured_kw", _otherwise_set(sessions))
    kept = [point for point in points if point.left_out is None]
    if not kept:
        why = "; ".join(dict.fromkeys([p.left_out for p in points if p.left_out]))
        missing = next((one.means.why_not for one in sessions if one.means.why_not), "")
        raise BadValue(
            f"there is no pull with power and lambda at {rpm:g} rpm: {why or missing or 'no pull was found'}"
        )
    notes += [f"session {p.session}, pull {p.pull} is left out: {p.left_out}" for p in points if p.left_out]
    values = np.array([point.lambda_ for point in kept])
    of = np.array([point.session for point in kept])
    jets = _jets(values, of)
    if jets < _FEWEST_JETS or float(np.ptp(values)) < _LEAST_RANGE or len(kept) < _FEWEST_JETS + 2:
        said = (
            f"No claim at {rpm:g} rpm: {len(kept)} pulls with {jets} mixtures from lambda {values.min():.3f} to"
            f" {values.max():.3f}; it takes {_FEWEST_JETS} jets over at least {_LEAST_RANGE:g} and"
            f" {_FEWEST_JETS + 2} pulls."
        )
        return Best(
            rpm, points, by, None, None, None, at_edge=False, power_kw=None, flat_from=None, flat_to=None,
            top=None, statement=said, notes=tuple(notes), stops=stops,
        )  # fmt: skip
    top = top_of(values, np.array([point.power_kw for point in kept]), degrees=DEGREES, groups=of)
    notes.append(
        "lambda is this sensor's own: an error that it always has shifts the best by as much, and cancels when the"
        " same sensor tunes to it"
    )
    at = top.place if top.place is not None else float(top.x[int(np.argmax(top.y))])
    apart = _apart(kept)
    return Best(
        rpm,
        points,
        by,
        at,
        top.low,
        top.high,
        top.at_edge,
        top.value,
        top.flat_from,
        top.flat_to,
        top,
        _statement(rpm, at, top, _of_each(at, apart), stopped=bool(stops)),
        tuple(notes),
        {number: at + off for number, off in apart.items()},
        stops,
    )


def _otherwise_set(sessions: Sequence[Pulls]) -> dict[int, str]:
    """Return which sessions differ from most in what moves power besides the jets, and by what."""
    fuels = {one.run.session.id: session_fuel(one.run.setup)[0].name for one in sessions if one.pulls}
    timings = {one.run.session.id: one.run.setup.timing_deg for one in sessions if one.pulls}
    stated = [timing for timing in timings.values() if timing is not None]
    fuel = max(fuels.values(), key=list(fuels.values()).count, default=None)
    timing = max(stated, key=stated.count, default=None)
    found = {}
    for session, own in timings.items():
        if fuels[session] != fuel:
            found[session] = f"it ran on {fuels[session]}, most on {fuel}"
        elif own is not None and timing is not None and abs(own - timing) > _SAME_TIMING_DEG:
            found[session] = f"its ignition was at {own:g} degrees, that of most at {timing:g}"
    return found


def _apart(kept: Sequence[Point]) -> dict[int, float]:
    """Return how far each cylinder stands from the mean of all, over the pulls that tell all of them [1]."""
    numbers = sorted({number for point in kept for number in point.cylinders})
    whole = [point for point in kept if set(point.cylinders) == set(numbers)]
    if len(numbers) < 2 or not whole:
        return {}
    return {
        number: float(np.mean([point.cylinders[number] - point.lambda_ for point in whole]))
        for number in numbers
    }


def _of_each(at: float, apart: dict[int, float]) -> str:
    """Return where each cylinder is when their mean is there; empty where one sensor stands for all."""
    if not apart:
        return ""
    each = " and ".join(f"cylinder {number} at {at + off:.3f}" for number, off in apart.items())
    return f" That is the mean of the cylinders: with it {each}; the leanest one is the first to break, so jet by that."


def _points(pulls: Sequence[Pull], rpm: float, column: str, others: Mapping[int, str]) -> tuple[Point, ...]:
    points = []
    for pull, reason in zip(pulls, why_not(pulls, whole_span=False), strict=True):
        power, mixture = _at(pull, rpm, column), _at(pull, rpm, "lambda")
        missed = [name for name, value in (("power", power), ("lambda", mixture)) if value is None]
        bare = f"it has no {' and no '.join(missed)} at {rpm:g} rpm" if missed else None
        why = others.get(pull.session) or reason or bare
        missing = float("nan")
        points.append(
            Point(
                pull.session,
                pull.number,
                missing if mixture is None else mixture,
                missing if power is None else power,
                why,
                _each(pull, rpm),
            )
        )
    return tuple(points)


def _each(pull: Pull, rpm: float) -> dict[int, float]:
    """Return the lambda of each cylinder that has a sensor of its own."""
    values = {one.cylinder: _at(pull, rpm, one.column) for one in pull.mixture if one.cylinder is not None}
    return {number: value for number, value in values.items() if value is not None}


def _at(pull: Pull, rpm: float, column: str) -> float | None:
    """Return a curve's value at an engine speed: the mean of the steps within one of it."""
    if column not in pull.curve.columns:
        return None
    known = pull.curve.filter(pl.col(column).is_not_null())
    if known.height < 2:
        return None
    speeds = known["rpm"].to_numpy()
    step = float(np.min(np.diff(speeds)))
    if not speeds[0] <= rpm <= speeds[-1]:
        return None
    # a straight line through the nearest steps, so that a steep curve is not told off its place
    near = np.abs(speeds - rpm) <= (_NEAR_STEPS + 0.5) * step
    if near.sum() < 2:
        return float(np.interp(rpm, speeds, known[column].to_numpy()))
    line = np.polynomial.Polynomial.fit(speeds[near], known[column].to_numpy()[near], 1)
    return float(line(rpm))


def _jets(
    values: np.ndarray[tuple[int], np.dtype[np.float64]], of: np.ndarray[tuple[int], np.dtype[np.int64]]
) -> int:
    """Return how many mixtures were tried: sessions' means that are apart."""
    means = np.sort([values[of == session].mean() for session in np.unique(of)])
    return 1 + int(np.count_nonzero(np.diff(means) > _SAME_JET))


def _statement(rpm: float, at: float, top: Top, of_each: str, *, stopped: bool) -> str:
    tried = f"lambda {top.x[0]:.3f} to {top.x[-1]:.3f}"
    if top.low is None and top.high is None:
        return (
            f"No best is shown at {rpm:g} rpm: over {tried} power changes too little, beside its scatter, to tell"
            " where it is greatest."
        )
    if top.at_edge:
        way = "leaner" if top.edge == "high" else "richer"
        if stopped and way == "leaner":
            return (
                f"At {rpm:g} rpm the most power is at the leaner edge of what was tried ({tried}), and a plug of this"
                " bike says stop: go no leaner, whatever power does there."
            )
        care = (
            " Leaner is where engines break: one jet at a time, and not without a clean plug."
            if way == "leaner"
            else ""
        )
        return (
            f"At {rpm:g} rpm the most power is at the {way} edge of what was tried ({tried}): the best may lie beyond"
            f" {at:.3f}, and is not told.{care}{of_each}"
        )
    return (
        f"At {rpm:g} rpm power is greatest at lambda {at:.3f}, {top.low:.3f} to {top.high:.3f} (95 %); within 1 % of it"
        f" from {top.flat_from:.3f} to {top.flat_to:.3f}.{of_each}"
    )

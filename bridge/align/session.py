"""The delay of a session: from the ride where it has enough in it, else from the pipe's geometry."""

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace
from hashlib import blake2b
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from bridge.align.ask import Answer, ask
from bridge.align.course import Course, Readings, course_of, movements, pieces_of, readings_on
from bridge.align.delay import LONGEST_S, Delay, Ways, later_than, told_by_geometry, ways_of
from bridge.align.explain import CYCLE_SHARE, DEAD, LAG, SCALE, air_of
from bridge.align.fitted import DelayFit, Found
from bridge.model import Bike, Weather

Array = NDArray[np.float64]

FEWEST_STEPS = 5
"""With fewer movements of the throttle nothing is asked of the ride (common practice)."""
LEAST_EXPLAINED = 0.6
"""Correlation below which throttle and speed do not explain lambda (common practice)."""
WIDEST_SD_S = 0.019
"""A delay less sure than this is not told: in blind rides one in three was then more than 20 ms off. The geometry
that stands in is further off still where the sensor is slow, so the limit is no tighter [s]."""
ALIKE = 0.8
"""Correlation of the errors of several sensors: they share throttle, speed and what is wrong with the model."""
STRAYED = 2.0
"""A sensor this much less sure than another one is asked again from scratch."""
Z95 = 1.96


REMEMBERED, REMEMBERED_ROWS = 64, 20_000_000
"""How many answers are remembered, and how many rows' delays together."""
_remembered: "OrderedDict[bytes, Found]" = OrderedDict()


def session_delay(  # noqa: PLR0913, PLR0917  # columns of one table, and what they are read by
    t_s: Array,
    rpm: Array,
    throttle: Array | None,
    egt_c: Array | None,
    lambdas: Mapping[str, Array],
    bike: Bike | None,
    weather: Weather,
) -> Found:
    """Return a session's delay, from the ride itself where that has enough steps in it.

    The right delay is the one with which throttle and speed explain lambda best: by a map of the two, fuel on the
    manifold's wall, plug flow through the pipe and the sensor's first-order lag (``bridge.align.explain``). Where
    the ride is refused, the pipe's geometry stands in and the note says why.

    Args:
        t_s: rising times of the rows, shape (n,) [s]; they need not be even.
        rpm: engine speed [1/min], shape (n,); nan where there is no reading.
        throttle: opening [%], shape (n,), or None where there is no such channel.
        egt_c: exhaust-gas temperature near the sensor [Cel], shape (n,), or None.
        lambdas: each sensor's own readings by the name of its channel, shape (n,); nan where there is none.
        bike: its pipe; what is missing is assumed. The ride overrules it, up to a factor of six.
        weather: of the intake air.

    Returns:
        The delay, that of each row, and how the ride was asked. The same question is worked out once.
    """
    given = _digest(t_s, rpm, throttle, egt_c, lambdas, bike, weather)
    found = _remembered.get(given)
    if found is None:
        from threadpoolctl import threadpool_limits  # noqa: PLC0415  # start-up

        # the matrices are small: a second thread only gets in the way, and doubles the time
        with threadpool_limits(limits=1, user_api="blas"):
            found = _worked_out(t_s, rpm, throttle, egt_c, lambdas, bike, weather)
        _remembered[given] = found
        rows = [len(one.later_s) for one in _remembered.values()]
        while len(rows) > 1 and (len(rows) > REMEMBERED or sum(rows) > REMEMBERED_ROWS):
            _remembered.popitem(last=False)
            rows.pop(0)
    return found


def _digest(*given: object) -> bytes:
    """Return what tells one question from another: the same ride is asked for by every page and every plug."""
    told = blake2b(digest_size=16)
    for one in given:
        if isinstance(one, np.ndarray):
            told.update(np.ascontiguousarray(one).data)
        elif isinstance(one, Mapping):
            for name, values in one.items():
                told.update(name.encode())
                told.update(np.ascontiguousarray(values).data)
        told.update(b"|" if isinstance(one, np.ndarray | Mapping) else repr(one).encode())
    return told.digest()


def _worked_out(  # noqa: PLR0913, PLR0917  # as session_delay
    t_s: Array,
    rpm: Array,
    throttle: Array | None,
    egt_c: Array | None,
    lambdas: Mapping[str, Array],
    bike: Bike | None,
    weather: Weather,
) -> Found:
    ways = ways_of(rpm, throttle, egt_c, bike, weather)
    by_geometry = told_by_geometry(ways)
    fit, found = None, None
    if throttle is None:
        refused = "there is no throttle channel to explain lambda by"
    elif not lambdas or ways.usual is None:
        refused = "there is nothing to fit" if lambdas else "there is no lambda channel"
    else:
        fit, found = _asked(t_s, rpm, throttle, lambdas, ways)
        refused = fit.refused or ""
    if fit is None or found is None or throttle is None or refused:
        note = f"the delay is by the pipe's geometry: {refused}"
        notes = "; ".join(part for part in (note, by_geometry.note) if part)
        dead_s = ways.transport_s + ways.cycle_s
        later_s = later_than(t_s, dead_s, by_geometry.lag_s)
        return Found(replace(by_geometry, note=notes), later_s, fit)
    theta, delay = found
    return Found(delay, _later(t_s, rpm, throttle, ways, theta), fit)


def _asked(
    t_s: Array, rpm: Array, throttle: Array, lambdas: Mapping[str, Array], ways: Ways
) -> tuple[DelayFit, tuple[Array, Delay] | None]:
    """Return what the ride says, and the five numbers with the delay they come to."""
    pieces = pieces_of(t_s, rpm, throttle)
    course = course_of(t_s, rpm, throttle, ways, pieces) if pieces else None
    steps = len(movements(course)) if course is not None else 0
    if course is None or steps < FEWEST_STEPS:
        return _no_fit(steps, f"the throttle moved {steps} times, and it takes {FEWEST_STEPS}"), None
    usual = _usual(rpm, throttle, ways)
    answers: dict[str, Answer] = {}
    for name, values in lambdas.items():
        readings = readings_on(pieces, t_s, values)
        answer = None if readings is None else _answer(course, readings, usual, answers)
        if answer is not None:
            answers[name] = answer
    if not answers:
        return _no_fit(steps, "too few readings of lambda while the engine ran by itself"), None
    told = list(answers.values())
    weights = np.array([1.0 / one.sd_s**2 for one in told])
    weights /= weights.sum()
    sds = np.array([one.sd_s for one in told])
    sd_s = sqrt((1.0 - ALIKE) * float((weights * sds) @ (weights * sds)) + ALIKE * float(weights @ sds) ** 2)
    best = told[int(np.argmin(sds))]
    seconds = float(weights @ np.array([one.seconds for one in told]))
    explained = float(weights @ np.array([one.explained for one in told]))
    theta = np.asarray(sum(w * one.theta for w, one in zip(weights, told, strict=True)))
    lag_s = exp(theta[LAG])
    delay = Delay(seconds, sd_s, "ride", None, seconds - lag_s, best.dead_sd_s, lag_s, best.lag_sd_s)
    refused = None
    if explained < LEAST_EXPLAINED:
        refused = (
            f"throttle and speed hardly explain lambda (correlation {max(explained, 0.0):.2f},"
            f" and it takes {LEAST_EXPLAINED})"
        )
    elif sd_s > WIDEST_SD_S:
        refused = f"the ride tells it only to {sd_s * 1e3:.0f} ms, and it takes {WIDEST_SD_S * 1e3:.0f}"
    fit = DelayFit(
        best.axis_s + (seconds - best.seconds),
        best.misfit,
        seconds,
        max(0.0, seconds - Z95 * sd_s),
        seconds + Z95 * sd_s,
        steps,
        explained,
        {name: one.seconds for name, one in answers.items()},
        best.example,
        refused,
    )
    return fit, (theta, delay)


def _answer(course: Course, readings: Readings, usual: Course, known: Mapping[str, Answer]) -> Answer | None:
    """Return a sensor's answer, looked for near that of another one where that leads anywhere."""
    first = min(known.values(), key=lambda one: one.sd_s, default=None)
    if first is not None:
        near = ask(course, readings, usual, first.theta)
        if near is None or near.sd_s < STRAYED * first.sd_s:
            return near
    return ask(course, readings, usual, None)


def _no_fit(steps: int, refused: str) -> DelayFit:
    none = np.empty(0)
    return DelayFit(none, none, np.nan, np.nan, np.nan, steps, 0.0, {}, None, refused)


def _usual(rpm: Array, throttle: Array, ways: Ways) -> Course:
    """Return the one moment of the median flow under load, at which the session's delay is told."""
    row = ways.usual
    assert row is not None
    one = slice(row, row + 1)
    return Course.of(np.zeros(1), rpm[one], throttle[one], ways.transport_s[one], ways.cycle_s[one])


def _later(t_s: Array, rpm: Array, throttle: Array, ways: Ways, theta: Array) -> Array:
    """Return each row's delay by the numbers found."""
    whole = Course.of(t_s, rpm, throttle, ways.transport_s, ways.cycle_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        through = np.minimum(exp(theta[SCALE]) * whole.volume / air_of(whole, theta), LONGEST_S)
    dead_s = np.where(np.isnan(rpm), np.nan, through + CYCLE_SHARE * ways.cycle_s)
    return later_than(t_s, dead_s, float(theta[DEAD]) + exp(theta[LAG]))

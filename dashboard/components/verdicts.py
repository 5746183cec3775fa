"""A cylinder's result in words, and as what the nose's drawing needs."""

from bridge.agreement import CylinderResult
from bridge.budget import Budget
from bridge.plug.exposure import HISTOGRAM_STEP, Measured
from bridge.plug.fitted_scale import FittedScale
from bridge.plug.scale import RingScale
from dashboard.components.parts import as_sentence
from dashboard.figures.lambda_axis import Axis, Mark
from dashboard.figures.nose import Nose

_HEADLINES = {
    "agree": "They agree",
    "ring richer": "The ring reads richer",
    "ring leaner": "The ring reads leaner",
}


def headline(result: CylinderResult) -> str:
    """Return the result in a few words."""
    if result.life is not None and result.life.aluminium:
        return "Aluminium on the plug: stop"
    if result.verdict in _HEADLINES:
        return _HEADLINES[result.verdict]
    if result.life is None:
        return "No plug known"
    if result.life.reading is None:
        return "Not read yet"
    if not result.validity.valid:
        return "The reading does not count"
    return "Cannot say"


def sentence(result: CylinderResult) -> str:
    """Return the result's own sentence, without the words that the headline has said already."""
    said, colon, rest = result.statement.partition(": ")
    if not colon or said not in ("They agree", "Cannot say"):
        return as_sentence(result.statement)
    return as_sentence(rest)


def axis_of(
    scale: RingScale | FittedScale | None, nose_mm: float | None, about_mm: float | None = None
) -> Axis | None:
    """Return the lambda axis of a ring scale; None without a scale or a nose to lay it on.

    Args:
        scale: a scale that pairs have bent is laid on as it runs where the ring is.
        nose_mm: length of the nose [mm].
        about_mm: depth of the ring [mm]; the middle of the nose where left out.
    """
    if scale is None or nose_mm is None:
        return None
    middle = nose_mm / 2.0 if about_mm is None else about_mm
    upper, lower = scale.lambda_at(middle - 0.25)[0], scale.lambda_at(middle + 0.25)[0]
    per_mm = 2.0 * (lower - upper)
    return Axis(scale.lambda_at(middle)[0] - middle * per_mm, per_mm, nose_mm)


def doubts_of(over: Measured) -> Budget | None:
    """Return every doubt about a measured lambda, the sensor's own too; None where there is no mean."""
    if over.mean is None or over.budget is None:
        return None
    return Budget((*over.budget.components, *over.sensor.components))


def measured_mark(over: Measured) -> Mark | None:
    """Return the measured lambda with its 95 % interval, every doubt counted."""
    budget = doubts_of(over)
    if budget is None or over.mean is None:
        return None
    low, high = budget.interval(0.95)
    return Mark(over.mean, over.mean + low, over.mean + high)


def nose_of(result: CylinderResult) -> Nose | None:
    """Return what the drawing needs of a cylinder; None without a plug."""
    life = result.life
    if life is None:
        return None
    reading, over, gas = life.reading, result.measured, result.gas
    # of the two answers the drawing shows the one that the verdict stands on
    departed = result.departed if result.departure else None
    ring, scale = (departed.ring, departed.scale) if departed else (result.ring, result.scale)
    return Nose(
        cylinder=None if life.fitting.order_lost else result.cylinder,
        plug=life.fitting.plug,
        nose_mm=life.nose_mm,
        ring=reading.ring if reading else None,
        depth_mm=reading.ring_mm if reading else None,
        sd_mm=reading.depth_sd_mm if reading else None,
        cut=reading is not None and reading.view == "cut",
        counts=reading is None or result.validity.valid,
        axis=axis_of(scale, life.nose_mm, reading.ring_mm if reading else None),
        ring_mark=Mark(ring.mean, ring.low, ring.high) if ring else None,
        measured=measured_mark(over),
        gas=Mark(gas.lambda_, gas.low, gas.high) if gas else None,
        spread=_distribution(result),
    )


def _distribution(result: CylinderResult) -> tuple[tuple[float, float], ...]:
    """Return the measured distribution as (lambda, share of the largest), with nothing on either side."""
    bins = result.measured.histogram
    if bins.is_empty():
        return ()
    shares = dict(zip(bins["lambda_from"].to_list(), bins["share"].to_list(), strict=True))
    first, last = min(shares), max(shares)
    count = round((last - first) / HISTOGRAM_STEP) + 1
    steps = {round(low / HISTOGRAM_STEP): share for low, share in shares.items()}
    start, largest = round(first / HISTOGRAM_STEP), max(shares.values())
    inner = [((start + n + 0.5) * HISTOGRAM_STEP, steps.get(start + n, 0.0) / largest) for n in range(count)]
    return ((first - HISTOGRAM_STEP / 2, 0.0), *inner, (last + 1.5 * HISTOGRAM_STEP, 0.0))

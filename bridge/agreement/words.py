"""What a person reads: the result in plain sentences, and the cautions that stand beside it."""

from collections.abc import Sequence

from bridge.agreement.verdict import Difference
from bridge.model import Bike, PlugLife
from bridge.plug.exposure import Measured
from bridge.plug.scale import RingLambda
from bridge.plug.validity import Validity

LEAN = (
    "A lean engine can seize or hole a piston in seconds: go leaner only in small steps, and never on one"
    " method's word alone."
)
TWO_STROKE = (
    "On a two-stroke the oxygen sensor reads leaner than what burned, by an amount nobody knows, because"
    " fresh charge is lost into the pipe: trust its changes, not its value."
)
ALUMINIUM = (
    "Aluminium specks may mean detonation: stop, do not go leaner, and look inside the engine before it runs"
    " again."
)
COMPETENT = (
    "This is for a competent person to judge; the ring scale is not validated on an engine. Plugs and head"
    " are hot, and the ignition is high voltage."
)


LEAN_AT_FULL = 0.95
"""Leaner than this at full throttle is said to be; common practice, no source (best power is near 0.85 to 0.90)."""


def caution_on(over: Measured) -> str | None:
    """Return what has to stand beside one cylinder's measured lambda: that it would be lean, and what else reads so."""
    if over.mean is None or over.mean <= LEAN_AT_FULL:
        return None
    return (
        f"The sensor reads lambda {over.mean:.3f} at full throttle, which would be lean: look for an air leak and a"
        " misfire, which read lean too, before a jet is touched, and go no leaner meanwhile."
    )


def cautions_for(bike: Bike | None, lives: Sequence[PlugLife]) -> tuple[str, ...]:
    """Return what has to stand wherever the verdicts stand, the most urgent first."""
    specks = any(life.aluminium for life in lives)
    two_stroke = bike is None or bike.strokes == 2
    chosen = ((specks, ALUMINIUM), (True, LEAN), (two_stroke, TWO_STROKE), (True, COMPETENT))
    return tuple(sentence for holds, sentence in chosen if holds)


def say(
    validity: Validity,
    ring: RingLambda | None,
    over: Measured,
    found: Difference,
    missing: str | None,
) -> str:
    """Return the result as a plain sentence that claims no more than its interval.

    Args:
        validity: the judgement on the reading.
        ring: the ring's lambda.
        over: the measured lambda.
        found: the difference and its verdict.
        missing: what is missing to turn the reading into lambda.
    """
    if not validity.valid:
        return f"Cannot say: {validity.because}."
    if over.mean is None:
        return f"Cannot say: {over.because}."
    if ring is None or found.budget is None:
        return f"Cannot say: {missing}."
    if ring.one_sided is not None:
        return _one_sided(ring, over.mean, found)
    return _two_sided(found)


def _two_sided(found: Difference) -> str:
    assert found.difference is not None
    assert found.low is not None
    assert found.high is not None
    assert found.budget is not None
    difference, low, high = found.difference, found.low, found.high
    if found.verdict == "agree":
        inner_low, inner_high = (difference + end for end in found.budget.interval(0.90))
        return (
            f"They agree: the difference is {difference:+.3f} lambda, and its 90 % interval"
            f" ({inner_low:+.3f} to {inner_high:+.3f}) lies inside ±{found.margin:g}."
        )
    if found.verdict == "cannot say":
        doubt = f"most of that doubt is {found.budget.largest.name}"
        if low < 0.0 < high:
            return (
                f"Cannot say: the ring may be richer than the sensor by {-low:.3f} lambda or leaner by"
                f" {high:.3f} (95 % interval); {doubt}."
            )
        return (
            f"Cannot say: a difference of {difference:+.3f} lambda ({low:+.3f} to {high:+.3f}, 95 % interval)"
            f" is neither surely there nor surely inside ±{found.margin:g}; {doubt}."
        )
    side = "leaner" if difference > 0.0 else "richer"
    inner, outer = sorted((abs(low), abs(high)))
    return (
        f"The ring reads {side} than the sensor by {abs(difference):.3f} lambda ({inner:.3f} to {outer:.3f},"
        " 95 % interval)."
    )


def _one_sided(ring: RingLambda, mean: float, found: Difference) -> str:
    what = "no ring" if ring.one_sided == "leaner" else "a nose dark all over"
    edge = found.low if ring.one_sided == "leaner" else found.high
    assert edge is not None
    if found.verdict == "cannot say":
        return (
            f"Cannot say: {what} means only {ring.one_sided} than lambda {ring.bound:.3f}, within"
            f" {ring.sd:.3f} as a standard uncertainty, which does not surely leave out the"
            f" sensor's {mean:.3f}."
        )
    return f"The ring reads {ring.one_sided} than the sensor by at least {abs(edge):.3f} lambda (95 % bound)."

"""One sensor for several cylinders: all rings together against it, and which ring departs from the rest."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from bridge.agreement.verdict import Difference, judge_difference
from bridge.budget import Budget, Component
from bridge.plug.exposure import Measured
from bridge.plug.scale import RingLambda


@dataclass(frozen=True)
class Departs:
    """One cylinder's ring against the mean of all rings.

    Attributes:
        cylinder: from 1.
        difference: its lambda less the rings' mean [1].
        low: lower end of the 95 % interval [1].
        high: upper end of it [1].
        departs: ``leaner`` or ``richer`` where the 99 % interval leaves out zero, else ``not surely``.
    """

    cylinder: int
    difference: float
    low: float
    high: float
    departs: str


@dataclass(frozen=True)
class Together:
    """All cylinders against the sensor that they share.

    Attributes:
        difference: the rings' mean less the sensor, judged.
        scale: what the rings' lambda comes from: ``pairs``, ``stated`` or ``guess``.
        cylinders: each ring against the mean of all.
        statement: that in words.
    """

    difference: Difference
    scale: str
    cylinders: tuple[Departs, ...]
    statement: str


# what one ring has for itself; the rest of a ring's doubts is shared by all that one scale reads
_OWN = ("reading", "scatter")
_SLOPE = "slope"


def together(  # noqa: PLR0913  # what is judged, and by what
    rings: Sequence[tuple[int, RingLambda]],
    over: Measured,
    extra: Sequence[Component],
    *,
    scale: str,
    cylinders: int,
    margin: float,
) -> Together | None:
    """Judge cylinders together.

    Args:
        rings: cylinder and lambda of each valid ring that was seen, all by one scale.
        over: what the sensor that they share measured.
        extra: doubts about the sensor that do not cancel.
        scale: name of that scale.
        cylinders: of the bike; the sensor's average is of all of them.
        margin: what counts as agreement [1].

    Returns:
        None where not every cylinder has a valid ring, or nothing was measured: the mean of some is not what the
        sensor sees.
    """
    known = [(cylinder, ring, ring.mean) for cylinder, ring in rings if ring.mean is not None]
    if len(known) < cylinders or cylinders < 2 or over.mean is None or over.budget is None:
        return None
    mean = fmean(value for _, _, value in known)
    own = [_own_sd(ring) for _, ring, _ in known]
    shared = [part for part in known[0][1].budget.components if not _is_own(part)]
    reading = Component("the readings of the rings", math.hypot(*own) / len(own), "stated or common practice")
    budget = Budget((reading, *shared, *over.budget.components, *extra))
    difference = judge_difference(mean - over.mean, budget, margin)
    parts = tuple(
        _departs(cylinder, value - mean, sd, own, _slope_share(ring))
        for (cylinder, ring, value), sd in zip(known, own, strict=True)
    )
    return Together(difference, scale, parts, _statement(difference, parts))


def _is_own(part: Component) -> bool:
    return any(word in part.name for word in _OWN)


def _own_sd(ring: RingLambda) -> float:
    return math.hypot(*(part.sd for part in ring.budget.components if _is_own(part)))


def _slope_share(ring: RingLambda) -> float:
    """Return the relative doubt of the slope, which scales how far two rings are apart [1]."""
    return next((part.log_sd for part in ring.budget.components if part.log_sd), 0.0)


def _departs(cylinder: int, difference: float, own: float, every: Sequence[float], slope: float) -> Departs:
    count = len(every)
    rest = math.hypot(*every) ** 2 - own**2
    sd = math.sqrt(own**2 * (1.0 - 1.0 / count) ** 2 + rest / count**2)
    budget = Budget(
        (
            Component("the readings of the rings", sd, "stated or common practice"),
            Component("the slope of the ring scale", abs(difference) * slope, "fitted"),
        )
    )
    low, high = (difference + end for end in budget.interval(0.95))
    sure_low, sure_high = (difference + end for end in budget.interval(0.99))
    departs = "leaner" if sure_low > 0.0 else "richer" if sure_high < 0.0 else "not surely"
    return Departs(cylinder, difference, low, high, departs)


def _statement(found: Difference, parts: Sequence[Departs]) -> str:
    assert found.difference is not None
    said = {
        "agree": "the rings' mean agrees with the one sensor",
        "cannot say": "whether the rings' mean agrees with the one sensor cannot be said",
        "ring leaner": "the rings' mean is leaner than the one sensor",
        "ring richer": "the rings' mean is richer than the one sensor",
    }[found.verdict]
    whole = f"{said[0].upper()}{said[1:]} ({found.difference:+.3f}, {found.low:+.3f} to {found.high:+.3f})."
    off = [one for one in parts if one.departs != "not surely"]
    if not off:
        return f"{whole} No cylinder's ring departs surely from the others'."
    each = "; ".join(
        f"cylinder {one.cylinder} is {one.departs} than their mean by {abs(one.difference):.3f}"
        f" ({min(abs(one.low), abs(one.high)):.3f} to {max(abs(one.low), abs(one.high)):.3f})"
        for one in off
    )
    return f"{whole} By its ring {each}: the sensor shows the average and hides that."

"""Pairs: one valid reading and the measured lambda that the same plug lived through."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bridge.agreement.result import Comparison, CylinderResult
from bridge.model.rules import RING_SD_MM
from bridge.plug.ring_fit import RingPair
from bridge.plug.scale import same_length


@dataclass(frozen=True)
class LeftOut:
    """A reading that makes no pair.

    Attributes:
        session: number of the session.
        cylinder: from 1.
        plug: its label; None where no plug is known.
        why: the reason, in one sentence.
    """

    session: int
    cylinder: int
    plug: str | None
    why: str


@dataclass(frozen=True)
class Kept:
    """A pair with the plug that it came from; a scale holds for one plug type and nose length in one build."""

    pair: RingPair
    plug: str
    plug_type: str | None
    nose_mm: float
    build: int | None


def pairs_of(comparison: Comparison, build: int | None) -> tuple[list[Kept], list[LeftOut]]:
    """Return the pairs of one session, and what makes none and why.

    Args:
        comparison: the session's comparison, over all of it.
        build: number of the engine build that it was ridden with.
    """
    kept: list[Kept] = []
    left: list[LeftOut] = []
    for result in comparison.cylinders:
        why = _why_not(result)
        if why is None:
            kept.append(_kept(result, comparison.session, build))
        else:
            left.append(LeftOut(comparison.session, result.cylinder, result.plug, why))
    return kept, left


def of_one_plug(
    kept: Iterable[Kept], *, plug_type: str | None, nose_mm: float, build: int | None
) -> list[RingPair]:
    """Return the pairs that one scale may stand on."""
    return [
        one.pair
        for one in kept
        if one.plug_type == plug_type and one.build == build and same_length(one.nose_mm, nose_mm)
    ]


def without_session(pairs: Sequence[RingPair], session: int) -> list[RingPair]:
    """Return the pairs that a scale may have seen which is to judge a session: all but its own."""
    return [pair for pair in pairs if pair.session != session]


def _why_not(result: CylinderResult) -> str | None:
    if not result.validity.valid:
        return result.validity.because
    if result.measured.mean is None:
        return result.measured.because
    if result.life is None or result.life.reading is None or result.life.nose_mm is None:
        return "the length of the plug's nose is not known"
    if result.measured.engine_wide:
        return "one sensor stands for all cylinders, so nobody measured this one's own lambda"
    return None


def _kept(result: CylinderResult, session: int, build: int | None) -> Kept:
    life, over = result.life, result.measured
    assert life is not None, "asked in _why_not"
    reading, nose_mm = life.reading, life.nose_mm
    assert reading is not None, "asked in _why_not"
    assert nose_mm is not None, "asked in _why_not"
    assert over.mean is not None, "asked in _why_not"
    usual_mm = RING_SD_MM[reading.view]
    depth_mm, one_sided = {
        "none": (nose_mm, "leaner"),
        "all-dark": (0.0, "richer"),
    }.get(reading.ring, (reading.ring_mm or 0.0, None))
    return Kept(
        RingPair(
            session=session,
            cylinder=result.cylinder,
            lambda_=over.mean,
            lambda_sd=over.budget.sd if over.budget else 0.0,
            depth_mm=depth_mm,
            depth_sd_mm=usual_mm if reading.ring_sd_mm is None else reading.ring_sd_mm,
            one_sided=one_sided,
        ),
        plug=life.fitting.plug,
        plug_type=life.type,
        nose_mm=nose_mm,
        build=build,
    )

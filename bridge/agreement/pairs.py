"""Pairs: one valid reading and the measured lambda that the same plug lived through."""

import math
from dataclasses import dataclass, replace
from statistics import fmean

from bridge.agreement.kept import TOGETHER, Kept
from bridge.agreement.result import Comparison, CylinderResult
from bridge.plug.ring_fit import OneSided, RingPair


@dataclass(frozen=True)
class LeftOut:
    """A reading that makes no pair.

    Attributes:
        session: number of the session.
        cylinder: from 1; None where the whole session makes no pair.
        plug: its label; None where no plug is known.
        why: the reason, in one sentence.
    """

    session: int
    cylinder: int | None
    plug: str | None
    why: str


def pairs_of(comparison: Comparison, build: int | None) -> tuple[list[Kept], list[LeftOut]]:
    """Return the pairs of one session, and what makes none and why.

    Args:
        comparison: the session's comparison, over all of it.
        build: number of the engine build that it was ridden with.
    """
    kept: list[Kept] = []
    left: list[LeftOut] = []
    for result in comparison.cylinders:
        why = _why_not(result, alone=len(comparison.cylinders) == 1)
        if why is None:
            kept.append(_kept(result, comparison.session, build))
        else:
            left.append(LeftOut(comparison.session, result.cylinder, result.plug, why))
    kept = [replace(one, started=comparison.started) for one in kept]
    averaged = [result for result in comparison.cylinders if result.measured.engine_wide]
    if len(averaged) > 1 and len(averaged) == len(comparison.cylinders):
        return _together(comparison, build, left)
    return kept, left


def _together(
    comparison: Comparison, build: int | None, left: list[LeftOut]
) -> tuple[list[Kept], list[LeftOut]]:
    """Return the one pair of a session whose cylinders share a sensor: the rings' mean beside the average."""
    invalid = {one.cylinder for one in left if one.why != _AVERAGED}
    seen = [one for one in comparison.cylinders if one.cylinder not in invalid]
    parts = [_kept(one, comparison.session, build) for one in seen]
    same = {(one.plug_type, one.nose_mm) for one in parts}
    if invalid or len(same) != 1 or any(one.pair.one_sided for one in parts):
        return [], [one if one.why != _AVERAGED else replace(one, why=_NOT_ALL) for one in left]
    pairs = [one.pair for one in parts]
    mean = replace(
        pairs[0],
        cylinder=TOGETHER,
        depth_mm=fmean(pair.depth_mm for pair in pairs),
        depth_sd_mm=math.hypot(*(pair.depth_sd_mm for pair in pairs)) / len(pairs),
        pull_share=min(pair.pull_share for pair in pairs),
    )
    whole = replace(
        parts[0],
        pair=mean,
        plug=", ".join(one.plug for one in parts),
        started=comparison.started,
        depths=tuple((pair.cylinder, pair.depth_mm) for pair in pairs),
    )
    return [whole], []


_AVERAGED = "one sensor stands for all cylinders, so nobody measured this one's own lambda"
_NOT_ALL = (
    "one sensor stands for all cylinders, so they make a pair only together, and not each of them has a ring on a"
    " valid reading of one plug type"
)


def _why_not(result: CylinderResult, *, alone: bool) -> str | None:
    if not result.validity.valid:
        return result.validity.because
    if result.measured.mean is None:
        return result.measured.because
    if result.life is None or result.life.reading is None or result.life.nose_mm is None:
        return "the length of the plug's nose is not known"
    if result.measured.engine_wide and not alone:
        return _AVERAGED
    return None


def _kept(result: CylinderResult, session: int, build: int | None) -> Kept:
    life, over = result.life, result.measured
    assert life is not None, "asked in _why_not"
    reading, nose_mm = life.reading, life.nose_mm
    assert reading is not None, "asked in _why_not"
    assert nose_mm is not None, "asked in _why_not"
    assert over.mean is not None, "asked in _why_not"
    ends: dict[str, tuple[float, OneSided | None]] = {
        "none": (nose_mm, "leaner"),
        "all-dark": (0.0, "richer"),
    }
    depth_mm, one_sided = ends.get(reading.ring, (reading.ring_mm or 0.0, None))
    return Kept(
        RingPair(
            session=session,
            cylinder=result.cylinder,
            lambda_=over.mean,
            lambda_sd=over.budget.sd if over.budget else 0.0,
            depth_mm=depth_mm,
            depth_sd_mm=reading.depth_sd_mm,
            one_sided=one_sided,
            pull_share=result.pull_share,
        ),
        plug=life.fitting.plug,
        plug_type=life.type,
        nose_mm=nose_mm,
        build=build,
        running=result.running,
    )
